"""Close an open sculpt down to the base: a relief, a mask or a bust without a bottom becomes a solid."""

from dataclasses import dataclass

import manifold3d
import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.adjacency import boundary_loops, shells
from buckwright.mesh.checking import CROSSING_DEPTH_MM
from buckwright.mesh.crossings import find_crossings
from buckwright.mesh.holes import cap_loops, simple_loops
from buckwright.mesh.orienting import loop_area_mm2
from buckwright.mesh.triangles import Mesh

__all__ = ["Closing", "close_down"]

#: How far below the lowest point of an open sculpt its underside is put when the wanted floor would touch it;
#: enough for a printed layer or two. Judgement, no source.
SKIN_MM = 1.0

#: An opening faces down where a cap over it looks within 45 degrees of straight down. Up to there walls from
#: its rim lengthen it by no more than it is wide; beyond, the far side would grow a curtain taller than the
#: opening, which a flat cap and the fill below it do with less. House rule.
_CLEARLY_DOWN = float(np.cos(np.radians(45.0)))

_SNAP_MM = 1e-6  # a rim vertex this close to the floor is on it: no wall is made there


@dataclass(frozen=True, slots=True, eq=False)
class Closing:
    """A closed mesh and how it was closed.

    Attributes
    ----------
    mesh : the faces of the sculpt first, then caps, walls and underside
    floor_mm : height of the underside
    rims : number of loops extended down to the floor
    holes : the loops capped where they are, each (L,) int32
    """

    mesh: Mesh
    floor_mm: float
    rims: int
    holes: list[NDArray[np.int32]]


def close_down(mesh: Mesh, *, floor_z: float) -> Closing:
    """Extend openings that clearly face down straight to the floor, and cap every other one where it is.

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
    A loop faces down where a cap over it would look within 45 degrees of straight down. Where its walls or
    its cap would cross the surface, the other way of closing it is tried, and taken if it crosses less. Loops
    on the floor that face up are the inner rims of a ring and stay open as holes of the underside.
    """
    if not len(boundary_loops(mesh.faces)):
        return Closing(mesh, floor_z, 0, [])
    mesh = _sheets_face_up(mesh)
    loops = [part for loop in boundary_loops(mesh.faces) for part in simple_loops(loop)]
    floor = _free_floor(mesh, loops, floor_z)
    caps = np.array([loop_area_mm2(mesh, loop) for loop in loops]).reshape(-1, 3)
    look_down = -caps[:, 2] / np.maximum(np.linalg.norm(caps, axis=1), 1e-300)
    grounded = np.array([bool((mesh.vertices[loop, 2] <= floor + _SNAP_MM).all()) for loop in loops], bool)
    walled = grounded | (look_down >= _CLEARLY_DOWN)
    closed, owner = _closed(mesh, loops, walled, floor)
    crossed = _crossed(mesh, closed, owner, len(loops))
    either = (crossed > 0) & ~grounded & (look_down > 0)
    if either.any():
        other, owner = _closed(mesh, loops, walled ^ either, floor)
        if _crossed(mesh, other, owner, len(loops)).sum() < crossed.sum():
            closed, walled = other, walled ^ either
    holes = [loop for loop, wall in zip(loops, walled, strict=True) if not wall]
    return Closing(closed, floor, int(walled.sum()), holes)


def _closed(
    mesh: Mesh, loops: list[NDArray[np.int32]], walled: NDArray[np.bool_], floor: float
) -> tuple[Mesh, NDArray[np.int64]]:
    """Caps over some loops and walls below the others; and the loop of every new cap and wall face."""
    rims = [loop for loop, wall in zip(loops, walled, strict=True) if wall]
    holes = [loop for loop, wall in zip(loops, walled, strict=True) if not wall]
    capped = cap_loops(mesh, holes)
    closed, wall_faces = _with_underside(capped, rims, floor)
    owner = np.full(closed.face_count - mesh.face_count, -1)
    of_caps = np.repeat(np.flatnonzero(~walled), [len(loop) - 2 for loop in holes])
    of_walls = np.repeat(np.flatnonzero(walled), wall_faces)
    owner[: len(of_caps)] = of_caps[: capped.face_count - mesh.face_count]
    start = capped.face_count - mesh.face_count
    owner[start : start + len(of_walls)] = of_walls
    return closed, owner


def _crossed(mesh: Mesh, closed: Mesh, owner: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    """How often the caps and walls of each loop cross the surface or one another."""
    first = mesh.face_count
    corners = closed.corners()
    low, high = corners[first:].reshape(-1, 3).min(axis=0), corners[first:].reshape(-1, 3).max(axis=0)
    near = ((corners.max(axis=1) >= low) & (corners.min(axis=1) <= high)).all(axis=1)
    near[first:] = True
    number = np.flatnonzero(near)
    pairs = number[
        find_crossings(Mesh(closed.vertices, closed.faces[near]), deeper_than_mm=CROSSING_DEPTH_MM).pairs
    ]
    loops = owner[pairs[pairs >= first] - first]
    return np.bincount(loops[loops >= 0], minlength=count)


def _sheets_face_up(mesh: Mesh) -> Mesh:
    """Turn over open shells whose faces mostly look down."""
    labels, count = shells(mesh)
    up = np.bincount(labels, weights=mesh.area_vectors()[:, 2], minlength=count)
    area = np.bincount(labels, weights=mesh.areas(), minlength=count)
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


def _with_underside(mesh: Mesh, rims: list[NDArray[np.int32]], floor: float) -> tuple[Mesh, list[int]]:
    """Walls from each rim to the floor, the underside between their feet, and the faces of each wall."""
    if not rims:
        return mesh, []
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
    walls = [len(wall) for wall in faces[1:]]
    points = np.concatenate(vertices)
    # seen from below, so that the underside winds outward
    polygons = [np.ascontiguousarray(points[foot, :2] * [1.0, -1.0]) for foot in feet]
    corners = np.asarray(manifold3d.triangulate(polygons), dtype=np.int64).reshape(-1, 3)
    faces.append(np.concatenate(feet)[corners].astype(np.int32))
    return Mesh(points, np.ascontiguousarray(np.concatenate(faces), dtype=np.int32)), walls


def _wall(loop: NDArray[np.int64], foot: NDArray[np.int64]) -> NDArray[np.int32]:
    """Two triangles below each rim edge; none where the rim stands on the floor."""
    following, next_foot = np.roll(loop, -1), np.roll(foot, -1)
    upper = np.stack([following, loop, foot], axis=1)[foot != loop]
    lower = np.stack([following, foot, next_foot], axis=1)[next_foot != following]
    return np.concatenate([upper, lower]).astype(np.int32)
