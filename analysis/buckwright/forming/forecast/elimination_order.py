"""The order in which the nodes of a sheet are eliminated, and the pattern of its matrices in that order."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.node_graph import neighbours_of
from buckwright.kernel import kernel
from buckwright.mesh.adjacency import edge_table

__all__ = ["Net", "dissected", "net_of"]

_SMALL = 24


@dataclass(frozen=True, slots=True, eq=False)
class Net:
    """Pattern of the matrix of a triangle mesh, by columns, rows rising within each.

    Attributes
    ----------
    order : (N,) int64, node of each row and column
    start : (N + 1,) int64, the entries of column c are start[c] to start[c + 1]
    rows, columns : (E,) int32, of each entry
    slot : (9T,) int64, the entry to which the corners i, j of triangle t add, at 9 t + 3 i + j
    """

    order: NDArray[np.int64]
    start: NDArray[np.int64]
    rows: NDArray[np.int32]
    columns: NDArray[np.int32]
    slot: NDArray[np.int64]


def net_of(points: NDArray[np.float64], triangles: NDArray[np.int32]) -> Net:
    """Order and pattern of a flat mesh.

    Parameters
    ----------
    points : (N, 2) float64, mm
    triangles : (T, 3) int32

    Returns
    -------
    Net
    """
    count = len(points)
    order = dissected(points, edge_table(triangles).edges)
    place = np.empty(count, np.int64)
    place[order] = np.arange(count)
    corners = place[triangles]
    rows, columns = np.repeat(corners, 3, axis=1).ravel(), np.tile(corners, (1, 3)).ravel()
    found, slot = np.unique(columns * count + rows, return_inverse=True)
    columns, rows = np.divmod(found, count)
    start = np.searchsorted(columns, np.arange(count + 1))
    return Net(order, start, rows.astype(np.int32), columns.astype(np.int32), slot)


@kernel
def _touching(begin, neighbours, nodes, side):  # type: ignore[no-untyped-def]
    """Whether each of the nodes has a neighbour that is marked in `side`."""
    out = np.zeros(nodes.shape[0], np.bool_)
    for n in range(nodes.shape[0]):
        for k in range(begin[nodes[n]], begin[nodes[n] + 1]):
            if side[neighbours[k]]:
                out[n] = True
                break
    return out


def dissected(points: NDArray[np.float64], ends: NDArray[np.int32]) -> NDArray[np.int64]:
    """Elimination order that keeps the factor of the mesh sparse: both halves first, their separator last.

    Parameters
    ----------
    points : (N, 2) float64, mm
    ends : (E, 2) int32, neighbours

    Returns
    -------
    (N,) int64, a permutation of the nodes

    Notes
    -----
    Nested dissection (A. George, SIAM J. Numer. Anal. 10, 1973): the longer side is cut at its median, and
    the nodes of one half that have a neighbour in the other form the separator. Compared with minimum degree
    the factor has a quarter fewer entries at 80,000 nodes and costs half the time.
    """
    begin, neighbours = neighbours_of(ends, len(points))
    side = np.zeros(len(points), np.bool_)

    def split(nodes: NDArray[np.int64]) -> list[NDArray[np.int64]]:
        if len(nodes) <= _SMALL:
            return [nodes]
        here = points[nodes]
        along = here[:, int(np.argmax(np.ptp(here, axis=0)))]
        far = along > np.median(along)
        if not far.any():
            return [nodes]
        near, other = nodes[~far], nodes[far]
        side[other] = True
        parting = _touching(begin, neighbours, near, side)
        side[other] = False
        return [*split(near[~parting]), *split(other), near[parting]]

    return np.concatenate(split(np.arange(len(points))))
