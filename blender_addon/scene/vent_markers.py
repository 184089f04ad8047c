"""The markers of vents: cones in the buck where it is drilled, and that can be moved by hand."""

import math
from collections.abc import Sequence

import bpy
from mathutils import Matrix

from . import hand_marks, results
from .placement import Placement
from .result_objects import blender_matrix, delete, part_of

__all__ = ["add", "remove_all", "remove_copies"]

_RADIUS_MM, _FOOT_RADIUS_MM = 2.5, 1.8
"""Of the circle around a hole; a judgement. The cone below it is twice as deep."""
_DOWN = Matrix.Rotation(-math.pi / 2.0, 4, "X")
"""Blender's cones point along +Y."""


def add(
    scene: bpy.types.Scene,
    placement: Placement,
    name: str,
    *,
    at: Sequence[float],
    foot: bool = False,
) -> bpy.types.Object:
    """Put a marker that points against the pull: a circle seen down it, a cone from the side.

    Parameters
    ----------
    at : place in the world, Blender units
    foot : whether it belongs to the foot ring, which is placed by itself and cannot be selected
    """
    marker = bpy.data.objects.new(name, None)
    marker.empty_display_type = "CONE"
    radius = _FOOT_RADIUS_MM if foot else _RADIUS_MM
    marker.empty_display_size = radius * placement.drawn / placement.mm
    marker.show_in_front = True
    marker.hide_select = foot
    marker.rotation_euler = (blender_matrix(placement.matrix()) @ _DOWN).to_euler()
    marker.location = at
    if not foot:
        marker[hand_marks.VENT] = True
    results.claim(scene, marker, "FOOT_VENT" if foot else "VENT")
    part_of(scene, "vents").objects.link(marker)
    return marker


def remove_all(scene: bpy.types.Scene) -> None:
    """Take all markers of a scene away."""
    for role in ("VENT", "FOOT_VENT"):
        for old in results.objects(scene, role):
            delete(old)


def remove_copies(scene: bpy.types.Scene) -> None:
    """Take copies of markers away, once there is a marker at each place that they asked for."""
    for copy in hand_marks.copies(scene, hand_marks.VENT):
        delete(copy)
