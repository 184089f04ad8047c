"""Markers of holes in the part: empties of the user's own, on the sculpt or the buck, by kind.

The library never makes any, so they are no results: they stay when a buck is made anew, and go when the user
deletes them. A copy asks for a hole of its own.
"""

from collections.abc import Mapping
from typing import Any

import bpy
import numpy as np

from . import hand_marks
from .placement import Placement

__all__ = ["HOLE", "KINDS", "SETTINGS", "add", "markers", "places_mm", "put_all", "remove_all"]

HOLE = "buckwright_hole"
"""A custom property that holds the kind."""
KINDS = {
    "rivet": ("rivets_mm", "Rivet", "A rivet hole"),
    "slot": ("slots_mm", "Strap Slot", "A slot for a strap, which lies along the edge"),
    "fan": ("fans_mm", "Fan Hole", "A round opening for a fan or a lamp holder"),
}
"""Key among the settings of the edge, name and tip, by kind."""
SETTINGS = {f"edge.{key}": kind for kind, (key, _, _) in KINDS.items()}

_SHOWN_AS = {"rivet": "SPHERE", "slot": "CUBE", "fan": "CIRCLE"}
_RADIUS_MM = {"rivet": 2.0, "slot": 4.0, "fan": 19.0}
_EXACT, _PUT = "buckwright_at_mm", "buckwright_put"
_FOLDER = "Holes of the Part"


def add(scene: bpy.types.Scene, kind: str, at: Any) -> bpy.types.Object:
    """Put a marker.

    Parameters
    ----------
    kind : of `KINDS`
    at : place in the world, Blender units
    """
    placement = Placement.of(scene)
    marker = bpy.data.objects.new(KINDS[kind][1], None)
    marker.empty_display_type = _SHOWN_AS[kind]  # type: ignore[assignment]
    marker.empty_display_size = _RADIUS_MM[kind] * placement.drawn / placement.mm
    marker.show_in_front = True
    marker.location = at
    marker[HOLE] = kind
    _folder(scene).objects.link(marker)
    _settle(marker, placement)
    return marker


def markers(scene: bpy.types.Scene, kind: str) -> list[bpy.types.Object]:
    """Markers of a kind in the order of their names."""
    found = [one for one in scene.objects if one.type == "EMPTY" and one.get(HOLE) == kind]
    return sorted(found, key=lambda one: one.name)


def places_mm(scene: bpy.types.Scene, *, settle: bool = False) -> dict[str, list[list[float]]]:
    """Places in the sculpt's coordinates by key of the settings, mm; keys without markers are left out.

    Parameters
    ----------
    settle : whether a marker that was moved remembers its place, which then no longer hangs on where the
        buck is drawn
    """
    placement, found = Placement.of(scene), {}
    for kind, (key, _, _) in KINDS.items():
        if held := markers(scene, kind):
            found[key] = [_place(one, placement, settle=settle) for one in held]
    return found


def put_all(scene: bpy.types.Scene, edge: Mapping[str, Any]) -> None:
    """Markers for the holes that an opened job names; older ones go.

    Parameters
    ----------
    edge : table of the job
    """
    remove_all(scene)
    placement = Placement.of(scene)
    for kind, (key, _, _) in KINDS.items():
        for place in edge.get(key) or ():
            buck = placement.sculpt_to_buck(np.array([place], np.float64))
            marker = add(scene, kind, placement.to_world(buck)[0].tolist())
            marker[_EXACT] = [float(v) for v in place]


def remove_all(scene: bpy.types.Scene) -> None:
    """Take all markers away."""
    for kind in KINDS:
        for one in markers(scene, kind):
            bpy.data.objects.remove(one)


def _folder(scene: bpy.types.Scene) -> bpy.types.Collection:
    """The collection that new markers go into; the user may move them elsewhere."""
    children = scene.collection.children
    for one in children:
        if one.name.split(".")[0] == _FOLDER:
            return one
    made = bpy.data.collections.new(_FOLDER)
    children.link(made)
    return made


def _place(marker: bpy.types.Object, placement: Placement, *, settle: bool) -> list[float]:
    exact: Any = marker.get(_EXACT)
    if exact is not None and not hand_marks.is_moved(marker):
        return [float(v) for v in exact]
    return _settle(marker, placement) if settle else _asked(marker, placement)


def _asked(marker: bpy.types.Object, placement: Placement) -> list[float]:
    place = placement.to_sculpt(np.array(marker.matrix_world.translation, np.float64)[None])[0]
    # A hundredth of a micrometre: the rest is noise of single precision.
    return [round(float(v), 5) for v in place]


def _settle(marker: bpy.types.Object, placement: Placement) -> list[float]:
    """Let a marker remember the place that it asks for where it stands now."""
    if marker.parent is None:
        place = placement.to_sculpt(np.array(marker.location, np.float64)[None])[0]
        found = [round(float(v), 5) for v in place]
        marker[_PUT] = [*marker.location]
    else:
        found = _asked(marker, placement)
    marker[_EXACT] = found
    return found
