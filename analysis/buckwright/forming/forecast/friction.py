"""Coulomb friction between the sheet and what it lies on: which nodes slide, by how much, and where to."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.landing import LandingSurface

__all__ = ["Friction"]

_LIFT = 0.5  # of a pixel: a sliding node is first lifted off the ground by this much
_DROP = 0.6  # of its way: how far it is lowered again; it leaves the ground where this is too short


@dataclass(frozen=True, slots=True)
class Friction:
    """A coefficient and the ground that it applies to.

    Attributes
    ----------
    coefficient : tangential over normal force at which a node begins to slide, >= 0
    ground : buck and platen
    """

    coefficient: float
    ground: LandingSurface

    def excess(
        self, force: NDArray[np.float64], normal: NDArray[np.float64], grown: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """The part of each force along the ground that friction cannot hold.

        Parameters
        ----------
        force : (N, 3) float64, on each node
        normal : (N, 3) float64, unit normal of the ground there
        grown : (N,) float64, by how much the coefficient has grown since the contact, >= 1

        Returns
        -------
        (N, 3) float64, the unit of `force`
        """
        along, size, hold = self._parts(force, normal, grown)
        left = np.clip(1.0 - hold / np.maximum(size, 1e-300), 0.0, 1.0)
        return np.asarray(left[:, None] * along)

    def used(
        self, force: NDArray[np.float64], normal: NDArray[np.float64], grown: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Tangential force over what friction can hold: from 1 on a node slides.

        Parameters
        ----------
        force, normal, grown : as in `excess`

        Returns
        -------
        (N,) float64, >= 0
        """
        _, size, hold = self._parts(force, normal, grown)
        return np.asarray(size / np.maximum(hold, 1e-12 + 1e-9 * size))

    def _parts(
        self, force: NDArray[np.float64], normal: NDArray[np.float64], grown: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Force along the ground (N, 3), its size, and how much is held (N,): none where nothing presses."""
        off = (force * normal).sum(1)
        along = force - off[:, None] * normal
        return along, np.linalg.norm(along, axis=1), self.coefficient * grown * np.maximum(-off, 0.0)

    def slide(
        self,
        x: NDArray[np.float64],
        places: NDArray[np.int64],
        by: NDArray[np.float64],
        normal: NDArray[np.float64],
    ) -> NDArray[np.bool_]:
        """Move nodes along the ground, in place.

        Parameters
        ----------
        x : (N, 3) float64, mm, changed in place
        places : (M,) int64, rows of `x` that move
        by : (M, 3) float64, mm
        normal : (M, 3) float64, unit normal of the ground at these nodes

        Returns
        -------
        (M,) bool, whether a node has left the ground over an edge

        Notes
        -----
        Each node is lifted, moved until something blocks it, and lowered against the normal.
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
