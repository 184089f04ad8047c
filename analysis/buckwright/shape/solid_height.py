"""How high the solid rises unbroken from the platen, by exact column queries."""

import numpy as np
from numpy.typing import NDArray

from buckwright.relief.columns import Columns

__all__ = ["solid_height"]

PLATEN_MM = 1e-3
"""A lowest surface higher than this is not the underside but an overhang."""


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
    """
    lowest, above = columns.two_lowest(points_xy).T
    solid: NDArray[np.float64] = np.where((np.abs(lowest) <= PLATEN_MM) & np.isfinite(above), above, -np.inf)
    return solid
