"""A band between two rings, rolled out flat: the paper strip that goes round a wall."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

__all__ = ["FlatBand", "unrolled"]

_PARTS = 16  # pieces in which a step of the upper ring is looked at

type Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class FlatBand:
    """A band in the plane.

    Attributes
    ----------
    lower, upper : (K, 2) float64, mm, its edges; corner k of one lies across from corner k of the other
    way_mm : (K,) way along the lower ring to each corner; beyond the ring's length it overlaps
    length_mm : of the lower ring
    """

    lower: Points
    upper: Points
    way_mm: NDArray[np.float64]
    length_mm: float


def unrolled(lower: Points, upper: Points, *, overlap_mm: float = 0.0) -> FlatBand:
    """Roll out the band between two rings.

    Parameters
    ----------
    lower, upper : (N, 3) and (M, 3) float64, mm, closed and both counter-clockwise
    overlap_mm : how far the band goes on beyond its beginning

    Returns
    -------
    FlatBand : runs along +x on the whole

    Notes
    -----
    Each corner of the lower ring is joined to the nearest place of the upper one, never going back. The
    triangles between them are laid side by side in the plane without stretching any, so that a band on a wall
    that bends one way only comes out exactly; on others paper bridges what lies between the two rings.

    Examples
    --------
    >>> turn = np.linspace(0.0, 2.0 * np.pi, 400, endpoint=False)
    >>> ring = np.column_stack([10.0 * np.cos(turn), 10.0 * np.sin(turn), np.zeros(400)])
    >>> band = unrolled(ring, ring + [0.0, 0.0, 5.0])
    >>> [round(float(side), 1) for side in np.ptp(np.vstack([band.lower, band.upper]), axis=0)]
    [62.8, 5.0]
    """
    across = _across(lower, upper)
    steps = np.linalg.norm(np.roll(lower, -1, axis=0) - lower, axis=1)
    length = float(steps.sum())
    count = len(lower)
    around = np.arange(count + 1 + int(np.searchsorted(np.cumsum(steps), overlap_mm)) * (overlap_mm > 0.0))
    way = np.concatenate([[0.0], np.cumsum(steps[around[:-1] % count])])
    low, high = lower[around % count], across[around % count]
    flat_low, flat_high = _laid_out(low, high)
    turn = _turn(flat_low[: count + 1])
    return FlatBand(flat_low @ turn, flat_high @ turn, way, length)


def _across(lower: Points, upper: Points) -> Points:
    """(N, 3) a place of the upper ring for each corner of the lower one."""
    upper = _denser(upper)
    count = len(upper)
    near = np.asarray(cKDTree(upper).query(lower)[1], np.int64)
    steps = (np.diff(near) + count // 2) % count - count // 2
    ahead = near[0] + np.concatenate([[0], np.cumsum(steps)])
    forward = np.maximum.accumulate(ahead)
    found: Points = upper[np.minimum(forward, near[0] + count - 1) % count]
    return found


def _denser(ring: Points) -> Points:
    parts = np.arange(_PARTS)[None, :, None] / _PARTS
    ahead = np.roll(ring, -1, axis=0)
    found: Points = (ring[:, None] * (1.0 - parts) + ahead[:, None] * parts).reshape(-1, 3)
    return found


def _laid_out(low: Points, high: Points) -> tuple[Points, Points]:
    flat_low, flat_high = np.zeros((len(low), 2)), np.zeros((len(low), 2))
    flat_high[0] = (0.0, np.linalg.norm(high[0] - low[0]))
    for k in range(1, len(low)):
        flat_low[k] = _third(
            flat_low[k - 1],
            flat_high[k - 1],
            float(np.linalg.norm(low[k] - low[k - 1])),
            float(np.linalg.norm(low[k] - high[k - 1])),
        )
        flat_high[k] = _third(
            flat_low[k],
            flat_high[k - 1],
            float(np.linalg.norm(high[k] - low[k])),
            float(np.linalg.norm(high[k] - high[k - 1])),
        )
    return flat_low, flat_high


def _third(one: Points, other: Points, from_one: float, from_other: float) -> Points:
    """The third corner of a triangle, on the right of the way from one corner to the other."""
    way = other - one
    base = float(np.hypot(*way)) or 1e-12
    along = (from_one**2 - from_other**2 + base**2) / (2.0 * base)
    beside = np.sqrt(max(from_one**2 - along**2, 0.0))
    ahead = way / base
    found: Points = one + along * ahead + beside * np.array([ahead[1], -ahead[0]])
    return found


def _turn(lower: Points) -> Points:
    """What turns the band so that its ends lie level."""
    ahead = lower[-1] - lower[0]
    reach = float(np.hypot(*ahead))
    if reach < 1e-9:
        return np.eye(2)
    x, y = ahead / reach
    return np.array([[x, -y], [y, x]])
