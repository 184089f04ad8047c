"""Figures of a formed sheet: percentiles and the order of contact."""

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.steps import CLAMPED, Formed

__all__ = ["order_of_contact", "percentiles"]


def percentiles(
    values: NDArray[np.float64], weights: NDArray[np.float64], levels: tuple[float, ...]
) -> tuple[float, ...]:
    """Values below which so many per cent of the weight lie."""
    order = np.argsort(values)
    passed = np.cumsum(weights[order])
    places = np.searchsorted(passed, np.array(levels) / 100.0 * passed[-1])
    return tuple(float(values[order[min(int(k), len(order) - 1)]]) for k in places)


def order_of_contact(formed: Formed) -> NDArray[np.float64]:
    """Step of contact as a share of all steps; the landing counts, not the seconds."""
    order = formed.touched / max(len(formed.pressure_per_mm), 1)
    order[formed.state == CLAMPED] = -1.0
    order[~np.isfinite(formed.touched)] = np.nan
    return order
