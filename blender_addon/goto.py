"""Takes the view to a place: a trapped region, a vent, a web. The pull is kept upright where it can be."""

from typing import Any

import bpy
import numpy as np
from mathutils import Quaternion, Vector

__all__ = ["look_at", "outward", "viewport"]

_ROOM = 3.0
"""How many times the size of what is shown fits into the view, a judgement."""
_SMOOTH_STEEP = 0.999
"""Cosine from which a line of sight counts as along the world's Z."""


def viewport(context: bpy.types.Context) -> bpy.types.Area | None:
    """The 3D viewport at hand: that of the context, else the largest of the window."""
    if context.area is not None and context.area.type == "VIEW_3D":
        return context.area
    window = context.window
    areas = [area for area in window.screen.areas if area.type == "VIEW_3D"] if window is not None else []
    return max(areas, key=lambda area: area.width * area.height, default=None)


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
