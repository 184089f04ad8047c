"""The markers of vents: arrows that stand on the buck where it is drilled, and that can be moved by hand."""

from collections.abc import Sequence

import bpy

from . import hand_marks, results
from .placement import Placement
from .result_objects import blender_matrix, delete

__all__ = ["add", "remove_all", "remove_copies"]

_LENGTH_MM = 5.0


def add(
    scene: bpy.types.Scene,
    collection: bpy.types.Collection,
    placement: Placement,
    name: str,
    *,
    at: Sequence[float],
    foot: bool = False,
) -> bpy.types.Object:
    """Put a marker that points along the pull.

    Parameters
    ----------
    at : place in the world, Blender units
    foot : whether it belongs to the foot ring, which is placed by itself and cannot be selected
    """
    marker = bpy.data.objects.new(name, None)
    marker.empty_display_type = "SINGLE_ARROW"
    marker.empty_display_size = _LENGTH_MM * placement.drawn / placement.mm
    marker.show_in_front = True
    marker.hide_select = foot
    marker.rotation_euler = blender_matrix(placement.matrix()).to_euler()
    marker.location = at
    if not foot:
        marker[hand_marks.VENT] = True
    results.claim(scene, marker, "FOOT_VENT" if foot else "VENT")
    collection.objects.link(marker)
    return marker


def remove_all(scene: bpy.types.Scene) -> None:
    """Take all markers of a scene away."""
    for role in ("VENT", "FOOT_VENT"):
        for old in results.objects(scene, role):
            delete(old)


def remove_copies(scene: bpy.types.Scene) -> None:
    """Take copies of markers away, once there is a marker at each place that they asked for."""
    for copy in hand_marks.copied_vents(scene):
        delete(copy)
