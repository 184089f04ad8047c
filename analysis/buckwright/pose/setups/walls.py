"""The two sides of the walls of a shell: a part shows one of them, so losing the other loses nothing."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError, cKDTree

__all__ = ["NO_WALLS", "Walls", "is_thin", "may_be_shell", "walls_of"]

# Walls of masks, helmets and armour as they are modelled for printing are 2 to 5 mm, on sculpts of 80 to 300
# mm: common practice, no source. A share of the size, so that it does not hang on the unit.
_THICK = 0.06
# Volume over the area of a hollow's walls, as a share of the size of the hull: more is no shell, but a solid
# with a hollow. House rule.
_THIN = 0.08
# Normals of the two sides differ by more than 120 degrees: judgement.
_FACING = -0.5
# So many spacings of the points may the other side's lie beside the normal: within that there is one.
_BESIDE = 1.5
# Whoever looks at a mask sees its outside: the inside can stand for it by half only. House rule.
_INSIDE_FOR_OUTSIDE = 0.5
# Of some 16,000 points about 50 lie as near as the other side of the thickest wall.
_NEIGHBOURS = 64


@dataclass(frozen=True, slots=True, eq=False)
class Walls:
    """Points of a shell in pairs.

    Attributes
    ----------
    other : (N,) int64, the point across the wall; -1 where there is none
    stands_for : (N,) float64, 0 to 1, how far that point makes good for this one, where it shows
    """

    other: NDArray[np.int64]
    stands_for: NDArray[np.float64]


NO_WALLS = Walls(np.zeros(0, np.int64), np.zeros(0))
"""Of a body that is no shell."""


def may_be_shell(volume_mm3: float, area_mm2: float, *, hull_mm3: float) -> bool:
    """Whether a solid with so much surface round so little volume may be a shell; quick to ask.

    Parameters
    ----------
    volume_mm3, area_mm2 : of the solid
    hull_mm3 : volume of its convex hull

    Examples
    --------
    A ball of 100 mm is none, with a hollow of 90 mm in it it is:

    >>> may_be_shell(523_600.0, 31_416.0, hull_mm3=523_600.0)
    False
    >>> may_be_shell(141_900.0, 56_863.0, hull_mm3=523_600.0)
    True
    """
    # the inside of a shell has no more surface than its outside
    return is_thin(volume_mm3, area_mm2 / 2.0, hull_mm3)


def is_thin(volume_mm3: float, walls_mm2: float, hull_mm3: float) -> bool:
    """Whether a volume with walls of that area on one side is thin for the size of its hull."""
    return bool(volume_mm3 <= _THIN * hull_mm3 ** (1.0 / 3.0) * walls_mm2)


def walls_of(
    places: NDArray[np.float64],
    normals: NDArray[np.float64],
    detail: NDArray[np.float64],
    *,
    spacing_mm: float,
    size_mm: float,
) -> Walls:
    """Find for each point the one across its wall.

    Parameters
    ----------
    places, normals : (N, 3) float64, mm and unit vectors, spread over a closed surface
    detail : (N,) float64, > 0
    spacing_mm : side of the square for which a point stands
    size_mm : of the sculpt; walls are up to 0.06 of it thick

    Returns
    -------
    Walls

    Notes
    -----
    Straight across, as nearly as the points allow. What has more detail than the other side is made good by
    that share only, and an outside (nearer to the convex hull along its normal) by half: a mask that is
    pulled inside out shows its features from behind.
    """
    away, near = cKDTree(places).query(
        places, k=min(_NEIGHBOURS, len(places)), distance_upper_bound=_THICK * size_mm + spacing_mm
    )
    there = np.isfinite(away)
    near = np.where(there, near, 0)
    way = places[near] - places[:, None, :]
    across = -np.einsum("nkc,nc->nk", way, normals)
    beside = np.sqrt(np.maximum(np.where(there, away, 0.0) ** 2 - across**2, 0.0))
    facing = np.einsum("nkc,nc->nk", normals[near], normals) < _FACING
    fits = there & facing & (across > 0.0) & (across <= _THICK * size_mm) & (beside <= _BESIDE * spacing_mm)
    cost = np.where(fits, across + beside, np.inf)
    best = cost.argmin(axis=1)
    rows = np.arange(len(places))
    paired = np.isfinite(cost[rows, best])
    other = np.where(paired, near[rows, best], -1).astype(np.int64)
    out = _out_mm(places, normals)
    share = np.where(out <= out[other], _INSIDE_FOR_OUTSIDE, 1.0)
    stands_for = np.where(paired, share * np.minimum(detail[other] / detail, 1.0), 0.0)
    return Walls(other, stands_for)


def _out_mm(places: NDArray[np.float64], normals: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far it is from each point along its normal to the convex hull; 0 for what is flat."""
    try:
        planes = np.unique(np.round(ConvexHull(places).equations, 6), axis=0)
    except (QhullError, ValueError):
        return np.zeros(len(places))
    out = np.full(len(places), np.inf)
    for plane in planes:
        towards = normals @ plane[:3]
        left = -(places @ plane[:3] + plane[3])
        ahead = towards > 1e-9
        out[ahead] = np.minimum(out[ahead], np.maximum(left[ahead], 0.0) / towards[ahead])
    return out
