"""Whether results still belong to what is in the scene: derived from what they were made from.

A result keeps its job and a stamp of its sculpt. Its job is compared whenever it is asked for. Stamping a
sculpt takes a while and may need it in view, so the answer is remembered until Blender tells that one of its
objects has changed; what is drawn often asks `seen`, which leaves the stamping to a moment of rest.
"""

import contextlib
import tomllib
from functools import cache, lru_cache
from typing import Any

import bpy
import numpy as np
from bpy.app.handlers import persistent

from ..bridge.library import COMMANDS, BuckwrightError, all_settings, as_plain, job_from, settings_for
from ..bridge.units import mm_per_unit
from . import body, hand_marks, handlers, hole_markers, results, settings, snapshot, visibility
from .events import Event
from .job_scale import job_scale, scaled

__all__ = ["became_known", "register", "seen", "unregister", "why"]

became_known: Event[[]] = Event()
"""A moment of rest was used: what is drawn may be out of date."""

_PAUSE_S = 0.3
_MOST_NAMED = 2
_SAME_MM = 1e-3
_OF_FILES = {"sculpt.file", "sculpt.unit", "body.file", "body.unit"}
_MARKS = {
    "vents.at_mm": "vents",
    "take_up.at_mm": "blocks",
    "base.outline_mm": "outline",
    "printer.planes_mm": "planes",
}

_SEVERAL = ("Vents", "Blocks", "Planes")

type _Stamps = tuple[str, str]
"""Of the sculpts of a scene's results: of their shape, and with their UV maps (empty where none is used)."""
_stamps: dict[int, tuple[float, _Stamps]] = {}
"""By scene: millimetres of a unit, and the stamps as they were then."""
_watched: dict[int, frozenset[int]] = {}


def why(scene: bpy.types.Scene, part: str = "found_from") -> str:
    """Why a result no longer belongs to what is in the scene, in words; empty while it does.

    Parameters
    ----------
    part : the result: 'found_from' for colours and findings, 'buck_from', 'sheet_from'
    """
    origin = getattr(results.of(scene), part)
    if not origin.job:
        return ""
    return _why(scene, origin, _stamp(scene))


def seen(scene: bpy.types.Scene, part: str = "found_from") -> str:
    """As `why`, for what is drawn often: of the sculpt it says what is known, and finds out when at rest."""
    origin = getattr(results.of(scene), part)
    if not origin.job:
        return ""
    known = _known(scene)
    if known is None and not bpy.app.timers.is_registered(_rest):
        bpy.app.timers.register(_rest, first_interval=_PAUSE_S)
    return _why(scene, origin, known)


def _why(scene: bpy.types.Scene, origin: Any, known: _Stamps | None) -> str:
    if len(results.sculpts(scene)) < len(results.of(scene).sculpts):
        return "The sculpt has been deleted"
    if changed := _changed_settings(scene, origin):
        named = changed if len(changed) <= _MOST_NAMED else [*changed[: _MOST_NAMED - 1], "other settings"]
        many = len(named) > 1 or named[0] in _SEVERAL
        return f"{' and '.join(named)} {'have' if many else 'has'} changed"
    if known is None:
        return ""
    shape, with_texture = known
    if shape != origin.stamp:
        return f"The sculpt{' or its body' if body.picked(scene) is not None else ''} has changed"
    laid = origin.texture and "artwork.by" in _read_by(origin.command)
    return "The UV map has changed" if laid and with_texture != origin.texture else ""


def _changed_settings(scene: bpy.types.Scene, origin: Any) -> list[str]:
    """Labels of the settings that the command would now read otherwise, in the order of the library."""
    try:
        present = as_plain(job_from(settings.read_tables(scene)))
    except BuckwrightError:
        return ["A setting"]
    before = _tables(origin.job)
    edge = scaled({"edge": hole_markers.places_mm(scene)}, job_scale(scene, results.sculpts(scene)))["edge"]
    named: dict[str, None] = {}
    for name, label in _read_by(origin.command).items():
        table, _, key = name.partition(".")
        if name in _MARKS:
            was = key in before.get(table, {})
            changed = _marks_changed(scene, origin, _MARKS[name], was=was)
        elif name in hole_markers.SETTINGS:
            changed = _moved(edge.get(key), before.get(table, {}).get(key))
        else:
            changed = present.get(table, {}).get(key) != before.get(table, {}).get(key)
        if changed:
            named[label] = None
    return list(named)


