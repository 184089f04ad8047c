"""Coulomb's friction between the sheet and what it lies on: which nodes slide, by what, and where to."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.landing import LandingSurface

__all__ = ["Friction"]

_LIFT = 0.5  # of a pixel: a node that slides is first taken off the ground by so much
_DROP = 0.6  # of its way: as far as it is let down again, and it leaves the ground where this is too short


@dataclass(frozen=True, slots=True)
class Friction:
    """A coefficient and the ground it holds on.

    Attributes
    ----------
    coefficient : tangential over normal force at which a node begins to slide, >= 0
    ground : buck and platen
    """

    coefficient: float
    ground: LandingSurface

    def excess(self, force: NDArray[np.float64], normal: NDArray[np.float64]) -> NDArray[np.float64]:
        """What the ground cannot hold of the force on each node, along the ground, (N, 3)."""
        along, size, hold = self._parts(force, normal)
        left = np.clip(1.0 - hold / np.maximum(size, 1e-300), 0.0, 1.0)
        return np.asarray(left[:, None] * along)

    def used(self, force: NDArray[np.float64], normal: NDArray[np.float64]) -> NDArray[np.float64]:
        """Tangential force (N, 3) over what the ground holds, (N,): from 1 on a node slides."""
        _, size, hold = self._parts(force, normal)
        return np.asarray(size / np.maximum(hold, 1e-12 + 1e-9 * size))

    def _parts(
        self, force: NDArray[np.float64], normal: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Force along the ground (N, 3), its size, and how much is held (N,): none where not pressed."""
        off = (force * normal).sum(1)
        along = force - off[:, None] * normal
        return along, np.linalg.norm(along, axis=1), self.coefficient * np.maximum(-off, 0.0)

    def slide(
        self,
        x: NDArray[np.float64],
        places: NDArray[np.int64],
        by: NDArray[np.float64],
        normal: NDArray[np.float64],
    ) -> NDArray[np.bool_]:
        """Move rows `places` (M,) of x along the ground in place; True where one has left it over an edge.

        Each is lifted, moved until something stands in its way, and let down against the normal.
        """
        moved, every = x[places], np.ones(len(places), np.bool_)
        lift = _LIFT * self.ground.pixel_mm
        self.ground.land(moved, lift * normal, every)
        self.ground.land(moved, by, every)
        high = moved.copy()
        drop = 1.1 * lift + _DROP * np.linalg.norm(by, axis=1)
        left = np.isnan(self.ground.land(moved, -drop[:, None] * normal, every))
        moved[left] = high[left]
        x[places] = moved
        return left
