"""Which points lie within an outline, seen down the pull."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["within"]


def within(points: NDArray[np.float64], rings: Sequence[NDArray[np.float64]]) -> NDArray[np.bool_]:
    """Tell which points lie within an outline; on its line either may be told.

    Parameters
    ----------
    points : (N, 2 or more) float64, mm; only x and y count
    rings : (M, 2) float64 each, mm; a ring within another is a hole

    Returns
    -------
    (N,) bool

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 9.0]])
    >>> within(np.array([[1.0, 1.0], [5.0, 5.0], [10.0, 5.0]]), [square, square / 3.0]).tolist()
    [False, True, False]
    """
    from matplotlib.path import Path

    inside = np.zeros(len(points), np.bool_)
    for ring in rings:
        inside ^= Path(ring).contains_points(points[:, :2])
    return inside
