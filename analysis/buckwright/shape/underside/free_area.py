"""Free area on the underside as a raster: where holes and lettering may go."""

from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection
from numpy.typing import NDArray
from scipy import ndimage

__all__ = ["FreeArea", "free_area"]


@dataclass(frozen=True, slots=True, eq=False)
class FreeArea:
    """Pixels of the plane that are free.

    Attributes
    ----------
    origin : (2,) corner of pixel [0, 0], mm
    pixel_mm : side of a pixel
    free : (ny, nx) bool; the outermost pixels are never free
    """

    origin: NDArray[np.float64]
    pixel_mm: float
    free: NDArray[np.bool_]

    def centres(self) -> NDArray[np.float64]:
        """Centres of the pixels.

        Returns
        -------
        (ny, nx, 2) float64, mm
        """
        rows, columns = self.free.shape
        x = self.origin[0] + (np.arange(columns) + 0.5) * self.pixel_mm
        y = self.origin[1] + (np.arange(rows) + 0.5) * self.pixel_mm
        return np.stack(np.meshgrid(x, y), axis=-1)

    def clearance_mm(self) -> NDArray[np.float64]:
        """Distance from each pixel to the nearest one that is not free; never too large.

        Returns
        -------
        (ny, nx) float64, mm, >= 0

        Notes
        -----
        The border may pass right beside a free centre while the next centre beyond it lies a pixel's diagonal
        further: that much is subtracted.
        """
        far = ndimage.distance_transform_edt(self.free) * self.pixel_mm
        clear: NDArray[np.float64] = np.maximum(far - self.pixel_mm * np.sqrt(2.0), 0.0)
        return clear

    def peak(self, values: NDArray[np.float64]) -> tuple[float, float, float]:
        """Centre of the pixel with the greatest value.

        Parameters
        ----------
        values : (ny, nx) float64, such as `clearance_mm`

        Returns
        -------
        x, y, value : mm, mm, as given; of equal ones the first
        """
        row, column = np.unravel_index(int(values.argmax()), values.shape)
        x, y = self.centres()[row, column].tolist()
        return x, y, float(values[row, column])


def free_area(outline: CrossSection, *, keep_out: CrossSection | None = None, pixel_mm: float) -> FreeArea:
    """Raster of what lies inside `outline` and outside `keep_out`.

    Parameters
    ----------
    outline : CrossSection, mm
    keep_out : CrossSection, mm, optional
        Holes, channels, walls.
    pixel_mm : float, > 0
        A pixel counts as free when its centre is.

    Returns
    -------
    FreeArea : 3 x 3 pixels, none free, where nothing is left

    Notes
    -----
    Even-odd scan of every row of pixel centres: each edge toggles all pixels to its right.
    """
    area = outline if keep_out is None else outline - keep_out
    if area.is_empty():
        return FreeArea(np.zeros(2), pixel_mm, np.zeros((3, 3), np.bool_))
    x0, y0, x1, y1 = area.bounds()
    origin = np.array([x0, y0]) - 1.5 * pixel_mm
    columns = int(np.ceil((x1 - x0) / pixel_mm)) + 3
    rows = int(np.ceil((y1 - y0) / pixel_mm)) + 3
    toggles = np.zeros((rows, columns + 1), np.int64)
    for polygon in area.to_polygons():
        row, column = _crossings((polygon - origin) / pixel_mm, rows, columns)
        np.add.at(toggles, (row, column), 1)
    free = (np.cumsum(toggles, axis=1)[:, :-1] % 2).astype(np.bool_)
    free[[0, -1]] = False
    free[:, [0, -1]] = False
    return FreeArea(origin, pixel_mm, free)


def _crossings(
    polygon: NDArray[np.float64], rows: int, columns: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Row and first column whose centre lies right of each crossing of an edge with a row of centres."""
    start, end = polygon, np.roll(polygon, -1, axis=0)
    low, high = np.minimum(start[:, 1], end[:, 1]), np.maximum(start[:, 1], end[:, 1])
    first = np.clip(np.ceil(low - 0.5), 0, rows).astype(np.int64)
    stop = np.clip(np.ceil(high - 0.5), 0, rows).astype(np.int64)
    edge = np.repeat(np.arange(len(polygon)), stop - first)
    within = np.arange(len(edge)) - np.repeat(np.cumsum(stop - first) - (stop - first), stop - first)
    row = first[edge] + within
    share = (row + 0.5 - start[edge, 1]) / (end[edge, 1] - start[edge, 1])
    x = start[edge, 0] + share * (end[edge, 0] - start[edge, 0])
    return row, np.clip(np.ceil(x - 0.5), 0, columns).astype(np.int64)
