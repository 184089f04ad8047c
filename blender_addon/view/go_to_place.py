"""Takes the view to a place: a trapped region, a vent, a web. The pull is kept upright where it can be."""

from typing import Any

import bpy
import numpy as np
from mathutils import Quaternion, Vector

from ..bridge.units import mm_per_unit
from ..scene import forecast_markers, results, running
from ..scene.placement import Placement
from .viewports import viewport

__all__ = [
    "facing",
    "look_at",
    "outward",
    "register",
    "show_finding",
    "show_region",
    "show_spot",
    "unregister",
]

_ROOM = 3.0
"""How many times the size of what is shown fits into the view, a judgement."""
_SMOOTH_STEEP = 0.999
"""Cosine from which a line of sight counts as along the world's Z."""
_REGION_ROOM_MM = 5.0
_FINDING_ROOM_MM = 12.0


def show_region(context: bpy.types.Context) -> bool:
    """Take the view to the region that is chosen in the list; whether there was a viewport."""
    assert context.scene is not None
    kept = results.of(context.scene)
    region = kept.regions[kept.region_index]
    mm = mm_per_unit(context.scene)
    size = max(2.0 * float(np.sqrt(region.area_mm2)), _REGION_ROOM_MM) / mm
    return look_at(context, Vector(region.centre), size=size, along=_outward(context.scene, region.number))


def show_spot(context: bpy.types.Context) -> bool:
    """Select the marker of the place that is chosen in the list, and take the view there.

    Returns
    -------
    Whether there was a viewport.
    """
    assert context.scene is not None
    kept = results.of(context.scene)
    spot = kept.spots[kept.spot_index]
    if context.mode == "OBJECT":
        for one in forecast_markers.objects(context.scene):
            if not one.hide_get():
                one.select_set(one == spot.object)
    return look_at(context, Vector(spot.centre), size=spot.size)


def show_finding(context: bpy.types.Context, index: int) -> bool:
    """Take the view to the place of a finding; whether there was a viewport."""
    assert context.scene is not None
    place = Vector(results.of(context.scene).findings[index].place)
    return look_at(
        context, place, size=_FINDING_ROOM_MM * Placement.of(context.scene).drawn / mm_per_unit(context.scene)
    )


def look_at(context: bpy.types.Context, place: Vector, *, size: float, along: Vector | None = None) -> bool:
    """Turn the view so that a place stands in its middle.

    Parameters
    ----------
    place : in the world, Blender units
    size : diameter of what is to be seen there, Blender units, >= 0
    along : from where to look: a direction from the place to the eye in the world; None keeps the view's own

    Returns
    -------
    Whether there was a viewport to turn.
    """
    area = viewport(context)
    space: Any = area.spaces.active if area is not None else None
    if area is None or space is None or space.region_3d is None:
        return False
    region_3d = space.region_3d
    if region_3d.view_perspective == "CAMERA":
        region_3d.view_perspective = "PERSP"
    region_3d.view_location = place
    region_3d.view_distance = max(_ROOM * size, 20.0 * space.clip_start)
    if along is not None and along.length > 0.0:
        region_3d.view_rotation = facing(along)
    area.tag_redraw()
    return True


def facing(along: Vector) -> Quaternion:
    """Rotation of a view that looks against a direction, the world's Z up."""
    way = along.normalized()
    if abs(way.z) > _SMOOTH_STEEP:
        return Quaternion() if way.z > 0.0 else Quaternion((1.0, 0.0, 0.0), np.pi)
    return way.to_track_quat("Z", "Y")


def outward(normals: np.ndarray[Any, Any], areas: np.ndarray[Any, Any]) -> Vector | None:
    """Mean direction that faces look to, weighed by their area; None where they look all ways."""
    mean = (normals * areas[:, None]).sum(axis=0)
    total = float(areas.sum())
    length = float(np.linalg.norm(mean))
    return Vector(mean / length) if total > 0.0 and length > 0.05 * total else None


def _outward(scene: bpy.types.Scene, number: int) -> Vector | None:
    """Where the faces of a region look to."""
    inspection = results.inspection(scene)
    if inspection is None or not isinstance(inspection.data, bpy.types.Mesh):
        return None
    mesh = inspection.data
    attribute: Any = mesh.attributes.get(results.PREFIX + "region")
    if attribute is None:
        return None
    regions = np.empty(len(mesh.polygons), np.int32)
    attribute.data.foreach_get("value", regions)
    normals = np.empty((len(mesh.polygons), 3), np.float32)
    mesh.polygon_normals.foreach_get("vector", normals.reshape(-1))
    areas = np.empty(len(mesh.polygons), np.float32)
    mesh.polygons.foreach_get("area", areas)
    here = regions == number
    return outward(normals[here], areas[here]) if here.any() else None


def _region_chosen(context: bpy.types.Context) -> None:
    """A click on a trapped region takes the view there; not while results are being written."""
    if running.now() is None:
        show_region(context)


def _spot_chosen(context: bpy.types.Context) -> None:
    """A click on a place of the sheet takes the view there; not while results are being written."""
    if running.now() is None:
        show_spot(context)


def register() -> None:
    """Follow what is chosen in the lists."""
    results.region_chosen.listen(_region_chosen)
    results.spot_chosen.listen(_spot_chosen)


def unregister() -> None:
    """Follow no longer."""
    results.spot_chosen.ignore(_spot_chosen)
    results.region_chosen.ignore(_region_chosen)
