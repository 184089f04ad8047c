"""From where a place is seen best: directions are tried, and lines of sight tell how much each of them shows.

Arrays in, arrays out; this module must not import Blender.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Eye", "Sight", "around", "best_eye", "directions"]

type Array = NDArray[np.float64]
type Sight = Callable[[Array, Array], NDArray[np.bool_]]
"""Which of the points (N, 3) nothing hides from eyes (N, 3)."""

_TRIED = 200
_NEAR_DEG = 14.0
"""Half the way between two neighbours of the directions that are tried first: so far around the best of
them more are tried."""
_NEAR_TRIED = 24
_GRAZING = 0.12
"""Cosine under which a face is too foreshortened to count as seen (83 degrees from facing), a judgement."""
_ALIKE = 0.04
"""Shares that differ by no more of the best count as equal: the view then turns as little as it can. A
judgement."""
_ALL = 1.0 - 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Eye:
    """Where to look from.

    Attributes
    ----------
    along : (3,) unit vector from the place to the eye
    share : how much of the place is seen from there, 0..1
    """

    along: Array
    share: float


def directions(count: int) -> Array:
    """Unit vectors (count, 3), evenly over the sphere.

    Notes
    -----
    Fibonacci's lattice: heights in equal steps, bearings by the golden angle (Swinbank and Purser 2006, from
    memory).
    """
    steps = np.arange(count) + 0.5
    heights = 1.0 - 2.0 * steps / count
    bearings = np.pi * (1.0 + np.sqrt(5.0)) * steps
    radii = np.sqrt(1.0 - heights**2)
    return np.column_stack([radii * np.cos(bearings), radii * np.sin(bearings), heights])


def around(along: Array, angle_deg: float, count: int) -> Array:
    """Unit vectors (count, 3), evenly over the cap of that half-angle around a direction (3,)."""
    steps = np.arange(count) + 0.5
    heights = 1.0 - (1.0 - np.cos(np.radians(angle_deg))) * steps / count
    bearings = np.pi * (1.0 + np.sqrt(5.0)) * steps
    side = np.cross(along, np.eye(3)[np.argmin(np.abs(along))])
    side /= np.linalg.norm(side)
    radii = np.sqrt(1.0 - heights**2)[:, None]
    turned = np.cos(bearings)[:, None] * side + np.sin(bearings)[:, None] * np.cross(along, side)
    return radii * turned + heights[:, None] * along


def best_eye(
    points: Array,
    normals: Array,
    *,
    centre: Array,
    distance: float,
    present: Array,
    first: Array,
    sight: Sight,
) -> Eye:
    """The direction from which most of a place is seen; among equals the one nearest to the present view.

    Parameters
    ----------
    points, normals : (N, 3) of the place, each point for an equal share of it; a normal of 0 faces all ways
    centre : (3,) what the eye turns around
    distance : from there to the eye, > 0
    present : (3,) unit vector from the place to the eye as the view is now
    first : (M, 3) more directions that are worth a try
    sight : lines of sight; asked only about points that face the eye
    """
    tried = _Tried(points, normals, centre, distance, sight)
    tried.ask(np.vstack([present, first, directions(_TRIED)]))
    if tried.best < _ALL:
        tried.ask(around(tried.along[int(np.argmax(tried.shares))], _NEAR_DEG, _NEAR_TRIED))
    shares, along = np.array(tried.shares), np.array(tried.along)
    alike = np.flatnonzero(shares >= tried.best * (1.0 - _ALIKE))
    chosen = alike[np.argmax(along[alike] @ present)]
    return Eye(along[chosen], float(shares[chosen]))


class _Tried:
    """Directions that were tried, and what each of them shows."""

    def __init__(self, points: Array, normals: Array, centre: Array, distance: float, sight: Sight) -> None:
        self.points, self.normals, self.sight = points, normals, sight
        self.centre, self.distance = centre, distance
        self.along: list[Array] = []
        self.shares: list[float] = []
        self.best = 0.0

    def ask(self, tried: Array) -> None:
        """Try directions, those that most of the place faces first; the hopeless ones are left out."""
        eyes = self.centre + self.distance * tried
        facing = np.array([self._facing(eye) for eye in eyes])
        most = facing.mean(axis=1)
        for number in np.argsort(-most, kind="stable"):
            if self.shares and most[number] < self.best * (1.0 - _ALIKE):
                break
            self.along.append(tried[number])
            self.shares.append(self._share(eyes[number], facing[number]))
            self.best = max(self.best, self.shares[-1])

    def _facing(self, eye: Array) -> NDArray[np.bool_]:
        way = eye - self.points
        way /= np.maximum(np.linalg.norm(way, axis=1), 1e-30)[:, None]
        toward = np.einsum("nk,nk->n", way, self.normals)
        return np.asarray((toward > _GRAZING) | ~self.normals.any(axis=1))

    def _share(self, eye: Array, facing: NDArray[np.bool_]) -> float:
        asked = self.points[facing]
        seen = self.sight(np.broadcast_to(eye, asked.shape), asked) if len(asked) else np.empty(0, bool)
        return float(seen.sum()) / len(self.points)
