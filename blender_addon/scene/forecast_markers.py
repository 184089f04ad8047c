"""Markers of the forecast in the scene: where the sheet webs, traps air, or is weakest.

They are places and lines without a body, which hide nothing; the view draws a sign at each, as large as it is
to be read. They only show: nothing follows from moving them, so their places are locked. Each run puts new
ones.
"""

from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np
from mathutils import Vector

from . import results
from .placement import Placement
from .result_objects import delete, hide, part_of

__all__ = ["Spot", "are_seen", "ends_of", "objects", "put", "remove_all", "spots_of"]

_ROOM_MM = 16.0
"""Least size of a place in the view, a judgement."""
_CROSS_MM = 1.0
_NAMES = {"WEAKEST": "Weakest Spot", "WEB": "Web", "POCKET": "Air Pocket"}
_CROSSES = {True: "Crosses the trim line", False: "Stays below the trim line", None: ""}


@dataclass(frozen=True, slots=True)
class Spot:
    """A place of the forecast sheet.

    Attributes
    ----------
    kind : WEAKEST, WEB or POCKET
    words, more : what is there, in a line of the list; and what else is to be said of it
    place_mm : (3,) its middle, in the buck's frame
    size_mm : its length or width; 0 for a point
    ends_mm : ends of a web, two of (3,) in the buck's frame; empty for others
    """

    kind: str
    words: str
    more: str
    place_mm: tuple[float, ...]
    size_mm: float
    ends_mm: tuple[tuple[float, ...], ...] = ()


def spots_of(told: dict[str, Any]) -> list[Spot]:
    """The places that a forecast tells of: the weakest, then webs, then pockets, each the largest first."""
    weakest = told["weakest"]
    words = f"Weakest, {weakest['mm']:.2f} ±{weakest['band_mm']:.2f} mm"
    more = f"Mean over a disc of {weakest['disc_mm']:g} mm"
    spots = [Spot("WEAKEST", words, more, tuple(weakest["where_mm"]), 0.0)]
    for web in told["webs"]:
        more = _CROSSES[web["crosses_trim_line"]]
        ends = tuple(tuple(end) for end in web["ends_mm"])
        words = f"Web, {web['length_mm']:.0f} mm"
        spots.append(Spot("WEB", words, more, tuple(web["where_mm"]), web["length_mm"], ends))
    for pocket in told["trapped_air"]:
        words = f"Air, {pocket['volume_mm3'] / 1000.0:.2f} cm³"
        more = f"{pocket['depth_mm']:.1f} mm deep; the marker is where the sheet touches last"
        width = float(np.sqrt(pocket["area_mm2"]))
        spots.append(Spot("POCKET", words, more, tuple(pocket["last_touched_mm"]), width))
    return spots


def put(
    scene: bpy.types.Scene,
    spots: list[Spot],
    placement: Placement,
    *,
    seen: bool,
) -> None:
    """List the places for the panel, and mark each in a collection of their own within the results'.

    Parameters
    ----------
    seen : whether the markers are shown
    """
    remove_all(scene)
    kept = results.of(scene)
    places = part_of(scene, "places")
    counts = dict.fromkeys(_NAMES, 0)
    for spot in spots:
        counts[spot.kind] += 1
        number = f" {counts[spot.kind]:02d}" if spot.kind != "WEAKEST" else ""
        marker = _marker(spot, f"{_NAMES[spot.kind]}{number}", placement)
        results.claim(scene, marker, spot.kind)
        marker.hide_render = True
        marker.lock_location = (True, True, True)  # type: ignore[assignment]
        marker.lock_rotation = (True, True, True)  # type: ignore[assignment]
        marker.lock_scale = (True, True, True)  # type: ignore[assignment]
        places.objects.link(marker)
        hide(marker, hidden=not seen)
        row = kept.spots.add()
        row.kind, row.words, row.more, row.object = spot.kind, spot.words, spot.more, marker
        row.centre = _world(placement, spot.place_mm)
        row.size = max(spot.size_mm, _ROOM_MM) * placement.drawn / placement.mm


def objects(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """The markers that are there."""
    return [one for kind in _NAMES for one in results.objects(scene, kind)]


def are_seen(scene: bpy.types.Scene) -> bool:
    """Whether a marker is not hidden."""
    return any(not one.hide_get() for one in objects(scene))


def ends_of(spot: Any) -> list[Vector]:
    """Where a place of the list is, in the world: both ends of a web, else one point."""
    marker = spot.object
    if marker is None or marker.type != "CURVE" or not marker.data.splines:
        return [Vector(spot.centre)]
    return [marker.matrix_world @ point.co.to_3d() for point in marker.data.splines[0].points]


def remove_all(scene: bpy.types.Scene) -> None:
    """Take the list and its markers away."""
    kept = results.of(scene)
    kept.spots.clear()
    kept.spot_index = 0
    for old in objects(scene):
        delete(old)


def _marker(spot: Spot, name: str, placement: Placement) -> bpy.types.Object:
    """A line along a web, a small cross elsewhere."""
    if spot.kind == "WEB":
        return _line(name, [_world(placement, end) for end in spot.ends_mm])
    marker = bpy.data.objects.new(name, None)
    marker.empty_display_type = "PLAIN_AXES"
    marker.empty_display_size = _CROSS_MM * placement.drawn / placement.mm
    marker.location = _world(placement, spot.place_mm)
    return marker


def _line(name: str, ends: list[list[float]]) -> bpy.types.Object:
    """A straight line whose origin is its middle, so that the view can be framed on it."""
    middle = np.mean(ends, axis=0)
    curve = bpy.data.curves.new(name, "CURVE")
    curve.dimensions = "3D"
    spline = curve.splines.new("POLY")
    spline.points.add(len(ends) - 1)
    for point, end in zip(spline.points, ends, strict=True):
        point.co = (*(np.array(end) - middle), 1.0)
    marker = bpy.data.objects.new(name, curve)
    marker.location = middle.tolist()
    return marker


def _world(placement: Placement, place_mm: tuple[float, ...]) -> list[float]:
    return [float(v) for v in placement.to_world(np.array([place_mm], np.float64))[0]]
