"""Vertex moves that bring the planes of the faces to given distances: the sums and the solver."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel

__all__ = ["corner_planes", "flipped_faces", "plane_gaps", "ramp", "settle", "solve_corners"]

FREE = 1e-9
"""Weight of the mean move against the planes: decides only where the planes do not."""
PASSES = 3
"""Solving again from the result removes the error left by that weight."""
TURNED = 0.3
"""A face counts as flipped once its normal has turned by more than about 72 degrees (cosine 0.3)."""


def corner_planes(
    vertices: NDArray[np.float64], faces: NDArray[np.int32], distance_mm: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Area-weighted sums over the planes at each vertex.

    Parameters
    ----------
    vertices : (V, 3) float64, mm
    faces : (F, 3) int32
    distance_mm : (F,) float64
        How far each face is to move against its normal.

    Returns
    -------
    (V, 13) float64
        n n^T (xx, xy, xz, yy, yz, zz), n (3), distance * n (3), each times the face's share of the area
        around the vertex, and that area.
    """
    sums = np.zeros((len(vertices), 13))
    _gather(vertices, faces, distance_mm, sums)
    return sums


def solve_corners(planes: NDArray[np.float64], longest_mm: float) -> NDArray[np.float64]:
    """Least-squares move of every vertex.

    Parameters
    ----------
    planes : (V, 13) float64 from `corner_planes`
    longest_mm : limit of a move, > 0

    Returns
    -------
    (V, 3) float64, mm; 0 for vertices without faces
    """
    move = np.zeros((len(planes), 3))
    _solve_all(planes, longest_mm, move)
    return move


def settle(
    planes: NDArray[np.float64],
    move: NDArray[np.float64],
    active: NDArray[np.int64],
    start: NDArray[np.int32],
    neighbours: NDArray[np.int32],
    sweeps: int,
    longest_mm: float,
) -> NDArray[np.float64]:
    """Even out the moves of the active vertices along whatever their planes leave free.

    Parameters
    ----------
    planes, move : from `corner_planes` and `solve_corners`
    active : (A,) int64, vertices that may move
    start, neighbours : index pointer and indices of a sparse matrix of the vertices that share an edge
    sweeps : Gauss-Seidel sweeps; the pull towards the neighbours fades from 0.3 to 0.001 of the planes'
    longest_mm : limit of a move

    Returns
    -------
    (V, 3) float64, mm, a new array
    """
    slid = move.copy()
    for weight in np.geomspace(0.3, 1e-3, max(sweeps, 2)):
        _sweep(planes, active, start, neighbours, weight, longest_mm, slid)
    return slid


def ramp(
    vertices: NDArray[np.float64],
    share: NDArray[np.float64],
    start: NDArray[np.int32],
    neighbours: NDArray[np.int32],
    per_mm: float,
) -> NDArray[np.float64]:
    """Lower shares so that they rise by no more than `per_mm` along any edge.

    Parameters
    ----------
    vertices : (V, 3) float64, mm
    share : (V,) float64
    start, neighbours : index pointer and indices of a sparse matrix of the vertices that share an edge
    per_mm : steepest rise, 1/mm

    Returns
    -------
    (V,) float64, nowhere above `share`
    """
    gentle = share.copy()
    for _ in range(100):
        if not _lower(vertices, start, neighbours, per_mm, gentle):
            break
    return gentle


