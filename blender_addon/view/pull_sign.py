"""Shows the pull at the sculpt: an arrow over it, and the plane of the platen that it stands on."""

import traceback
from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np
from bpy_extras import view3d_utils
from mathutils import Matrix, Vector
from numpy.typing import NDArray

from ..bridge.library import way_words
from ..scene import results, visibility
from ..scene.placement import Placement
from ..scene.pull import is_found, pull_in
from . import highlight, view_settings
from .legend import free_room
from .overlay_gpu import draw_lines, line_batch
from .plate import Plate, style
from .viewports import redraw

__all__ = ["Sign", "arrow", "beyond", "grid", "register", "sign_of", "unregister"]

_ABOVE, _LONG = 0.03, 0.22
"""Where the arrow begins over the sculpt, and its length, as shares of the sculpt's size: a judgement."""
_HEAD, _HEAD_WIDE, _SPOKES = 0.35, 0.13, 12
_BEYOND = 0.05
"""How far the plane reaches beyond the sculpt, as a share of its size."""
_CELLS = 4
_SAME = 1.0 - 1e-6
_ARROW_WIDTH, _PLANE_WIDTH = 2.6, 0.8
"""In pixels at an interface scale of 1."""
_OFF = 14.0
"""From the tip to its words, in the same pixels."""
_ARROW, _PLANE = (1.0, 0.8, 0.45), (0.8, 0.8, 0.8)

type Array = NDArray[np.float64]

_handles: list[Any] = []
_known: dict[tuple[Any, ...], tuple[Array, Array]] = {}
"""The last bounds."""


@dataclass(frozen=True, slots=True, eq=False)
class Sign:
    """What is drawn, in the world.

    Attributes
    ----------
    arrow, plane : (2 L, 3) ends of lines in pairs
    tip : (3,)
    words : the direction
    """

    arrow: Array
    plane: Array
    tip: Array
    words: str


def arrow(foot: Array, tip: Array) -> Array:
    """A shaft with a head of straight lines, as ends in pairs (2 L, 3)."""
    way = tip - foot
    side = np.cross(way, np.eye(3)[np.argmin(np.abs(way))])
    side *= _HEAD_WIDE * np.linalg.norm(way) / np.linalg.norm(side)
    other = np.cross(way, side) / np.linalg.norm(way)
    angles = np.arange(_SPOKES) * 2.0 * np.pi / _SPOKES
    ring = tip - _HEAD * way + np.cos(angles)[:, None] * side + np.sin(angles)[:, None] * other
    pairs = [(foot, tip - _HEAD * way), *((tip, one) for one in ring)]
    pairs += list(zip(ring, np.roll(ring, 1, axis=0), strict=True))
    return np.array(pairs).reshape(-1, 3)


def grid(low: Array, high: Array, z: float) -> Array:
    """Lines over a rectangle at a height, as ends in pairs (2 L, 3)."""
    pairs = []
    for share in np.linspace(0.0, 1.0, _CELLS + 1):
        x, y = low + share * (high - low)
        pairs += [[(x, low[1], z), (x, high[1], z)], [(low[0], y, z), (high[0], y, z)]]
    return np.array(pairs, np.float64).reshape(-1, 3)


def beyond(
    tip: tuple[float, float],
    foot: tuple[float, float],
    size: tuple[float, float],
    room: tuple[float, float, float, float],
    *,
    off: float,
) -> tuple[float, float] | None:
    """Lower left corner of a plate past the tip of an arrow, which it does not cover; None out of sight.

    A tip beside the view has its plate at that edge.

    Parameters
    ----------
    tip, foot : of the arrow, pixels
    size : of the plate
    room : left, bottom, right and top of what it has to stay within
    off : from the tip
    """
    left, bottom, right, top = room
    wide, high = size
    if not bottom <= tip[1] <= top or right - left < wide:
        return None
    x = tip[0] - off - wide if tip[0] < foot[0] else tip[0] + off
    y = min(max(tip[1] - high if tip[1] < foot[1] else tip[1], bottom), top - high)
    if left <= x <= right - wide:
        return x, y
    # No room beside the tip: over it, or under it where the arrow comes from above.
    x = min(max(x, left), right - wide)
    y = tip[1] - off - high if tip[1] < foot[1] else tip[1] + off
    return (x, y) if bottom <= y <= top - high else None


