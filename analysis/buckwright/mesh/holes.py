"""Capping holes: flat caps over boundary loops."""

import manifold3d
import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.adjacency import boundary_loops, shells
from buckwright.mesh.orienting import loop_area_mm2
from buckwright.mesh.triangles import Mesh

__all__ = ["OPEN_SIDE_SHARE", "cap_loops", "capped_faces", "in_best_plane", "simple_loops", "small_holes"]

#: A loop that spans less than this share of its shell is a hole in a body, to be capped; a larger one is
#: an open side, which is closed down to the base. Judgement: the neck of an open bust spans 5 to 10 %.
OPEN_SIDE_SHARE = 0.02


def small_holes(mesh: Mesh) -> list[NDArray[np.int32]]:
    """Boundary loops that are holes, not open sides; loops are split where they touch themselves.

    Parameters
    ----------
    mesh : neighbours agree in winding

    Returns
    -------
    list of (L,) int32, vertices of each loop; those that span less than 2 % of the area of their shell
    """
    loops = [part for loop in boundary_loops(mesh.faces) for part in simple_loops(loop)]
    if not loops:
        return []
    labels, count = shells(mesh)
    area = np.bincount(labels, weights=mesh.areas(), minlength=count)
    around = np.zeros(mesh.vertex_count)
    around[mesh.faces.ravel()] = np.repeat(area[labels], 3)
    return [
        loop
        for loop in loops
        if float(np.linalg.norm(loop_area_mm2(mesh, loop))) < OPEN_SIDE_SHARE * around[loop[0]]
    ]


def simple_loops(loop: NDArray[np.int32]) -> list[NDArray[np.int32]]:
    """Split a closed loop where it passes through a vertex again; slits of two edges are dropped.

    Parameters
    ----------
    loop : (L,) int32, from `adjacency.boundary_loops`

    Returns
    -------
    list of (L',) int32, L' >= 3, each passing through any vertex once
    """
    parts: list[NDArray[np.int32]] = []
    path: list[int] = []
    place: dict[int, int] = {}
    for vertex in loop.tolist():
        if vertex in place:
            cut = place[vertex]
            parts.append(np.array(path[cut:], np.int32))
            for gone in path[cut + 1 :]:
                del place[gone]
            del path[cut + 1 :]
        else:
            place[vertex] = len(path)
            path.append(vertex)
    parts.append(np.array(path, np.int32))
    return [part for part in parts if len(part) > 2]


def cap_loops(mesh: Mesh, loops: list[NDArray[np.int32]]) -> Mesh:
    """Close loops with flat caps that use only the vertices of the loop.

    Parameters
    ----------
    mesh : neighbours agree in winding
    loops : each (L,) int32, from `boundary_loops` or `simple_loops`

    Returns
    -------
    Mesh
        The same vertices, the same faces first, then the caps. A loop on a straight line gives faces without
        area, for `repair.without_flat_faces` to remove.
    """
    caps = [capped_faces(mesh.vertices, loop[::-1]) for loop in loops]
    return Mesh(mesh.vertices, np.concatenate([mesh.faces, *caps]).astype(np.int32)) if caps else mesh


def capped_faces(vertices: NDArray[np.float64], ring: NDArray[np.int32]) -> NDArray[np.int32]:
    """Triangulate a ring of vertices in its best plane.

    Parameters
    ----------
    vertices : (V, 3) float64, mm
    ring : (L,) int32, each vertex once

    Returns
    -------
    (L - 2, 3) int32, wound as the ring is
    """
    flat = in_best_plane(vertices[ring])
    corners = np.asarray(manifold3d.triangulate([flat]), dtype=np.int64).reshape(-1, 3)
    return ring[corners]


def in_best_plane(ring: NDArray[np.float64]) -> NDArray[np.float64]:
    """A ring of points in the plane that it spans most area in.

    Parameters
    ----------
    ring : (L, 3) float64, mm

    Returns
    -------
    (L, 2) float64, mm, wound to the left
    """
    points = ring - ring.mean(axis=0)
    normal = np.cross(points, np.roll(points, -1, axis=0)).sum(axis=0)
    length = float(np.linalg.norm(normal))
    along = np.linalg.svd(points, full_matrices=False)[2][0]
    if length <= 1e-12 * float(np.square(points).sum()):
        normal, length = np.cross(along, np.eye(3)[np.argmin(np.abs(along))]), 1.0
    normal = normal / np.linalg.norm(normal)
    along = along - normal * (along @ normal)
    along /= np.linalg.norm(along)
    return np.ascontiguousarray(np.stack([points @ along, points @ np.cross(normal, along)], axis=1))
