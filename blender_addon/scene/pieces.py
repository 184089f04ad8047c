"""The pieces that the buck is printed in: an object each, where it belongs, hidden until asked for."""

from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from . import results
from .placement import Placement
from .result_objects import blender_matrix, delete, hide, part_of, write_mesh

__all__ = ["write"]


def write(scene: bpy.types.Scene, arrays: dict[str, NDArray[Any]], placement: Placement) -> None:
    """Write the pieces of a result into the scene; those of the last one go."""
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