def _moved(now: Any, before: Any) -> bool:
    """Whether places are others than before; the same size, measured again, moves none by so little."""
    if not now or not before or len(now) != len(before):
        return bool(now) or bool(before)
    return not np.allclose(now, before, rtol=0.0, atol=_SAME_MM)


def _marks_changed(scene: bpy.types.Scene, origin: Any, mark: str, *, was: bool) -> bool:
    """Whether other marks on the buck would be used now; those that a run has put there itself are its own.

    Parameters
    ----------
    mark : 'vents', 'blocks', 'outline' or 'planes'
    was : whether the run used marks of the scene
    """
    used = bool(getattr(settings.of(scene), f"{mark}_by_hand"))
    moved = used and getattr(origin, mark) != hand_marks.signature(scene, mark)
    return moved or used != was


@lru_cache(maxsize=8)
def _tables(job: str) -> dict[str, dict[str, Any]]:
    return tomllib.loads(job)


@cache
def _read_by(command: str) -> dict[str, str]:
    """Labels of the settings that a command reads."""
    read = settings_for(COMMANDS[command])
    titles = {name: mark.title() for name, mark in _MARKS.items()}
    return {
        name: titles.get(name, read[name].label) for name in all_settings() if name in read.keys() - _OF_FILES
    }


def _known(scene: bpy.types.Scene) -> _Stamps | None:
    mm, known = _stamps.get(scene.session_uid, (0.0, None))
    return known if mm == mm_per_unit(scene) else None


def _stamp(scene: bpy.types.Scene) -> _Stamps | None:
    """The stamps of the sculpts as they are now; None while they cannot be read."""
    known = _known(scene)
    context = bpy.context
    objects = results.sculpts(scene)
    if known is not None or context.scene != scene or any(one.mode != "OBJECT" for one in objects):
        return known
    kept = results.of(scene)
    with visibility.shown(scene):
        shape, shown = body.stamp(context, objects)
        laid = kept.found_from.texture or kept.buck_from.texture
        with_texture = snapshot.stamp(context, objects, texture=True)[0] if laid else ""
    _watched[scene.session_uid] = shown
    _stamps[scene.session_uid] = (mm_per_unit(scene), (shape, with_texture))
    return shape, with_texture


def _rest() -> None:
    """Stamp the sculpts of what is shown; runs from a timer."""
    window = bpy.context.window or next(iter(bpy.context.window_manager.windows), None)
    if window is None:
        return
    with bpy.context.temp_override(window=window), contextlib.suppress(RuntimeError):
        if window.scene.library is None and _stamp(window.scene) is not None:
            became_known.tell()


@persistent
def _changed(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    watched = _watched.get(scene.session_uid)
    if watched is None or scene.session_uid not in _stamps:
        return
    for update in depsgraph.updates:
        if not (update.is_updated_geometry or update.is_updated_transform):
            continue
        if isinstance(update.id, bpy.types.Object) and update.id.original.session_uid in watched:
            _stamps.pop(scene.session_uid, None)
            return


@persistent
def _anew(*_args: object) -> None:
    """After opening, undo and redo everything may be another."""
    _stamps.clear()
    _watched.clear()


_HANDLERS = (
    ("depsgraph_update_post", _changed),
    ("load_post", _anew),
    ("undo_post", _anew),
    ("redo_post", _anew),
)


def register() -> None:
    """Listen to changes, opening, undo and redo."""
    handlers.listen(_HANDLERS)


def unregister() -> None:
    """Listen no longer."""
    handlers.ignore(_HANDLERS)
    if bpy.app.timers.is_registered(_rest):
        bpy.app.timers.unregister(_rest)
    _anew()
