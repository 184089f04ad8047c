"""Where a picture lies on the part: its place in plan, seen down the pull."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.artwork.settings import ArtworkSettings

__all__ = ["Placed", "place_picture"]


@dataclass(frozen=True, slots=True)
class Placed:
    """The place of a picture.

    Attributes
    ----------
    middle_mm : of the picture, in plan
    turn_deg : to the left, seen down the pull
    pixel_mm : side of one of its pixels on the buck
    size_px : width and height
    """

    middle_mm: tuple[float, float]
    turn_deg: float
    pixel_mm: float
    size_px: tuple[int, int]

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and depth on the buck."""
        return self.size_px[0] * self.pixel_mm, self.size_px[1] * self.pixel_mm

    def pixels_at(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Which pixel lies over points of the plan.

        Parameters
        ----------
        points : (..., 2 or more) float64, mm

        Returns
        -------
        (..., 2) float64 : column and row, (0, 0) the outer corner of the first pixel; may lie outside
        """
        away = points[..., :2] - np.array(self.middle_mm)
        turn = np.radians(self.turn_deg)
        along = away[..., 0] * np.cos(turn) + away[..., 1] * np.sin(turn)
        back = away[..., 1] * np.cos(turn) - away[..., 0] * np.sin(turn)
        half = np.array(self.size_px) / 2.0
        return np.stack([half[0] + along / self.pixel_mm, half[1] - back / self.pixel_mm], axis=-1)


def place_picture(
    size_px: tuple[int, int],
    box_mm: NDArray[np.float64],
    artwork: ArtworkSettings,
    *,
    shrinkage: float,
) -> Placed:
    """Place a picture.

    Parameters
    ----------
    size_px : its width and height
    box_mm : (2, 2) lowest and highest corner of the sculpt in plan, on the buck
    artwork : the table [artwork]
    shrinkage : share by which the part shrinks when it cools; a wanted width is that of the cold part

    Returns
    -------
    Placed : where no width is wanted, the picture covers the box however it is turned
    """
    swell = 1.0 / (1.0 - shrinkage)
    middle = box_mm.mean(axis=0) + np.array(artwork.middle_mm) * swell
    if artwork.width_mm is not None:
        pixel = artwork.width_mm * swell / size_px[0]
    else:
        turn = np.radians(artwork.turn_deg)
        width, depth = box_mm[1] - box_mm[0]
        c, s = abs(np.cos(turn)), abs(np.sin(turn))
        pixel = max((width * c + depth * s) / size_px[0], (width * s + depth * c) / size_px[1])
    return Placed((float(middle[0]), float(middle[1])), artwork.turn_deg, float(pixel), size_px)
