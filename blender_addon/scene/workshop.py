"""What stands round the buck on the bench: platen, openings, frame, blank, further bucks; hidden at first."""

from itertools import pairwise
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from . import results
from .placement import Placement
from .result_objects import blender_matrix, delete, hide, part_of, result_object, write_mesh

__all__ = ["ROLES", "are_seen", "show", "write"]

_LINES = {
    "PLATEN": ("platen", "Platen"),
    "MACHINE": ("machine", "Machine Opening"),
    "OPENING": ("opening", "Frame Opening"),
    "BLANK": ("blank", "Sheet Blank"),
}
"""Array and name of each line, by its role."""
ROLES = (*_LINES, "FRAME", "COPY")


def write(scene: bpy.types.Scene, arrays: dict[str, NDArray[Any]], placement: Placement) -> None:
    """Write what belongs to a result; what it has no more goes, and what was seen stays so."""
    seen = are_seen(scene)
    there = {role for role, (array, _) in _LINES.items() if f"bench_{array}" in arrays}
    there |= {"FRAME"} if "bench_frame_inside" in arrays else set()
    for old in [one for role in ROLES if role not in there for one in results.objects(scene, role)]:
        delete(old)
    for role, (array, name) in _LINES.items():
        if role in there:
            _put(scene, role, _outline(name, arrays[f"bench_{array}"] / placement.mm), placement)
    if "FRAME" in there:
        ring = [arrays[f"bench_frame_{side}"] / placement.mm for side in ("inside", "outside")]
        _put(scene, "FRAME", _ring(*ring), placement)
    _copies(scene, arrays.get("bench_copies", np.zeros((0, 4, 4))), placement)
    _others(scene, arrays, placement)
    show(scene, seen=seen)


def are_seen(scene: bpy.types.Scene) -> bool:
    """Whether any of it is not hidden."""
    return any(not one.hide_get() for role in ROLES for one in results.objects(scene, role))


def show(scene: bpy.types.Scene, *, seen: bool) -> None:
    """Show or hide all of it."""
    for role in ROLES:
        for one in results.objects(scene, role):
            hide(one, hidden=not seen)


def _put(scene: bpy.types.Scene, role: str, data: Any, placement: Placement) -> None:
    one = result_object(scene, part_of(scene, "workshop"), role, data.name, data)
    one.matrix_world = blender_matrix(placement.matrix())
    one.hide_render = True


def _outline(name: str, line: NDArray[np.float64]) -> bpy.types.Curve:
    """A closed curve of straight pieces."""
    data = bpy.data.curves.new(name, "CURVE")
    data.dimensions = "3D"
    spline = data.splines.new("POLY")
    spline.points.add(len(line) - 1)
    places = np.column_stack([line, np.ones(len(line))])
    spline.points.foreach_set("co", np.ascontiguousarray(places, np.float32).reshape(-1))
    spline.use_cyclic_u = True
    return data


def _ring(inside: NDArray[np.float64], outside: NDArray[np.float64]) -> bpy.types.Mesh:
    """A flat ring between two lines that run the same way round."""
    near = [int(np.linalg.norm(inside - one, axis=1).argmin()) for one in outside]
    count, faces = len(outside), []
    for k in range(count):
        n = (k + 1) % count
        steps = (near[n] - near[k]) % len(inside)
        chain = [(near[k] + step) % len(inside) + count for step in range(steps + 1)]
        faces.append((k, n, chain[-1]))
        faces += [(k, after, before) for before, after in pairwise(chain)]
    mesh = bpy.data.meshes.new("Clamp Frame")
    write_mesh(mesh, np.vstack([outside, inside]), np.array(faces, np.int32))
    return mesh


def _copies(scene: bpy.types.Scene, matrices: NDArray[np.float64], placement: Placement) -> None:
    """Objects that share the mesh of the buck."""
    bucks = results.objects(scene, "BUCK")
    for number, matrix in enumerate(matrices if bucks else (), start=2):
        moved = np.array(matrix, np.float64)
        moved[:3, 3] /= placement.mm
        one = bpy.data.objects.new(f"{bucks[0].name} {number}", bucks[0].data)
        results.claim(scene, one, "COPY")
        part_of(scene, "workshop").objects.link(one)
        one.matrix_world = blender_matrix(placement.matrix() @ moved)
        one.hide_render = True


def _others(scene: bpy.types.Scene, arrays: dict[str, NDArray[Any]], placement: Placement) -> None:
    """Bucks of other jobs in the same pull."""
    number = 0
    while f"bench_other_{number}_vertices" in arrays:
        mesh = bpy.data.meshes.new("Other Buck")
        vertices, faces = (arrays[f"bench_other_{number}_{part}"] for part in ("vertices", "faces"))
        write_mesh(mesh, vertices / placement.mm, faces)
        one = bpy.data.objects.new("Other Buck", mesh)
        results.claim(scene, one, "COPY")
        part_of(scene, "workshop").objects.link(one)
        one.matrix_world = blender_matrix(placement.matrix())
        one.hide_render = True
        number += 1
