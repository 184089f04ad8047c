"""What stands between bucks: webs, and how far down the sheet comes."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

__all__ = ["Bridge", "bridges", "lie_between"]

_STEP_MM = 1.0

type Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Bridge:
    """How far down the sheet comes between two bucks.

    Attributes
    ----------
    first, second : numbers of the bucks, from 1
    apart_mm : clear distance of their bases
    at_mm : (x, y) half-way between the nearest places of their bases
    lowest_mm : the sheet over the platen there
    """

    first: int
    second: int
    apart_mm: float
    at_mm: tuple[float, float]
    lowest_mm: float

    def to_dict(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "bucks": [self.first, self.second],
            "apart_mm": self.apart_mm,
            "at_mm": list(self.at_mm),
            "lowest_mm": self.lowest_mm,
        }


def lie_between(places: Points, bases: Sequence[Points], within_mm: float) -> NDArray[np.bool_]:
    """Which places lie between two bucks.

    Parameters
    ----------
    places : (N, 2) mm
    bases : outline of each base, (M, 2) each
    within_mm : how near both bases must be

    Returns
    -------
    (N,) bool : the second nearest base is no farther than that
    """
    if not len(places) or len(bases) < 2:
        return np.zeros(len(places), np.bool_)
    away = np.sort([cKDTree(_denser(base)).query(places)[0] for base in bases], axis=0)
    found: NDArray[np.bool_] = away[1] <= within_mm
    return found


def bridges(points: Points, bases: Sequence[Points], within_mm: float) -> tuple[Bridge, ...]:
    """How far the sheet comes down between each two bucks that stand side by side.

    Parameters
    ----------
    points : (N, 3) nodes of the formed sheet, mm over the platen
    bases : outline of each base, (M, 2) each
    within_mm : bases farther apart are no neighbours

    Returns
    -------
    tuple of Bridge, those first where the sheet stays highest
    """
    dense = [_denser(base) for base in bases]
    tree, found = cKDTree(points[:, :2]), []
    for one in range(len(dense)):
        for other in range(one + 1, len(dense)):
            away, near = (np.asarray(part) for part in cKDTree(dense[other]).query(dense[one]))
            k = int(np.argmin(away))
            if away[k] > within_mm:
                continue
            middle = (dense[one][k] + dense[other][near[k]]) / 2.0
            level = float(points[int(np.asarray(tree.query(middle)[1])), 2])
            found.append(
                Bridge(one + 1, other + 1, float(away[k]), (float(middle[0]), float(middle[1])), level)
            )
    return tuple(sorted(found, key=lambda bridge: -bridge.lowest_mm))


def _denser(ring: Points) -> Points:
    """The outline with places no farther apart than a millimetre."""
    closed = np.vstack([ring, ring[:1]])
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = np.arange(0.0, way[-1], _STEP_MM)
    return np.column_stack([np.interp(at, way, closed[:, k]) for k in range(2)])
