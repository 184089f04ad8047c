"""Splitting triangles into four, with their neighbours halved so that no node hangs on a side."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.adjacency import edge_table

__all__ = ["Split", "split_triangles"]


@dataclass(frozen=True, slots=True, eq=False)
class Split:
    """A finer mesh; its nodes are the old ones, then a new one in the middle of each split side.

    Attributes
    ----------
    ends : (M, 2) int32, ends of the split sides
    triangles : (T, 3) int32, of the finer mesh
    parents : (T,) int64, the triangle that each comes from
    """

    ends: NDArray[np.int32]
    triangles: NDArray[np.int32]
    parents: NDArray[np.int64]


def split_triangles(triangles: NDArray[np.int32], marked: NDArray[np.bool_], *, count: int) -> Split:
    """Split the marked triangles into four.

    Parameters
    ----------
    triangles : (T, 3) int32
    marked : (T,) bool
    count : number of nodes

    Returns
    -------
    Split

    Notes
    -----
    A triangle with one split side is halved, one with two is split into four, which may spread (red-green
    refinement; Bank, Sherman & Weiser 1983, from memory).
    """
    table = edge_table(triangles)
    side_of = np.empty(3 * len(triangles), np.int64)
    side_of[table.half_edges] = np.repeat(np.arange(len(table.edges)), table.face_count)
    sides = side_of.reshape(-1, 3)  # side k runs from corner k to the next
    cut = np.zeros(len(table.edges), np.bool_)
    cut[sides[marked]] = True
    while (two := cut[sides].sum(1) == 2).any():
        cut[sides[two]] = True
    number = np.full(len(table.edges), -1, np.int64)
    number[cut] = count + np.arange(int(cut.sum()))
    middle = number[sides]
    cuts = (middle >= 0).sum(1)
    made = [(triangles[cuts == 0], np.flatnonzero(cuts == 0)), *_quartered(triangles, middle, cuts == 3)]
    for k in range(3):
        made += _halved(triangles, middle, (cuts == 1) & (middle[:, k] >= 0), k)
    finer = np.concatenate([corners for corners, _ in made]).astype(np.int32)
    parents = np.concatenate([parent for _, parent in made])
    order = np.argsort(finer.min(1), kind="stable")  # neighbours next to each other in memory
    return Split(table.edges[cut], np.ascontiguousarray(finer[order]), parents[order])


type _Part = tuple[NDArray[np.int32], NDArray[np.int64]]


def _quartered(
    triangles: NDArray[np.int32], middle: NDArray[np.int64], which: NDArray[np.bool_]
) -> list[_Part]:
    (i, j, k), (a, b, c) = triangles[which].T, middle[which].T
    parts = ((i, a, c), (a, j, b), (c, b, k), (a, b, c))
    return [(np.stack(part, 1), np.flatnonzero(which)) for part in parts]


def _halved(
    triangles: NDArray[np.int32], middle: NDArray[np.int64], which: NDArray[np.bool_], side: int
) -> list[_Part]:
    i, j, k = (triangles[which, (side + n) % 3] for n in range(3))
    m = middle[which, side]
    return [(np.stack(part, 1), np.flatnonzero(which)) for part in ((i, m, k), (m, j, k))]
