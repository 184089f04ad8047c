"""Markers of the forecast in the viewport: where the sheet webs, traps air, or is thinnest.

They only show: nothing follows from moving them, so their places are locked. Each run puts new ones.
"""

from dataclasses import dataclass
from typing import Any

import bmesh
import bpy
import numpy as np
from mathutils import Color

from . import results
from .placement import Placement
from .result_objects import delete, hide, part_of

__all__ = ["Spot", "are_seen", "objects", "put", "remove_all", "spots_of"]

_ROOM_MM = 8.0
"""Least size of a place in the view, a judgement."""
_RADIUS_MM = (2.0, 4.0)
"""Least and greatest radius of a ball: larger ones would hide each other and the buck."""
_TUBE_MM = 1.0
_POINT_MM = 3.0
_NAMES = {"THINNEST": "Thinnest Place", "WEB": "Web", "POCKET": "Air Pocket"}
_CROSSES = {True: "Crosses the trim line", False: "Stays below the trim line", None: ""}
_COLOURS = {
    "THINNEST": (0.9, 0.9, 0.9),
    "WEB": (0.8, 0.475, 0.655),
    "POCKET": (0.835, 0.369, 0.0),
}
"""In sRGB: white, purple and vermilion, far from the blue and yellow of the ramps. The last two are of a set
made for colour-vision deficiency (Okabe and Ito 2008, from memory); the shapes differ too."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place of the forecast sheet.

    Attributes
    ----------
    kind : THINNEST, WEB or POCKET
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
    """The places that a forecast tells of: the thinnest, then webs, then pockets, each the largest first."""
    thinnest = told["thinnest"]
    spots = [Spot("THINNEST", f"Thinnest, {thinnest['mm']:.2f} mm", "", tuple(thinnest["where_mm"]), 0.0)]
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
    counts, shared = dict.fromkeys(_NAMES, 0), _Shared()
    for spot in spots:
        counts[spot.kind] += 1
        number = f" {counts[spot.kind]:02d}" if spot.kind != "THINNEST" else ""
        marker = _marker(spot, f"{_NAMES[spot.kind]}{number}", placement, shared)
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


def remove_all(scene: bpy.types.Scene) -> None:
    """Take the list and its markers away."""
    kept = results.of(scene)
    kept.spots.clear()
    kept.spot_index = 0
    paints = {paint for one in objects(scene) for paint in one.data.materials}  # type: ignore[union-attr]
    for old in objects(scene):
        delete(old)
    for paint in paints:
        if paint is not None and not paint.users:
            bpy.data.materials.remove(paint)


class _Shared:
    """What the markers of a kind have in common: a mesh of radius 1, and the paint of the viewport."""

    def __init__(self) -> None:
        self._balls: dict[str, bpy.types.Mesh] = {}
        self._paints: dict[str, bpy.types.Material] = {}

    def ball(self, kind: str) -> bpy.types.Mesh:
        """A ball, or a double pyramid for the thinnest place."""
        if kind not in self._balls:
            mesh = self._balls[kind] = bpy.data.meshes.new(_NAMES[kind])
            solid = bmesh.new()
            if kind == "POCKET":
                bmesh.ops.create_icosphere(solid, subdivisions=3, radius=1.0)
            else:
                bmesh.ops.create_uvsphere(solid, u_segments=4, v_segments=2, radius=1.0)
            solid.to_mesh(mesh)
            solid.free()
            if kind == "POCKET":
                mesh.shade_smooth()
            mesh.materials.append(self.paint(kind))
        return self._balls[kind]

    def paint(self, kind: str) -> bpy.types.Material:
        """The material that gives a kind its colour in the viewport."""
        if kind not in self._paints:
            self._paints[kind] = bpy.data.materials.new(f"Buckwright {_NAMES[kind]}")
            colour = Color(_COLOURS[kind]).from_srgb_to_scene_linear()
            self._paints[kind].diffuse_color = (*colour, 1.0)  # type: ignore[assignment]
        return self._paints[kind]


def _marker(spot: Spot, name: str, placement: Placement, shared: _Shared) -> bpy.types.Object:
    """A tube along a web, a ball at a pocket, a double pyramid at the thinnest place."""
    unit = placement.drawn / placement.mm
    if spot.kind == "WEB":
        marker = _tube(name, [_world(placement, end) for end in spot.ends_mm], _TUBE_MM * unit)
        marker.data.materials.append(shared.paint(spot.kind))  # type: ignore[union-attr]
        return marker
    marker = bpy.data.objects.new(name, shared.ball(spot.kind))
    radius = float(np.clip(spot.size_mm / 2.0, *_RADIUS_MM)) if spot.kind == "POCKET" else _POINT_MM
    marker.scale = (radius * unit,) * 3
    marker.location = _world(placement, spot.place_mm)
    return marker


def _tube(name: str, ends: list[list[float]], radius: float) -> bpy.types.Object:
    """A straight piece of curve whose origin is its middle, so that the view can be framed on it."""
    middle = np.mean(ends, axis=0)
    curve = bpy.data.curves.new(name, "CURVE")
    curve.dimensions = "3D"
    curve.bevel_depth, curve.use_fill_caps = radius, True
    spline = curve.splines.new("POLY")
    spline.points.add(len(ends) - 1)
    for point, end in zip(spline.points, ends, strict=True):
        point.co = (*(np.array(end) - middle), 1.0)
    marker = bpy.data.objects.new(name, curve)
    marker.location = middle.tolist()
    return marker


def _world(placement: Placement, place_mm: tuple[float, ...]) -> list[float]:
    return [float(v) for v in placement.to_world(np.array([place_mm], np.float64))[0]]
