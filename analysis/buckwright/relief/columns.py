"""Exact queries along the pull: what lies above, below or on top of a point.

All rays are parallel, so no tree is needed: triangles are binned on the plane, in coarse cells that are
each divided as finely as their own triangles require, so a dense face beside a plain board costs no
more than an even mesh. A cell keeps its triangles in layers from the top down, so most queries end
after a few of them. Everything is float64.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import in_parts, kernel
from buckwright.mesh.triangles import Mesh
from buckwright.relief.column_bins import LAYERS, cell_order, gather, layer_order, walk

__all__ = ["Columns", "bin_of", "height_at", "highest"]

_FACES_A_CELL = 40.0
_DIVISIONS_A_FACE = 0.05  # both chosen by timing the build and one query per face on sculpts of 1 M faces
_MOST_CELLS_A_SIDE = 4096
_MOST_DIVISIONS = 64
_MANY = 4096
_WORTH_A_THREAD = 1 << 13  # points; a query of so many takes some milliseconds


@kernel
def _side(ax, ay, bx, by):  # type: ignore[no-untyped-def]
    """On which side of an edge the origin lies, and the signed area it spans with it.

    Both triangles of a shared edge get the same number except for its sign, so no column slips through
    between them. An origin exactly on the line counts as moved by (-e^2, e), e infinitely small: it belongs
    to one triangle only, even at a vertex.
    """
    area = ax * by - ay * bx
    if area != 0.0:
        return area, area > 0.0
    return area, ax < bx or (ax == bx and ay < by)


@kernel
def height_at(corners, f, px, py):  # type: ignore[no-untyped-def]
    """Height of a triangle over a point of the plane, and whether it covers the point.

    Parameters
    ----------
    corners : (F, 9) float64, of the triangles
    f, px, py : which triangle, and the point
    """
    ax, ay = corners[f, 0] - px, corners[f, 1] - py
    bx, by = corners[f, 3] - px, corners[f, 4] - py
    w_c, left_c = _side(ax, ay, bx, by)
    cx, cy = corners[f, 6] - px, corners[f, 7] - py
    w_a, left_a = _side(bx, by, cx, cy)
    if left_a != left_c:
        return 0.0, False
    w_b, left_b = _side(cx, cy, ax, ay)
    total = w_a + w_b + w_c
    if left_b != left_a or total == 0.0:
        return 0.0, False
    return (w_a * corners[f, 2] + w_b * corners[f, 5] + w_c * corners[f, 8]) / total, True


@kernel
def bin_of(px, py, ox, oy, scale, columns, rows, divisions, starts):  # type: ignore[no-untyped-def]
    """The divided cell that a point of the plane is in, or -1.

    Parameters
    ----------
    px, py : the point
    ox, oy, scale, columns, rows, divisions, starts : the grid, see `Columns.table`
    """
    u, v = (px - ox) * scale, (py - oy) * scale
    if not (u >= 0.0 and v >= 0.0 and u < columns and v < rows):
        return -1
    i, j = int(u), int(v)
    cell = j * columns + i
    parts = divisions[cell]
    return starts[cell] + int((v - j) * parts) * parts + int((u - i) * parts)


@kernel
def highest(corners, tops, members, first, last, layer, px, py, floor, ceiling, any_will_do):  # type: ignore[no-untyped-def]
    """Height and number of the highest triangle of a bin over a point; the floor and -1 where there is none.

    Parameters
    ----------
    corners, tops, members, layer : see `Columns.table`
    first, last : where the bin begins and ends among the members
    px, py : the point
    floor, ceiling : between which it lies, without either
    any_will_do : whether the first that is found will do
    """
    found = -1
    for m in range(first, last):
        f = members[m]
        if tops[f] <= floor:
            if tops[f] < floor - layer:
                break
            continue
        height, covers = height_at(corners, f, px, py)
        if covers and floor < height < ceiling:
            floor, found = height, f
            if any_will_do:
                break
    return floor, found


@kernel
def _query(  # type: ignore[no-untyped-def]
    corners,
    tops,
    ids,
    ox,
    oy,
    scale,
    columns,
    rows,
    divisions,
    starts,
    begin,
    members,
    points,
    order,
    slack,
    layer,
    want,
    z,
    face,
):
    """`want` 0: highest at all; 1: highest above the point; 2: highest below it; 3: anything above it."""
    for step in range(order.shape[0] if order.shape[0] > 0 else points.shape[0]):
        n = order[step] if order.shape[0] else step
        px, py = points[n, 0], points[n, 1]
        bin_ = bin_of(px, py, ox, oy, scale, columns, rows, divisions, starts)
        if bin_ < 0:
            continue
        floor = points[n, 2] + slack if want in (1, 3) else -np.inf
        ceiling = points[n, 2] - slack if want == 2 else np.inf
        first, last = begin[bin_], begin[bin_ + 1]
        height, f = highest(corners, tops, members, first, last, layer, px, py, floor, ceiling, want == 3)
        if f >= 0:
            z[n] = height
            face[n] = ids[f]


@kernel
def _two_lowest(  # type: ignore[no-untyped-def]
    corners, ox, oy, scale, columns, rows, divisions, starts, begin, members, points, slack, z
):
    """The lowest surface over each point and the next above it; both stay infinite where there is none."""
    for n in range(points.shape[0]):
        px, py = points[n, 0], points[n, 1]
        bin_ = bin_of(px, py, ox, oy, scale, columns, rows, divisions, starts)
        if bin_ < 0:
            continue
        low, above = np.inf, np.inf
        for m in range(begin[bin_], begin[bin_ + 1]):
            height, covers = height_at(corners, members[m], px, py)
            if not covers:
                continue
            if height < low - slack:
                low, above = height, low
            elif low + slack < height < above:
                above = height
        z[n, 0], z[n, 1] = low, above


@dataclass(frozen=True, slots=True, eq=False, init=False)
class Columns:
    """Triangles binned for exact queries along +Z; open meshes are fine.

    Building and querying both grow linearly with the number of faces and points. A face that stands
    exactly on edge covers nothing; a point exactly on a shared edge belongs to one face only.

    Attributes
    ----------
    mesh : the triangles
    slack_mm : heights closer than this count as equal (1e-9 of the largest extent)

    Examples
    --------
    >>> import numpy as np
    >>> import trimesh
    >>> box = trimesh.creation.box((10.0, 10.0, 10.0))
    >>> columns = Columns(Mesh.from_arrays(box.vertices, box.faces))
    >>> height, face = columns.top(np.array([(1.0, 2.0), (9.0, 0.0)]))
    >>> height.tolist(), (face >= 0).tolist()
    ([5.0, -inf], [True, False])
    >>> columns.below(np.array([(1.0, 2.0, 4.0)]))[0].tolist()
    [-5.0]
    """

    mesh: Mesh
    slack_mm: float
    _corners: NDArray[np.float64]
    _tops: NDArray[np.float64]
    _layer: float
    _ids: NDArray[np.int32]
    _grid: tuple[float, float, float, int, int]
    _divisions: NDArray[np.int32]
    _starts: NDArray[np.int64]
    _begin: NDArray[np.int64]
    _members: NDArray[np.int32]

    def __init__(self, mesh: Mesh) -> None:
        low, high = mesh.bounds
        extent = np.maximum(high - low, 1e-9)
        grid = _grid_for(low, extent, mesh.face_count)
        corners, tops, ids = _in_cell_order(mesh, grid)
        columns, rows = grid[3:]
        counts = np.zeros(columns * rows, np.int64)
        none = np.empty(0, np.int32)
        layer = float(extent[2]) / LAYERS * (1.0 + 1e-9)
        order = layer_order(tops, float(high[2]), layer)
        walk(corners, order, *grid, none, counts, counts, none, 0)
        wanted = np.ceil(np.sqrt(counts * _DIVISIONS_A_FACE))
        divisions = np.clip(wanted, 1, _MOST_DIVISIONS).astype(np.int32)
        starts = np.concatenate([[0], np.cumsum(divisions.astype(np.int64) ** 2)])
        counts = np.zeros(starts[-1], np.int64)
        walk(corners, order, *grid, divisions, starts, counts, none, 1)
        begin = np.concatenate([[0], np.cumsum(counts)])
        members = np.empty(begin[-1], np.int32)
        walk(corners, order, *grid, divisions, starts, begin[:-1].copy(), members, 2)
        for name, value in {
            "mesh": mesh,
            "slack_mm": 1e-9 * float(extent.max()),
            "_corners": corners,
            "_tops": tops,
            "_layer": layer * (1.0 + 1e-9),
            "_ids": ids,
            "_grid": grid,
            "_divisions": divisions,
            "_starts": starts,
            "_begin": begin,
            "_members": members,
        }.items():
            object.__setattr__(self, name, value)

    @property
    def table(self) -> tuple[Any, ...]:
        """What a kernel needs to ask for itself.

        Corners, highest corners, grid, divisions, starts, begin and members of the bins; then the slack and
        the height of a layer, mm.
        """
        bins = (self._divisions, self._starts, self._begin, self._members)
        return (self._corners, self._tops, self._grid, *bins, self.slack_mm, self._layer)

    def top(self, points_xy: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
        """Highest surface over points of the plane.

        Parameters
        ----------
        points_xy : (N, 2 or more) float64, mm; only x and y are used

        Returns
        -------
        (N,) float64, (N,) int32 : height, mm, or -inf, and face or -1
        """
        return self._ask(points_xy, 0)

    def above(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Height of the highest surface above each point.

        Parameters
        ----------
        points : (N, 3) float64, mm

        Returns
        -------
        (N,) float64, mm; -inf where the sky is open
        """
        return self._ask(points, 1)[0]

    def below(self, points: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
        """Next surface below each point.

        Parameters
        ----------
        points : (N, 3) float64, mm

        Returns
        -------
        (N,) float64, (N,) int32 : height, mm, or -inf, and face or -1
        """
        return self._ask(points, 2)

    def clear(self, points: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Whether nothing lies above each point; faster than `above`.

        Parameters
        ----------
        points : (N, 3) float64, mm

        Returns
        -------
        (N,) bool
        """
        free: NDArray[np.bool_] = self._ask(points, 3)[1] < 0
        return free

    def two_lowest(self, points_xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Lowest surface over points of the plane and the next above it.

        Parameters
        ----------
        points_xy : (N, 2 or more) float64, mm; only x and y are used

        Returns
        -------
        (N, 2) float64, mm; inf where there is none
        """
        asked = np.ascontiguousarray(points_xy, dtype=np.float64)
        z = np.full((len(asked), 2), np.inf)
        table = (self._corners, *self._grid, self._divisions, self._starts, self._begin, self._members)

        def work(begin: int, end: int) -> None:
            _two_lowest(*table, asked[begin:end], self.slack_mm, z[begin:end])

        in_parts(work, len(asked), least=_WORTH_A_THREAD)
        return z

    def _ask(self, points: NDArray[np.float64], want: int) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
        asked = np.ascontiguousarray(points, dtype=np.float64)
        z = np.full(len(asked), -np.inf)
        face = np.full(len(asked), -1, np.int32)
        # many queries are run cell by cell, so that what one has fetched serves the next
        many = len(asked) > _MANY
        order = cell_order(asked[:, 0], asked[:, 1], *self._grid) if many else np.empty(0, np.int32)
        table = (self._corners, self._tops, self._ids, *self._grid, self._divisions, self._starts)
        table_and_bins = (*table, self._begin, self._members)

        def work(begin: int, end: int) -> None:
            part = order[begin:end] if many else order
            _query(*table_and_bins, asked, part, self.slack_mm, self._layer, want, z, face)

        if many:
            in_parts(work, len(asked), least=_WORTH_A_THREAD)
        else:
            work(0, len(asked))
        return z, face


def _grid_for(
    low: NDArray[np.float64], extent: NDArray[np.float64], faces: int
) -> tuple[float, float, float, int, int]:
    """Corner, cells per mm, columns and rows of the coarse grid."""
    cells = max(faces / _FACES_A_CELL, 1.0)
    side = max(math.sqrt(extent[0] * extent[1] / cells), extent[:2].max() / _MOST_CELLS_A_SIDE)
    columns, rows = (int(span / side * (1.0 + 1e-12)) + 1 for span in extent[:2])
    return float(low[0]), float(low[1]), 1.0 / side, columns, rows


def _in_cell_order(
    mesh: Mesh, grid: tuple[float, float, float, int, int]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int32]]:
    """Corners (F, 9), highest corner (F,) and number (F,) of the faces, neighbours in the plane together."""
    first = mesh.vertices[mesh.faces[:, 0]] if mesh.face_count else np.zeros((0, 3))
    ids = cell_order(first[:, 0], first[:, 1], *grid)
    corners = np.empty((mesh.face_count, 9))
    tops = np.empty(mesh.face_count)
    gather(mesh.vertices, mesh.faces, ids, corners, tops)
    return corners, tops, ids