def flipped_faces(
    before: NDArray[np.float64], faces: NDArray[np.int32], after: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Faces whose normal turns by more than about 72 degrees.

    Parameters
    ----------
    before, after : (V, 3) float64, mm
    faces : (F, 3) int32

    Returns
    -------
    (F,) bool; never set for faces without area before the move
    """
    flipped = np.zeros(len(faces), np.bool_)
    _find_flips(before, faces, after, flipped)
    return flipped


def plane_gaps(
    vertices: NDArray[np.float64],
    faces: NDArray[np.int32],
    distance_mm: NDArray[np.float64],
    move: NDArray[np.float64],
) -> NDArray[np.float64]:
    """How far each moved vertex stays proud of the wanted planes of its faces.

    Parameters
    ----------
    vertices : (V, 3) float64, mm, before the move
    faces : (F, 3) int32
    distance_mm : (F,) float64, how far each face was to move against its normal
    move : (V, 3) float64, mm

    Returns
    -------
    (V,) float64, mm, >= 0
    """
    gap = np.zeros(len(vertices))
    _measure_gaps(vertices, faces, distance_mm, move, gap)
    return gap


@kernel
def _normal(points: Any, a: int, b: int, c: int) -> Any:
    """Normal of a face, with twice its area as length."""
    ux, uy, uz = points[b, 0] - points[a, 0], points[b, 1] - points[a, 1], points[b, 2] - points[a, 2]
    vx, vy, vz = points[c, 0] - points[a, 0], points[c, 1] - points[a, 1], points[c, 2] - points[a, 2]
    return uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx


@kernel
def _gather(vertices: Any, faces: Any, distance: Any, sums: Any) -> None:
    for f in range(len(faces)):
        x, y, z = _normal(vertices, faces[f, 0], faces[f, 1], faces[f, 2])
        area = np.sqrt(x * x + y * y + z * z)
        if area == 0.0:
            continue
        x, y, z = x / area, y / area, z / area
        t = distance[f]
        for k in range(3):
            row = sums[faces[f, k]]
            row[0] += area * x * x
            row[1] += area * x * y
            row[2] += area * x * z
            row[3] += area * y * y
            row[4] += area * y * z
            row[5] += area * z * z
            row[6] += area * x
            row[7] += area * y
            row[8] += area * z
            row[9] += area * t * x
            row[10] += area * t * y
            row[11] += area * t * z
            row[12] += area
    for v in range(len(sums)):
        area = sums[v, 12]
        if area > 0.0:
            for k in range(12):
                sums[v, k] /= area


@kernel
def _solve_one(row: Any, weight: float, px: float, py: float, pz: float, longest: float) -> Any:
    """Solve (A + w I) d = -g + w p by Cholesky; d is shortened to `longest`."""
    a, b, c = row[0] + weight, row[1], row[2]
    d, e, f = row[3] + weight, row[4], row[5] + weight
    rx, ry, rz = weight * px - row[9], weight * py - row[10], weight * pz - row[11]
    l11 = np.sqrt(a)
    l21, l31 = b / l11, c / l11
    l22 = np.sqrt(max(d - l21 * l21, 1e-30))
    l32 = (e - l31 * l21) / l22
    l33 = np.sqrt(max(f - l31 * l31 - l32 * l32, 1e-30))
    y1 = rx / l11
    y2 = (ry - l21 * y1) / l22
    y3 = (rz - l31 * y1 - l32 * y2) / l33
    z = y3 / l33
    y = (y2 - l32 * z) / l22
    x = (y1 - l21 * y - l31 * z) / l11
    length = np.sqrt(x * x + y * y + z * z)
    if length > longest:
        x, y, z = x * longest / length, y * longest / length, z * longest / length
    return x, y, z


@kernel
def _solve_all(planes: Any, longest: float, move: Any) -> None:
    for v in range(len(planes)):
        row = planes[v]
        if row[12] > 0.0:
            x, y, z = -row[9], -row[10], -row[11]
            for _ in range(PASSES):
                x, y, z = _solve_one(row, FREE, x, y, z, longest)
            move[v, 0], move[v, 1], move[v, 2] = x, y, z


@kernel
def _sweep(
    planes: Any, active: Any, start: Any, neighbours: Any, weight: float, longest: float, move: Any
) -> None:
    for v in active:
        count = start[v + 1] - start[v]
        if count == 0 or planes[v, 12] == 0.0:
            continue
        px, py, pz = 0.0, 0.0, 0.0
        for k in range(start[v], start[v + 1]):
            n = neighbours[k]
            px += move[n, 0]
            py += move[n, 1]
            pz += move[n, 2]
        x, y, z = _solve_one(planes[v], weight, px / count, py / count, pz / count, longest)
        move[v, 0], move[v, 1], move[v, 2] = x, y, z


@kernel
def _find_flips(before: Any, faces: Any, after: Any, flipped: Any) -> None:
    for f in range(len(faces)):
        ax, ay, az = _normal(before, faces[f, 0], faces[f, 1], faces[f, 2])
        bx, by, bz = _normal(after, faces[f, 0], faces[f, 1], faces[f, 2])
        old = np.sqrt(ax * ax + ay * ay + az * az)
        new = np.sqrt(bx * bx + by * by + bz * bz)
        if old > 0.0 and ax * bx + ay * by + az * bz <= TURNED * old * new:
            flipped[f] = True


@kernel
def _measure_gaps(vertices: Any, faces: Any, distance: Any, move: Any, gap: Any) -> None:
    for f in range(len(faces)):
        x, y, z = _normal(vertices, faces[f, 0], faces[f, 1], faces[f, 2])
        size = np.sqrt(x * x + y * y + z * z)
        if size == 0.0:
            continue
        for k in range(3):
            v = faces[f, k]
            proud = distance[f] + (x * move[v, 0] + y * move[v, 1] + z * move[v, 2]) / size
            gap[v] = max(gap[v], proud)


@kernel
def _lower(vertices: Any, start: Any, neighbours: Any, per_mm: float, share: Any) -> bool:
    changed = False
    count = len(share)
    for step in range(2 * count):
        # Forward, then backward: a limit spreads across the mesh in a few passes.
        v = step if step < count else 2 * count - 1 - step
        for k in range(start[v], start[v + 1]):
            n = neighbours[k]
            if share[n] + 1e-12 < share[v]:
                x = vertices[n, 0] - vertices[v, 0]
                y = vertices[n, 1] - vertices[v, 1]
                z = vertices[n, 2] - vertices[v, 2]
                limit = share[n] + per_mm * np.sqrt(x * x + y * y + z * z)
                if limit < share[v] - 1e-9:
                    share[v] = limit
                    changed = True
    return changed
