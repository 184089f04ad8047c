"""How high a bore may run below the surface: the solid's height, worn away by a ball."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from buckwright.relief.ball import ball_over
from buckwright.relief.columns import Columns
from buckwright.shape.solid_height import solid_height

__all__ = ["Surroundings", "surroundings"]

STEP_MM = 0.5
"""Spacing of the raster. A node holds the lowest of four samples, and balls are taken larger by half a
diagonal: walls come out thicker, not thinner."""


@dataclass(frozen=True, slots=True, eq=False)
class Surroundings:
    """The solid round a place, on a square raster.

    Attributes
    ----------
    corner : (2,) place of node [0, 0], mm
    solid : (n, n) height to which the solid rises unbroken, -inf where there is none, indexed [row, column]
    beads : (B, 4) spheres that stand for the bores that are there: x, y, z, radius, mm
    """

    corner: NDArray[np.float64]
    solid: NDArray[np.float64]
    beads: NDArray[np.float64]
    _worn: dict[float, NDArray[np.float64]] = field(default_factory=dict)

    def inside(self, points: NDArray[np.float64], radius_mm: float) -> NDArray[np.bool_]:
        """Whether a ball round each point (..., 3) lies in the solid; False beyond the raster."""
        if radius_mm not in self._worn:
            ball = ball_over(radius_mm + STEP_MM * np.sqrt(0.5), STEP_MM)
            # The stubs of scipy want a ball of whole numbers.
            self._worn[radius_mm] = ndimage.grey_erosion(  # type: ignore[call-overload]
                self.solid, footprint=np.isfinite(ball), structure=ball, mode="constant", cval=-np.inf
            )
        inside: NDArray[np.bool_] = points[..., 2] <= self._at(self._worn[radius_mm], points)
        return inside

    def room_mm(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Distance from each point (..., 3) to the nearest bore that is there, mm; inf without any."""
        flat = points.reshape(-1, 3)
        room = np.full(len(flat), np.inf)
        for radius in np.unique(self.beads[:, 3]):
            tree = cKDTree(self.beads[self.beads[:, 3] == radius, :3])
            room = np.minimum(room, tree.query(flat)[0] - radius)
        return room.reshape(points.shape[:-1])

    def _at(self, raster: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
        columns, rows = np.moveaxis(
            np.rint((points[..., :2] - self.corner) / STEP_MM).astype(np.int64), -1, 0
        )
        there = (rows >= 0) & (rows < len(raster)) & (columns >= 0) & (columns < len(raster))
        return np.where(there, raster[np.where(there, rows, 0), np.where(there, columns, 0)], -np.inf)


def surroundings(
    columns: Columns, middle_xy: NDArray[np.float64], beads: NDArray[np.float64], *, reach_mm: float
) -> Surroundings:
    """Ask the solid's height on a raster round a place.

    Parameters
    ----------
    columns : of a closed solid that stands on z = 0
    middle_xy : (2,) float64, mm
    beads : (B, 4) spheres of bores that are there, see `Vent.beads`
    reach_mm : the raster's half side, > 0

    Returns
    -------
    Surroundings

    Notes
    -----
    A ball lies in a solid that rises unbroken from the platen just where its centre lies under the solid's
    height worn away by that ball (grey-scale erosion; J. Serra, Image Analysis and Mathematical Morphology,
    1982, from memory). One raster therefore answers for every direction of a bore.
    """
    count = 2 * int(np.ceil(reach_mm / STEP_MM)) + 1
    corner = middle_xy[:2] - STEP_MM * (count // 2)
    line = STEP_MM * (np.arange(2 * count) - 0.5) / 2.0
    points = corner + np.stack(np.meshgrid(line, line), -1).reshape(-1, 2)
    fine = solid_height(columns, points).reshape(count, 2, count, 2)
    around = np.abs(beads[:, :2] - middle_xy[:2]).max(1) <= reach_mm + beads[:, 3]
    return Surroundings(corner, fine.min((1, 3)), beads[around])
