"""Close an open sculpt down to the base: a relief, a mask or a bust without a bottom becomes a solid."""

from dataclasses import dataclass

import manifold3d
import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.adjacency import boundary_loops, shells
from buckwright.mesh.holes import cap_loops, simple_loops
from buckwright.mesh.orienting import loop_area_mm2
from buckwright.mesh.triangles import Mesh

__all__ = ["Closing", "close_down"]

#: How far below the lowest point of an open sculpt its underside is put when the wanted floor would touch it;
#: enough for a printed layer or two. Judgement, no source.
SKIN_MM = 1.0

_SNAP_MM = 1e-6  # a rim vertex this close to the floor is on it: no wall is made there


@dataclass(frozen=True, slots=True, eq=False)
class Closing:
    """A closed mesh and how it was closed.

    Attributes
    ----------
    mesh : the faces of the sculpt first, then caps, walls and underside
    floor_mm : height of the underside
    rims : number of loops extended down to the floor
    holes : number of loops capped where they are
    """

    mesh: Mesh
    floor_mm: float
    rims: int
    holes: int


def close_down(mesh: Mesh, *, floor_z: float) -> Closing:
    """Extend every downward opening straight down to the floor, and cap every other one where it is.

    Parameters
    ----------
    mesh : in the pull frame, neighbours agree in winding
    floor_z : height of the underside, mm; where the sculpt would touch or pass it, 1 mm below the sculpt

    Returns
    -------
    Closing
        With the given mesh itself where nothing is open. The vertices and faces of the sculpt come first and
        unchanged (an open sheet that faces down is turned over as a whole).

    Notes
    -----
    A loop is a downward opening when a cap over it would face down. Loops on the floor that face up are the
    inner rims of a ring and stay open as holes of the underside.
    """
    if not len(boundary_loops(mesh.faces)):
        return Closing(mesh, floor_z, 0, 0)
    mesh = _sheets_face_up(mesh)
    loops = [part for loop in boundary_loops(mesh.faces) for part in simple_loops(loop)]
    floor = _free_floor(mesh, loops, floor_z)
    downward = [bool(loop_area_mm2(mesh, loop)[2] < 0) for loop in loops]
    grounded = [bool((mesh.vertices[loop, 2] <= floor + _SNAP_MM).all()) for loop in loops]
    rims = [loop for loop, down, low in zip(loops, downward, grounded, strict=True) if down or low]
    holes = [loop for loop, down, low in zip(loops, downward, grounded, strict=True) if not (down or low)]
    closed = _with_underside(cap_loops(mesh, holes), rims, floor)
    return Closing(closed, floor, len(rims), len(holes))


def _sheets_face_up(mesh: Mesh) -> Mesh:
    """Turn over open shells whose faces mostly look down."""
    labels, count = shells(mesh)
    up = np.bincount(labels, weights=mesh.area_vectors()[:, 2], minlength=count)
    area = np.bincount(labels, weights=np.linalg.norm(mesh.area_vectors(), axis=1), minlength=count)
    # closed shells and nearly closed bodies sum to about 0; a hemisphere to half of its area
    down = (up < -0.4 * area)[labels]
    if not down.any():
        return mesh
    faces = mesh.faces.copy()
    faces[down] = faces[down][:, ::-1]
    return Mesh(mesh.vertices, faces)


def _free_floor(mesh: Mesh, loops: list[NDArray[np.int32]], floor_z: float) -> float:
    """The wanted floor, or 1 mm below the sculpt where anything but a rim reaches it."""
    rim = np.zeros(mesh.vertex_count, bool)
    for loop in loops:
        rim[loop] = True
    lowest_rim = float(mesh.vertices[rim, 2].min())
    lowest_inner = float(mesh.vertices[~rim, 2].min(initial=np.inf))
    if lowest_rim >= floor_z - _SNAP_MM and lowest_inner > floor_z + _SNAP_MM:
        return floor_z
    return min(lowest_rim, lowest_inner) - SKIN_MM


def _with_underside(mesh: Mesh, rims: list[NDArray[np.int32]], floor: float) -> Mesh:
    """Walls from each rim to the floor, and the underside between their feet."""
    if not rims:
        return mesh
    vertices = [mesh.vertices]
    faces = [mesh.faces]
    feet = []
    count = mesh.vertex_count
    for loop in rims:
        points = mesh.vertices[loop]
        free = points[:, 2] > floor + _SNAP_MM
        foot = loop.astype(np.int64)
        foot[free] = count + np.arange(int(free.sum()))
        count += int(free.sum())
        vertices.append(np.column_stack([points[free, :2], np.full(int(free.sum()), floor)]))
        faces.append(_wall(loop.astype(np.int64), foot))
        feet.append(foot[::-1])
    points = np.concatenate(vertices)
    # seen from below, so that the underside winds outward
    polygons = [np.ascontiguousarray(points[foot, :2] * [1.0, -1.0]) for foot in feet]
    corners = np.asarray(manifold3d.triangulate(polygons), dtype=np.int64).reshape(-1, 3)
    faces.append(np.concatenate(feet)[corners].astype(np.int32))
    return Mesh(points, np.ascontiguousarray(np.concatenate(faces), dtype=np.int32))


def _wall(loop: NDArray[np.int64], foot: NDArray[np.int64]) -> NDArray[np.int32]:
    """Two triangles below each rim edge; none where the rim stands on the floor."""
    following, next_foot = np.roll(loop, -1), np.roll(foot, -1)
    upper = np.stack([following, loop, foot], axis=1)[foot != loop]
    lower = np.stack([following, foot, next_foot], axis=1)[next_foot != following]
    return np.concatenate([upper, lower]).astype(np.int32)
