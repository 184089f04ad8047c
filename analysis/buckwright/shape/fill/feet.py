"""Feet of walls: where, along given ways, the draft envelope comes down to the sculpt."""

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import in_parts, kernel
from buckwright.relief.columns import Columns, bin_of, height_at, highest
from buckwright.shape.fill.cones import ConeField, rising

__all__ = ["nearer_feet"]

_WORTH_A_THREAD = 1 << 11  # ways; to halve so many takes some milliseconds


def nearer_feet(
    filled: NDArray[np.float64],
    bare: NDArray[np.float64],
    field: ConeField,
    columns: Columns,
    *,
    over_mm: float,
    halvings: int,
) -> NDArray[np.float64]:
    """Halve ways between a filled and a bare place.

    Parameters
    ----------
    filled, bare : (N, 2) float64, mm, ends of each way
    field : the envelope
    columns : of the sculpt, which stands on z = 0
    over_mm : a place is filled where the envelope rises over sculpt and platen by more than this
    halvings : how often, >= 0

    Returns
    -------
    (N, 2) float64, mm : the bare ends, moved up to the foot

    Notes
    -----
    Whether a place is filled needs only one cone that rises high enough, and neighbouring places mostly have
    the same cone and the same face on top, so those are tried first.
    """
    inner, outer = filled.copy(), np.ascontiguousarray(bare, dtype=np.float64).copy()

    def work(begin: int, end: int) -> None:
        _halve(columns.table, field.tree, inner[begin:end], outer[begin:end], over_mm, halvings)

    in_parts(work, len(inner), least=_WORTH_A_THREAD)
    return outer


@kernel
def _halve(table, tree, filled, bare, over, halvings):  # type: ignore[no-untyped-def]
    stack = np.empty(128, np.int64)
    face, cone = -1, -1
    for n in range(filled.shape[0]):
        for _ in range(halvings):
            px, py = (filled[n, 0] + bare[n, 0]) * 0.5, (filled[n, 1] + bare[n, 1]) * 0.5
            top, face = _top(table, px, py, face)
            found = rising(tree, px, py, max(top, 0.0) + over, cone, stack)
            if found >= 0:
                cone = found
                filled[n, 0], filled[n, 1] = px, py
            else:
                bare[n, 0], bare[n, 1] = px, py


@kernel
def _top(table, px, py, likely):  # type: ignore[no-untyped-def]
    """Height of the highest surface over a point, or -inf, and its face; `likely` (or -1) is tried first."""
    corners, tops, grid, divisions, starts, begin, members, _, layer = table
    floor = -np.inf
    if likely >= 0:
        height, covers = height_at(corners, likely, px, py)
        if covers:
            floor = height
    ox, oy, scale, columns, rows = grid
    bin_ = bin_of(px, py, ox, oy, scale, columns, rows, divisions, starts)
    if bin_ < 0:
        return -np.inf, likely
    first, last = begin[bin_], begin[bin_ + 1]
    height, face = highest(corners, tops, members, first, last, layer, px, py, floor, np.inf, False)
    return height, face if face >= 0 else likely
