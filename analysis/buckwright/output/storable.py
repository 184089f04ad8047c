"""The mesh as a file can hold it: STL and 3MF keep single-precision numbers, so round on purpose."""

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh

__all__ = ["GRID_MM", "storable"]

GRID_MM = 2.0**-16
"""Spacing of the grid, 0.000015 mm: 24 bits of mantissa hold it exactly up to 256 mm from the origin."""


def storable(mesh: Mesh) -> Mesh:
    """Round the corners to what single precision holds, weld those that meet, drop faces that vanish.

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
    every reader see the same topology. Identical corners are found by sorting, O(V log V).
    """
    rounded = (np.round(mesh.vertices / GRID_MM) * GRID_MM).astype(np.float32) + np.float32(0.0)
    first, index = _weld(rounded)
    faces = index[mesh.faces]
    whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    kept = faces if whole.all() else faces[whole]
    return Mesh(rounded[first].astype(np.float64), np.ascontiguousarray(kept, dtype=np.int32))


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
