"""Why the sheet stays bridged over a place in spite of the vents."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from buckwright.findings import at_words
from buckwright.forming.forecast.result import Forecast
from buckwright.forming.forecast.thresholds import SEEN_MM3

__all__ = ["cause_of"]


def cause_of(
    number: int,
    *,
    forecast: Forecast,
    vented: Forecast,
    tops_mm: NDArray[np.float64],
    under: NDArray[np.bool_],
    dropped: Sequence[tuple[float, float, float, int, str]],
) -> str:
    """What keeps the air of one pool from leaving, in words.

    Parameters
    ----------
    number : of the pool, in `vented`
    forecast, vented : in which air leaves everywhere, and by the vents only
    tops_mm : (V, 3) vents
    under : (V,) bool, those that lie under it
    dropped : x, y, z, pocket and why, of places without a vent

    Returns
    -------
    str

    Notes
    -----
    In this order: a vent opens under it, so the sheet has sealed that one; a vent was wanted there and does
    not fit; it reaches down to the foot, whose vents are elsewhere; as much air was to be expected, and its
    vent is elsewhere, so the sheet has closed the way to it; or so little was that no vent was wanted.
    """
    over = vented.points[vented.trapped_air[number].region, :2]
    if under.any():
        vent = tops_mm[np.flatnonzero(under)[0]]
        return f"the sheet seals its vent at {at_words(tuple(vent))} before all the air is out"
    for *spot, _, why in dropped:
        if _away_mm(over, np.array([spot]))[0] < vented.settings.cell_mm:
            return f"the vent wanted there was not made: {why}"
    if not len(tops_mm):
        return "there is no vent"
    away = f"{_away_mm(over, tops_mm).min():.0f} mm"
    if vented.trapped_air[number].sealed_share >= 1.0:  # the foot counts as open to the end
        return (
            f"it reaches down to the foot, and the sheet closes the way to the nearest vent there, {away} off"
        )
    if forecast.trapped_air_over(over).any():
        return f"the sheet closes the way to the nearest vent, {away} off"
    return (
        f"it shuts in less than {SEEN_MM3 / 1000.0:g} ml where air leaves everywhere, too little for a vent; "
        f"the nearest is {away} off"
    )


def _away_mm(over: NDArray[np.float64], places: NDArray[np.float64]) -> NDArray[np.float64]:
    """Distance in plan of each place from the nearest node of a pool."""
    apart = places[:, None, :2] - over[None]
    return np.asarray(np.linalg.norm(apart, axis=2).min(axis=1))
