"""How high the solid rises unbroken from the platen, by exact column queries."""

import numpy as np
from numpy.typing import NDArray

from buckwright.relief.columns import Columns

__all__ = ["solid_height"]

PLATEN_MM = 1e-3
"""A lowest surface higher than this is not the underside but an overhang."""
MOST_LAYERS = 64
"""Surfaces followed down a column before it is given up as not solid; only a guard."""


def solid_height(columns: Columns, points_xy: NDArray[np.float64]) -> NDArray[np.float64]:
    """Height of the first surface above the underside, per point.

    Parameters
    ----------
    columns : Columns
        Of a closed solid that stands on z = 0.
    points_xy : (N, 2 or more) float64, mm

    Returns
    -------
    (N,) float64, mm
        The solid fills the column from z = 0 to here; -inf where the column is empty or hollow at the platen.

    Notes
    -----
    Steps down from the top surface to the last but one; the last is the underside.
    """
    height, _ = columns.top(points_xy)
    lowest = height.copy()
    before = np.full(len(height), -np.inf)
    active = np.flatnonzero(np.isfinite(height))
    for _ in range(MOST_LAYERS):
        if not len(active):
            break
        asked = np.column_stack([points_xy[active, :2], lowest[active]])
        below, _ = columns.below(asked)
        found = np.isfinite(below)
        active = active[found]
        before[active] = lowest[active]
        lowest[active] = below[found]
    before[active] = -np.inf
    before[~(np.abs(lowest) <= PLATEN_MM)] = -np.inf
    return before
