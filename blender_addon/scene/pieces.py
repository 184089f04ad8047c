"""The pieces that the buck is printed in and the planes that split it: objects, hidden until asked for."""

from typing import Any

import bpy
import numpy as np
from mathutils import Vector
from numpy.typing import NDArray

from . import hand_marks, results
from .placement import Placement
from .result_objects import blender_matrix, delete, hide, part_of, write_mesh

__all__ = ["write", "write_planes"]

_WIDE, _FLAT = 0.6, 0.001
"""Half the width of a plane as a share of the buck's longest side, and its height as a share of that."""


def write(scene: bpy.types.Scene, arrays: dict[str, NDArray[Any]], placement: Placement) -> None:
    """Write the pieces of a result and its split planes into the scene; those of the last one go."""
    for old in results.objects(scene, "PIECE"):
        delete(old)
    for name in np.atleast_1d(arrays.get("piece_names", np.array([], np.str_))).tolist():
        mesh = bpy.data.meshes.new(f"Piece {name}")
        write_mesh(mesh, arrays[f"piece_{name}_vertices"] / placement.mm, arrays[f"piece_{name}_faces"])
        one = bpy.data.objects.new(mesh.name, mesh)
        results.claim(scene, one, "PIECE")
        part_of(scene, "pieces").objects.link(one)
        one.matrix_world = blender_matrix(placement.matrix())
        one.hide_render = True
        hide(one, hidden=True)
    size = float(np.ptp(arrays["buck_vertices"], axis=0).max())
    write_planes(scene, arrays.get("split_planes", np.zeros((0, 4))), placement, size)
    for empty in results.objects(scene, "CUT"):
        hide(empty, hidden=True)


def write_planes(
    scene: bpy.types.Scene, planes_mm: NDArray[np.float64], placement: Placement, size_mm: float
) -> None:
    """Write split planes as empties, each across its Z axis; those of the last result go.

    Parameters
    ----------
    planes_mm : (N, 4) in the buck's frame: unit vector across, distance from its origin
    size_mm : of the buck
    """
    for old in results.objects(scene, "CUT"):
        delete(old)
    for number, plane in enumerate(planes_mm, 1):
        across = plane[:3] / np.linalg.norm(plane[:3])
        ends = placement.to_world(np.stack([across * plane[3], across * (plane[3] + size_mm)]))
        empty = bpy.data.objects.new(f"Split Plane {number}", None)
        results.claim(scene, empty, "CUT")
        part_of(scene, "pieces").objects.link(empty)
        empty.empty_display_type = "CUBE"
        empty.empty_display_size = _WIDE * float(np.linalg.norm(ends[1] - ends[0]))
        empty.rotation_mode = "QUATERNION"
        empty.location = Vector(ends[0].tolist())
        empty.rotation_quaternion = Vector((ends[1] - ends[0]).tolist()).to_track_quat("Z", "Y")
        empty.scale = (1.0, 1.0, _FLAT)
        empty.show_in_front = True
        empty.hide_render = True
        empty["buckwright_plane_mm"] = [float(part) for part in plane]
        empty["buckwright_put"] = hand_marks.stands(empty)
