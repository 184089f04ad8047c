"""Reads the faces of a mesh and the values on them, as whole arrays. Changes nothing."""

from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

__all__ = ["Faces", "face_values", "polygon_areas", "read_faces"]


@dataclass(slots=True, eq=False)
class Faces:
    """Triangles of a mesh in its own space.

    Attributes
    ----------
    vertices : (V, 3) float32
    faces : (F, 3) int32, triangles
    polygon : (F,) int32, polygon of the mesh each triangle belongs to; None where they are the same
    normals : (F, 3) float32, unit normals of the polygons; 0 where a triangle has no area
    areas : (F,) float32
    """

    vertices: NDArray[np.float32]
    faces: NDArray[np.int32]
    polygon: NDArray[np.int32] | None
    normals: NDArray[np.float32]
    areas: NDArray[np.float32]


def read_faces(mesh: bpy.types.Mesh) -> Faces:
    """All faces of a mesh as triangles; quads are split along their first diagonal, others by Blender.

    Notes
    -----
    Normals are those that Blender keeps for its own shading: they cost nothing, and a quad that is not flat
    has one. Whole attributes are copied; properties of single loops would take a hundred times as long.
    """
    vertices = np.empty((len(mesh.vertices), 3), np.float32)
    _fill(mesh, "position", "vector", vertices)
    faces, polygon = _triangles(mesh)
    normals = np.empty((len(mesh.polygons), 3), np.float32)
    if len(normals):
        mesh.polygon_normals.foreach_get("vector", normals.reshape(-1))
    areas = polygon_areas(vertices, faces)
    if polygon is not None:
        normals = normals.take(polygon, axis=0)
    # Blender gives (0, 0, 1) where there is no direction.
    normals[areas == 0.0] = 0.0
    return Faces(vertices, faces, polygon, normals, areas)


def _fill(mesh: bpy.types.Mesh, name: str, what: str, array: NDArray[Any]) -> None:
    attribute: Any = mesh.attributes.get(name)
    if attribute is not None and array.size:
        attribute.data.foreach_get(what, array.reshape(-1))


def polygon_areas(vertices: NDArray[np.float32], faces: NDArray[np.int32]) -> NDArray[np.float32]:
    """Areas (F,) of triangles; gathered one axis at a time, which is twice as fast as rows."""
    sides = []
    for axis in np.ascontiguousarray(vertices.T):
        first, second, third = (axis.take(faces[:, k]) for k in range(3))
        second -= first
        third -= first
        sides.append((second, third))
    total = np.zeros(len(faces), np.float32)
    for k in range(3):
        (ay, az), (by, bz) = sides[(k + 1) % 3], sides[(k + 2) % 3]
        part = ay * bz
        part -= az * by
        part *= part
        total += part
    np.sqrt(total, out=total)
    total *= np.float32(0.5)
    return total


def _triangles(mesh: bpy.types.Mesh) -> tuple[NDArray[np.int32], NDArray[np.int32] | None]:
    count, corners = len(mesh.polygons), len(mesh.loops)
    around = np.empty(corners, np.int32)
    _fill(mesh, ".corner_vert", "value", around)
    if corners == 3 * count:  # no polygon has fewer than three
        return around.reshape(-1, 3), None
    if corners == 4 * count and _all_quads(mesh):
        halves = around.reshape(-1, 4).take([0, 1, 2, 0, 2, 3], axis=1).reshape(-1, 3)
        return halves, np.repeat(np.arange(count, dtype=np.int32), 2)
    mesh.calc_loop_triangles()
    faces = np.empty((len(mesh.loop_triangles), 3), np.int32)
    polygon = np.empty(len(faces), np.int32)
    mesh.loop_triangles.foreach_get("vertices", faces.reshape(-1))
    mesh.loop_triangles.foreach_get("polygon_index", polygon)
    return faces, polygon


def _all_quads(mesh: bpy.types.Mesh) -> bool:
    """Whether every polygon has four corners: its corners start at multiples of four."""
    starts = np.empty(len(mesh.polygons), np.int32)
    mesh.polygons.foreach_get("loop_start", starts)
    return bool((starts == np.arange(len(starts), dtype=np.int32) * 4).all())


def face_values(mesh: bpy.types.Mesh, name: str, faces: Faces) -> NDArray[Any] | None:
    """Values of a named face attribute for each triangle, or None where the mesh has no such numbers."""
    attribute: Any = mesh.attributes.get(name)
    if attribute is None or attribute.domain != "FACE" or attribute.data_type not in ("FLOAT", "INT"):
        return None
    values = np.empty(len(mesh.polygons), np.float32 if attribute.data_type == "FLOAT" else np.int32)
    _fill(mesh, name, "value", values)
    return values if faces.polygon is None else values[faces.polygon]
