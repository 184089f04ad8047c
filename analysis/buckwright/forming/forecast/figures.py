"""Figures of a formed sheet: percentiles and the order of contact."""

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.formed import CLAMPED, Formed

__all__ = ["order_of_contact", "percentiles"]


def percentiles(
    values: NDArray[np.float64], weights: NDArray[np.float64], levels: tuple[float, ...]
) -> tuple[float, ...]:
    """Values below which given percentages of the weight lie.

    Parameters
    ----------
    values, weights : (N,) float64, N >= 1; weights >= 0, not all 0
    levels : per cent, 0 to 100

    Returns
    -------
    tuple of float : one value per level, each one of `values`

    Examples
    --------
    >>> import numpy as np
    >>> percentiles(np.array([3.0, 1.0, 2.0]), np.ones(3), (5, 50, 95))
    (1.0, 2.0, 3.0)
    """
    order = np.argsort(values)
    passed = np.cumsum(weights[order])
    places = np.searchsorted(passed, np.array(levels) / 100.0 * passed[-1])
    return tuple(float(values[order[min(int(k), len(order) - 1)]]) for k in places)


def order_of_contact(formed: Formed) -> NDArray[np.float64]:
    """Step of contact as a share of all steps; the moment of landing counts, not the seconds.

    Parameters
    ----------
    formed : the run

    Returns
    -------
    (N,) float64, 0 to 1; -1 in the frame, nan where the sheet never arrives
    """
    order = formed.touched / max(len(formed.pressure_per_mm), 1)
    order[formed.state == CLAMPED] = -1.0
    order[~np.isfinite(formed.touched)] = np.nan
    return order
