"""Markers of the forecast in the viewport: where the sheet folds, shuts in air, or is thinnest.

They only show: nothing follows from moving them, so their places are locked. Each run puts new ones.
"""

from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np

from . import results
from .placement import Placement
from .result_objects import delete

__all__ = ["Spot", "are_seen", "objects", "put", "remove_all", "spots_of"]

_ROOM_MM = 8.0
"""Least size of a place in the view, a judgement."""
_RADIUS_MM = (1.5, 5.0)
"""Least and greatest radius of a ball: larger ones would hide each other and the buck."""
_NAMES = {"THINNEST": "Thinnest Place", "WEB": "Web", "POCKET": "Air Pocket"}


@dataclass(frozen=True, slots=True)
class Spot:
    """A place of the forecast sheet.

    Attributes
    ----------
    kind : THINNEST, WEB or POCKET
    words : what is there
    place_mm : (3,) its middle, in the buck's frame
    size_mm : its length or width; 0 for a point
    ends_mm : ends of a web, two of (3,) in the buck's frame; empty for others
    """

    kind: str
    words: str
    place_mm: tuple[float, ...]
    size_mm: float
    ends_mm: tuple[tuple[float, ...], ...] = ()


def spots_of(told: dict[str, Any]) -> list[Spot]:
    """The places that a forecast tells of: the thinnest, then webs, then pockets, each the largest first."""
    thinnest = told["thinnest"]
    spots = [Spot("THINNEST", f"{thinnest['mm']:.2f} mm thick", tuple(thinnest["where_mm"]), 0.0)]
    for web in told["webs"]:
        where = ", over the trim line" if web["crosses_trim_line"] else ""
        words = f"Web, {web['length_mm']:.0f} mm long{where}"
        ends = tuple(tuple(end) for end in web["ends_mm"])
        spots.append(Spot("WEB", words, tuple(web["where_mm"]), web["length_mm"], ends))
    for pocket in told["pockets"]:
        words = f"Air, {pocket['volume_mm3'] / 1000.0:.2f} cm³, {pocket['depth_mm']:.1f} mm deep"
        width = float(np.sqrt(pocket["area_mm2"]))
        spots.append(Spot("POCKET", words, tuple(pocket["last_touched_mm"]), width))
    return spots


def put(
    scene: bpy.types.Scene,
    collection: bpy.types.Collection,
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
    kept.places = bpy.data.collections.new(f"{collection.name} Forecast")
    collection.children.link(kept.places)
    counts = dict.fromkeys(_NAMES, 0)
    for spot in spots:
        counts[spot.kind] += 1
        number = f" {counts[spot.kind]:02d}" if spot.kind != "THINNEST" else ""
        marker = _marker(spot, f"{_NAMES[spot.kind]}{number}", placement)
        marker.buckwright.role = spot.kind  # type: ignore[attr-defined]
        marker.show_in_front = True
        marker.show_name = spot.kind == "THINNEST"
        marker.hide_render = True
        marker.lock_location = (True, True, True)  # type: ignore[assignment]
        marker.lock_rotation = (True, True, True)  # type: ignore[assignment]
        marker.lock_scale = (True, True, True)  # type: ignore[assignment]
        kept.places.objects.link(marker)
        marker.hide_set(not seen)
        row = kept.spots.add()
        row.kind, row.words, row.object = spot.kind, spot.words, marker
        row.centre = _world(placement, spot.place_mm)
        row.size = max(spot.size_mm, _ROOM_MM) / placement.mm


def objects(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """The markers that are there."""
    return [one for kind in _NAMES for one in results.objects(scene, kind)]


def are_seen(scene: bpy.types.Scene) -> bool:
    """Whether a marker is not hidden."""
    return any(not one.hide_get() for one in objects(scene))


def remove_all(scene: bpy.types.Scene) -> None:
    """Take the list and its markers away, and their collection if nothing else was put there."""
    kept = results.of(scene)
    kept.spots.clear()
    kept.spot_index = 0
    for old in objects(scene):
        delete(old)
    places = kept.places
    if places is not None and not places.all_objects and not places.children:
        bpy.data.collections.remove(places)


def _marker(spot: Spot, name: str, placement: Placement) -> bpy.types.Object:
    """A line along a web, a ball around a pocket, a cross at a point."""
    if spot.ends_mm:
        return _line(name, [_world(placement, end) for end in spot.ends_mm])
    marker = bpy.data.objects.new(name, None)
    marker.empty_display_type = "SPHERE" if spot.size_mm else "PLAIN_AXES"
    marker.empty_display_size = float(np.clip(spot.size_mm / 2.0, *_RADIUS_MM)) / placement.mm
    marker.location = _world(placement, spot.place_mm)
    return marker


def _line(name: str, ends: list[list[float]]) -> bpy.types.Object:
    """A straight piece of curve whose origin is its middle, so that the view can be framed on it."""
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
