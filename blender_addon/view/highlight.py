"""Marks the place that the view was taken to: its outline or a ring around it, and its name."""

import traceback
from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np
from bpy.app.handlers import persistent
from mathutils import Matrix

from ..scene import handlers
from ..scene.running import Result
from ..scene.write_results import results_changed
from .overlay_gpu import LineBatch, draw_lines, line_batch
from .places import Place
from .plate import Plate, style
from .pointing import pixels_of
from .strokes import circle, draw_strokes
from .viewports import redraw

__all__ = ["COLOUR", "clear", "register", "show", "shown", "unregister"]

COLOUR = (1.0, 0.42, 0.86)
"""Bright pink (sRGB): on none of the ramps, and far from white hatching."""
_WIDTH, _RING = 2.6, 26.0
"""In pixels at an interface scale of 1."""


@dataclass(slots=True)
class _Marked:
    scene: int
    place: Place
    lines: LineBatch | None


_marked: list[_Marked] = []
"""None or one."""
_handles: list[Any] = []


def shown(scene: bpy.types.Scene) -> Place | None:
    """The place that is marked in a scene, or None."""
    return next((one.place for one in _marked if one.scene == scene.session_uid), None)


def show(scene: bpy.types.Scene, place: Place) -> None:
    """Mark a place instead of the last one."""
    lines = None if bpy.app.background else line_batch(place.outline)
    _marked[:] = [_Marked(scene.session_uid, place, lines)]
    if not bpy.app.background and not _handles:
        add = bpy.types.SpaceView3D.draw_handler_add
        _handles.append(add(_guarded, (_draw_outline,), "WINDOW", "POST_VIEW"))
        _handles.append(add(_guarded, (_draw_name,), "WINDOW", "POST_PIXEL"))
    redraw()


def clear() -> None:
    """Mark nothing."""
    _marked.clear()
    while _handles:
        bpy.types.SpaceView3D.draw_handler_remove(_handles.pop(), "WINDOW")
    redraw()


def _guarded(draw: Any) -> None:
    """Draw over the viewport; a failure is told once and ends the marking."""
    context = bpy.context
    space: Any = context.space_data
    try:
        for one in _marked:
            same = context.scene is not None and one.scene == context.scene.session_uid
            if same and space.overlay.show_overlays:
                draw(context, one)
    except Exception:
        _marked.clear()
        traceback.print_exc()


def _draw_outline(context: bpy.types.Context, one: _Marked) -> None:
    if one.lines is not None:
        width = _WIDTH * context.preferences.system.ui_scale  # type: ignore[union-attr]
        draw_lines(one.lines, Matrix.Identity(4), context.region_data, width=width, colour=COLOUR)


def _draw_name(context: bpy.types.Context, one: _Marked) -> None:
    """A ring around a point, a line along a web; the name beside, clear of what is marked."""
    look = style(context)
    pixels = pixels_of(context, one.place.points)
    if not len(pixels):
        return
    if not len(one.place.outline):
        ring = _RING * look.unit
        middle = pixels.mean(axis=0)
        if len(pixels) > 1:
            draw_strokes(pixels[[0, -1]], COLOUR, width=_WIDTH * look.unit)
        else:
            draw_strokes(circle(*middle, ring), COLOUR, width=_WIDTH * look.unit)
            pixels = np.array([middle - ring, middle + ring])
    plate = Plate(look)
    plate.words(one.place.words)
    wide, high = plate.size()
    region: Any = context.region
    x, y = pixels.max(axis=0) + 10.0 * look.unit
    plate.draw(max(min(x, region.width - wide - 10.0), 0.0), max(min(y, region.height - 4.0 * high), 0.0))


def _changed(_scene: bpy.types.Scene, _result: Result | None) -> None:
    clear()


@persistent
def _gone(*_args: object) -> None:
    clear()


_HANDLERS = (("load_pre", _gone), ("undo_post", _gone), ("redo_post", _gone))


def register() -> None:
    """Places belong to one result: the next one, undo and other files end the marking."""
    results_changed.listen(_changed)
    handlers.listen(_HANDLERS)


def unregister() -> None:
    """Mark nothing any more."""
    handlers.ignore(_HANDLERS)
    results_changed.ignore(_changed)
    clear()
