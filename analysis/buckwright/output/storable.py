"""The mesh as a file can hold it: STL and 3MF keep single-precision numbers, so round on purpose."""

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh

__all__ = ["GRID_MM", "storable"]

GRID_MM = 2.0**-16
"""Spacing of the grid, 0.000015 mm: 24 bits of mantissa hold it exactly up to 256 mm from the origin."""


def storable(mesh: Mesh) -> Mesh:
    """Round the corners to what single precision holds, weld those that meet, drop what vanishes.

    Parameters
    ----------
    mesh : triangles, mm

    Returns
    -------
    The same surface within 0.00001 mm (up to 256 mm from the origin; half a step of single precision
    beyond). Faces keep their order.

    Notes
    -----
    Left to the writers, two corners closer than the rounding would become one point with two numbers
    and a reader that welds by position would find other edges than were written. Welding here makes
    every reader see the same topology. Two faces that fall together back to back enclose nothing and go
    too: left in, their edges would belong to four faces. Identical corners and faces are found by
    sorting, O(V log V).
    """
    rounded = (np.round(mesh.vertices / GRID_MM) * GRID_MM).astype(np.float32) + np.float32(0.0)
    first, index = _weld(rounded)
    faces = index[mesh.faces]
    whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    kept = faces if whole.all() else _without_pairs(faces[whole])
    return Mesh(rounded[first].astype(np.float64), np.ascontiguousarray(kept, dtype=np.int32))


def _without_pairs(faces: NDArray[np.int32]) -> NDArray[np.int32]:
    """Take out faces on the same three corners that look opposite ways, one against one."""
    if not len(faces):
        return faces
    # With the lowest corner first, a face reads low-middle-high one way and low-high-middle the other.
    turned = faces[np.arange(len(faces))[:, None], (faces.argmin(axis=1)[:, None] + [0, 1, 2]) % 3]
    reverse = turned[:, 1] > turned[:, 2]
    corners = np.where(reverse[:, None], turned[:, [0, 2, 1]], turned)
    group = np.unique(corners, axis=0, return_inverse=True)[1].reshape(-1)
    rank = _rank_within(2 * group + reverse)
    count = np.bincount(2 * group + reverse, minlength=2 * (int(group.max()) + 1)).reshape(-1, 2)
    kept: NDArray[np.int32] = faces[rank >= count.min(axis=1)[group]]
    return kept


def _rank_within(group: NDArray[np.int64]) -> NDArray[np.int64]:
    """How many entries of the same group came before each entry."""
    order = np.argsort(group, kind="stable")
    ordered = group[order]
    starts = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]]))
    lengths = np.diff(np.append(starts, len(group)))
    rank = np.empty(len(group), np.int64)
    rank[order] = np.arange(len(group)) - np.repeat(starts, lengths)
    return rank


def _weld(points: NDArray[np.float32]) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Give equal points one number; numbers follow the order of first appearance."""
    order = np.lexsort((points[:, 2], points[:, 1], points[:, 0]))
    ordered = points[order]
    starts = np.ones(len(points), bool)
    starts[1:] = (ordered[1:] != ordered[:-1]).any(axis=1)
    group = np.cumsum(starts) - 1
    # lexsort is stable, so the first of each group is the one that came first.
    head = order[starts]
    rank = np.empty(len(head), np.int32)
    by_appearance = np.argsort(head, kind="stable")
    rank[by_appearance] = np.arange(len(head), dtype=np.int32)
    index = np.empty(len(points), np.int32)
    index[order] = rank[group]
    return head[by_appearance], index
