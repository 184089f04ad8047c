"""Exact questions along the pull: what stands above, below or on top of a point.

All rays are parallel, so no tree is needed: triangles are binned on the plane. Each triangle goes
to the level of a pyramid of grids where it spans at most two bins a side, so a few large triangles
among a million small ones cost nothing extra. Everything is float64.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel
from buckwright.mesh.triangles import Mesh

__all__ = ["Columns"]

_LEVELS = 16
_NOTHING = -np.inf


@kernel
def _levels_and_counts(vertices, faces, origin, fine, widths, heights, starts, level, counts):  # type: ignore[no-untyped-def]
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        x0 = min(vertices[a, 0], vertices[b, 0], vertices[c, 0])
        x1 = max(vertices[a, 0], vertices[b, 0], vertices[c, 0])
        y0 = min(vertices[a, 1], vertices[b, 1], vertices[c, 1])
        y1 = max(vertices[a, 1], vertices[b, 1], vertices[c, 1])
        extent = max(x1 - x0, y1 - y0)
        k = 0
        cell = fine
        while cell < extent and k < level.shape[0] and k < widths.shape[0] - 1:
            cell *= 2.0
            k += 1
        level[f] = k
        i0, i1 = int((x0 - origin[0]) / cell), int((x1 - origin[0]) / cell)
        j0, j1 = int((y0 - origin[1]) / cell), int((y1 - origin[1]) / cell)
        for j in range(j0, min(j1, heights[k] - 1) + 1):
            for i in range(i0, min(i1, widths[k] - 1) + 1):
                counts[starts[k] + j * widths[k] + i] += 1


@kernel
def _fill_bins(vertices, faces, origin, fine, widths, heights, starts, level, cursor, members):  # type: ignore[no-untyped-def]
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        x0 = min(vertices[a, 0], vertices[b, 0], vertices[c, 0])
        x1 = max(vertices[a, 0], vertices[b, 0], vertices[c, 0])
        y0 = min(vertices[a, 1], vertices[b, 1], vertices[c, 1])
        y1 = max(vertices[a, 1], vertices[b, 1], vertices[c, 1])
        k = level[f]
        cell = fine * 2.0**k
        i0, i1 = int((x0 - origin[0]) / cell), int((x1 - origin[0]) / cell)
        j0, j1 = int((y0 - origin[1]) / cell), int((y1 - origin[1]) / cell)
        for j in range(j0, min(j1, heights[k] - 1) + 1):
            for i in range(i0, min(i1, widths[k] - 1) + 1):
                bin_ = starts[k] + j * widths[k] + i
                members[cursor[bin_]] = f
                cursor[bin_] += 1


@kernel
def _side(ax, ay, bx, by, px, py):  # type: ignore[no-untyped-def]
    """Signed area of a, b, p; both triangles of a shared edge see the very same number.

    The ends are put in a fixed order, so rounding is the same from either side; a point exactly on
    the line counts as left of it in that order, so it belongs to one of the two triangles only.
    """
    if ax < bx or (ax == bx and ay < by):
        value = (bx - ax) * (py - ay) - (by - ay) * (px - ax)
        return value, value >= 0.0
    value = (ax - bx) * (py - by) - (ay - by) * (px - bx)
    return -value, not value >= 0.0


@kernel
def _height_at(vertices, faces, f, px, py):  # type: ignore[no-untyped-def]
    """Height of a face over a point of the plane, or nan where it does not cover it."""
    a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
    ax, ay = vertices[a, 0], vertices[a, 1]
    bx, by = vertices[b, 0], vertices[b, 1]
    w_c, left_c = _side(ax, ay, bx, by, px, py)
    cx, cy = vertices[c, 0], vertices[c, 1]
    w_a, left_a = _side(bx, by, cx, cy, px, py)
    if left_a != left_c:
        return np.nan
    w_b, left_b = _side(cx, cy, ax, ay, px, py)
    if left_b != left_a:
        return np.nan
    total = w_a + w_b + w_c
    if total == 0.0:
        return np.nan
    return (w_a * vertices[a, 2] + w_b * vertices[b, 2] + w_c * vertices[c, 2]) / total


@kernel
def _query(  # type: ignore[no-untyped-def]
    vertices, faces, origin, fine, widths, heights, starts, used, begin, members, points, slack, want, z, face
):  # type: ignore[no-untyped-def]
    """`want` 0: highest at all; 1: highest above the point; 2: highest below the point."""
    for n in range(points.shape[0]):
        px, py = points[n, 0], points[n, 1]
        best = -np.inf
        best_face = -1
        floor = points[n, 2] + slack if want == 1 else -np.inf
        ceiling = points[n, 2] - slack if want == 2 else np.inf
        for u in range(used.shape[0]):
            k = used[u]
            cell = fine * 2.0**k
            fx, fy = (px - origin[0]) / cell, (py - origin[1]) / cell
            if fx < 0.0 or fy < 0.0:
                continue
            i, j = int(fx), int(fy)
            if i >= widths[k] or j >= heights[k]:
                continue
            bin_ = starts[k] + j * widths[k] + i
            for m in range(begin[bin_], begin[bin_ + 1]):
                f = members[m]
                height = _height_at(vertices, faces, f, px, py)
                if height > floor and height < ceiling and height > best:
                    best = height
                    best_face = f
        z[n] = best
        face[n] = best_face


@dataclass(frozen=True, slots=True, eq=False, init=False)
class Columns:
    """Triangles binned for exact questions along +Z; open meshes are welcome.

    Building and asking both grow linearly with the number of faces and points. A face that stands
    exactly on edge covers nothing; a point exactly on a shared edge belongs to one face only.

    Attributes
    ----------
    mesh : the triangles
    slack_mm : heights closer than this count as equal (1e-9 of the greatest extent)
    """

    mesh: Mesh
    slack_mm: float
    _origin: NDArray[np.float64]
    _fine: float
    _widths: NDArray[np.int64]
    _heights: NDArray[np.int64]
    _starts: NDArray[np.int64]
    _used: NDArray[np.int64]
    _begin: NDArray[np.int64]
    _members: NDArray[np.int32]

    def __init__(self, mesh: Mesh) -> None:
        low, high = mesh.bounds
        extent = np.maximum(high - low, 1e-9)
        count = max(mesh.face_count, 1)
        fine = float(max(np.sqrt(extent[0] * extent[1] / count), max(extent[0], extent[1]) / 8192.0))
        steps = 2.0 ** np.arange(_LEVELS)
        widths = np.maximum(np.ceil(extent[0] / (fine * steps) + 1e-9), 1).astype(np.int64) + 1
        heights = np.maximum(np.ceil(extent[1] / (fine * steps) + 1e-9), 1).astype(np.int64) + 1
        starts = np.concatenate([[0], np.cumsum(widths * heights)]).astype(np.int64)
        level = np.zeros(mesh.face_count, np.int8)
        counts = np.zeros(starts[-1], np.int64)
        origin = np.ascontiguousarray(low[:2])
        grid = (mesh.vertices, mesh.faces, origin, fine, widths, heights, starts, level)
        _levels_and_counts(*grid, counts)
        begin = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
        members = np.empty(begin[-1], np.int32)
        _fill_bins(*grid, begin[:-1].copy(), members)
        for name, value in {
            "mesh": mesh,
            "slack_mm": 1e-9 * float(extent.max()),
            "_origin": origin,
            "_fine": fine,
            "_widths": widths,
            "_heights": heights,
            "_starts": starts,
            "_used": np.unique(level).astype(np.int64),
            "_begin": begin,
            "_members": members,
        }.items():
            object.__setattr__(self, name, value)

    def top(self, points_xy: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
        """Highest surface over points (N, 2) of the plane: height (N,) or -inf, face (N,) or -1."""
        points = np.zeros((len(points_xy), 3))
        points[:, :2] = points_xy[:, :2]
        return self._ask(points, 0)

    def above(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Height of the highest surface above each point (N, 3), -inf where the sky is open."""
        return self._ask(points, 1)[0]

    def below(self, points: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
        """Next surface under each point (N, 3): height (N,) or -inf, face (N,) or -1."""
        return self._ask(points, 2)

    def _ask(self, points: NDArray[np.float64], want: int) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
        asked = np.ascontiguousarray(points, dtype=np.float64)
        z = np.full(len(asked), _NOTHING)
        face = np.full(len(asked), -1, np.int32)
        _query(
            self.mesh.vertices,
            self.mesh.faces,
            self._origin,
            self._fine,
            self._widths,
            self._heights,
            self._starts,
            self._used,
            self._begin,
            self._members,
            asked,
            self.slack_mm,
            want,
            z,
            face,
        )
        return z, face