def sign_of(scene: bpy.types.Scene) -> Sign | None:
    """The pull at the sculpts of the last result; None without any, or with a pull of no direction."""
    pull, inspection = pull_in(scene), results.inspection(scene)
    length = float(np.linalg.norm(pull))
    if inspection is None or not length or results.frame(scene) is None:
        return None
    turned, standing = _standing(scene, pull / length)
    low, high = _bounds(scene, inspection, turned)
    size = float(np.linalg.norm(high - low))
    platen = float(low[2]) if standing is None else float((standing @ turned)[2])
    middle = (low + high) / 2.0
    foot = np.array([middle[0], middle[1], high[2] + _ABOVE * size])
    tip = foot + np.array([0.0, 0.0, _LONG * size])
    plane = grid(low[:2] - _BEYOND * size, high[:2] + _BEYOND * size, platen)
    words = f"Pull {way_words((pull / length).tolist())}".replace("-", "−")
    return Sign(arrow(foot, tip) @ turned.T, plane @ turned.T, turned @ tip, words)


def _bounds(scene: bpy.types.Scene, inspection: bpy.types.Object, turned: Array) -> tuple[Array, Array]:
    """Lowest and highest coordinates of the sculpt along the axes (columns), kept for the last pull."""
    key = (scene.session_uid, inspection.session_uid, results.of(scene).fingerprint, turned.tobytes())
    if key not in _known:
        mesh: Any = inspection.data
        places = np.empty((len(mesh.vertices), 3), np.float32)
        mesh.attributes["position"].data.foreach_get("vector", places.reshape(-1))
        along = places @ turned.astype(np.float32)
        _known.clear()
        _known[key] = (along.min(axis=0).astype(np.float64), along.max(axis=0).astype(np.float64))
    return _known[key]


def _standing(scene: bpy.types.Scene, pull: Array) -> tuple[Array, Array | None]:
    """Axes of the platen in the world as columns (3, 3), the pull last, and a point of it (3,).

    As the last result stands; along another pull it is not known how deep the sculpt would be sunk, and there
    is no point.
    """
    matrix = Placement.of(scene).matrix()
    axes = matrix[:3, :3] / np.linalg.norm(matrix[:3, :3], axis=0)
    if is_found(scene) and axes[:, 2] @ pull > _SAME:
        return axes, matrix[:3, 3]
    return np.array(Vector(pull).to_track_quat("Z", "Y").to_matrix(), np.float64), None


def _wanted(context: bpy.types.Context) -> bool:
    scene, space = context.scene, context.space_data
    if scene is None or not isinstance(space, bpy.types.SpaceView3D) or not space.overlay.show_overlays:
        return False
    if not view_settings.of(scene).pull or context.mode != "OBJECT":
        return False
    seen = any(one.visible_in_viewport_get(space) for one in results.sculpts(scene))
    return seen or visibility.buck_is_seen(scene)


def _draw() -> None:
    """Draw over the viewport; a failure is told once and ends the drawing."""
    context = bpy.context
    try:
        sign = sign_of(context.scene) if _wanted(context) else None  # type: ignore[arg-type]
        if sign is not None:
            scale = context.preferences.system.ui_scale  # type: ignore[union-attr]
            parts = [(sign.plane, _PLANE_WIDTH, _PLANE)]
            if not view_settings.of(context.scene).turn:  # type: ignore[arg-type]
                parts.append((sign.arrow, _ARROW_WIDTH, _ARROW))
            for ends, width, colour in parts:
                lines = line_batch(ends.astype(np.float32))
                if lines is not None:
                    place = Matrix.Identity(4)
                    edge = colour is _ARROW
                    draw_lines(
                        lines, place, context.region_data, width=width * scale, colour=colour, edge=edge
                    )
    except Exception:
        _stop()
        traceback.print_exc()


def _draw_words() -> None:
    context = bpy.context
    try:
        sign = sign_of(context.scene) if _wanted(context) else None  # type: ignore[arg-type]
        if sign is None or view_settings.of(context.scene).turn:  # type: ignore[arg-type]
            return
        if highlight.shown(context.scene) is not None:  # type: ignore[arg-type]
            return  # the place that is gone to has the word
        where = view3d_utils.location_3d_to_region_2d
        tip, foot = (
            where(context.region, context.region_data, Vector(one))  # type: ignore[arg-type]
            for one in (sign.tip, sign.arrow[0])
        )
        if tip is not None and foot is not None:
            plate = Plate(style(context))
            plate.words(sign.words)
            off = _OFF * plate.look.unit
            at = beyond((tip.x, tip.y), (foot.x, foot.y), plate.size(), free_room(context), off=off)
            if at is not None:
                plate.draw(*at)
    except Exception:
        _stop()
        traceback.print_exc()


def _stop() -> None:
    while _handles:
        bpy.types.SpaceView3D.draw_handler_remove(_handles.pop(), "WINDOW")


def register() -> None:
    """Draw from now on."""
    if not bpy.app.background:
        add = bpy.types.SpaceView3D.draw_handler_add
        _handles.append(add(_draw, (), "WINDOW", "POST_VIEW"))
        _handles.append(add(_draw_words, (), "WINDOW", "POST_PIXEL"))


def unregister() -> None:
    """Draw no longer."""
    _stop()
    redraw()
