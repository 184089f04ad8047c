"""`Relief`: the part as seen down the pull, a height for every pixel."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import InputError
from buckwright.kernel import kernel
from buckwright.mesh.triangles import Mesh

__all__ = ["Relief", "relief_of"]

_MOST_PIXELS = 64_000_000


@dataclass(frozen=True, slots=True, eq=False)
class Relief:
    """Highest surface over each pixel centre.

    Attributes
    ----------
    origin : (2,) corner of pixel [0, 0], mm
    pixel_mm : side of a pixel
    height : (ny, nx) float64, mm; -inf where empty
    face : (ny, nx) int32, the face that is seen; -1 where empty
    """

    origin: NDArray[np.float64]
    pixel_mm: float
    height: NDArray[np.float64]
    face: NDArray[np.int32]

    def centres(self) -> NDArray[np.float64]:
        """Centres of the pixels.

        Returns
        -------
        (ny, nx, 2) float64, mm
        """
        rows, columns = self.height.shape
        x = self.origin[0] + (np.arange(columns) + 0.5) * self.pixel_mm
        y = self.origin[1] + (np.arange(rows) + 0.5) * self.pixel_mm
        return np.stack(np.meshgrid(x, y), axis=-1)

    def raised_pixels(self) -> NDArray[np.int64] | None:
        """Range of the pixels above z = 0.

        Returns
        -------
        (2, 2) int64 or None : first column and row, and one past the last; None where nothing is above z = 0
        """
        rows, columns = np.nonzero(np.isfinite(self.height) & (self.height > 0.0))
        if not len(rows):
            return None
        return np.array([[columns.min(), rows.min()], [columns.max() + 1, rows.max() + 1]])

    def pixel_of(self, points_xy: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Pixel that holds each point, clipped to the raster.

        Parameters
        ----------
        points_xy : (N, 2 or more) float64, mm; only x and y are used

        Returns
        -------
        (N,) int64, (N,) int64 : rows and columns
        """
        index = np.floor((points_xy[:, :2] - self.origin) / self.pixel_mm).astype(np.int64)
        rows, columns = self.height.shape
        return np.clip(index[:, 1], 0, rows - 1), np.clip(index[:, 0], 0, columns - 1)


@kernel
def _span(ax, ay, bx, by, y, low, high):  # type: ignore[no-untyped-def]
    """Widen the span of x that an edge cuts out of the line at y."""
    if (ay <= y) != (by <= y):
        x = ax + (bx - ax) * ((y - ay) / (by - ay))
        low = min(low, x)
        high = max(high, x)
    return low, high


@kernel
def _rasterise(vertices, faces, ox, oy, pixel, height, face):  # type: ignore[no-untyped-def]
    rows, columns = height.shape
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ax, ay, az = (vertices[a, 0] - ox) / pixel, (vertices[a, 1] - oy) / pixel, vertices[a, 2]
        bx, by, bz = (vertices[b, 0] - ox) / pixel, (vertices[b, 1] - oy) / pixel, vertices[b, 2]
        cx, cy, cz = (vertices[c, 0] - ox) / pixel, (vertices[c, 1] - oy) / pixel, vertices[c, 2]
        area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if area == 0.0:
            continue
        slope_x = ((bz - az) * (cy - ay) - (cz - az) * (by - ay)) / area
        slope_y = ((cz - az) * (bx - ax) - (bz - az) * (cx - ax)) / area
        z_low, z_high = min(az, bz, cz), max(az, bz, cz)
        j0 = max(int(np.ceil(min(ay, by, cy) - 0.5)), 0)
        j1 = min(int(np.floor(max(ay, by, cy) - 0.5)), rows - 1)
        for j in range(j0, j1 + 1):
            y = j + 0.5
            low, high = _span(ax, ay, bx, by, y, np.inf, -np.inf)
            low, high = _span(bx, by, cx, cy, y, low, high)
            low, high = _span(cx, cy, ax, ay, y, low, high)
            if high < low:
                continue
            i0 = max(int(np.ceil(low - 0.5)), 0)
            i1 = min(int(np.floor(high - 0.5)), columns - 1)
            for i in range(i0, i1 + 1):
                z = az + slope_x * (i + 0.5 - ax) + slope_y * (y - ay)
                z = min(max(z, z_low), z_high)
                if z > height[j, i]:
                    height[j, i] = z
                    face[j, i] = f


def relief_of(
    mesh: Mesh,
    *,
    pixel_mm: float,
    margin_mm: float = 0.0,
    bounds_xy: NDArray[np.float64] | None = None,
) -> Relief:
    """Rasterise the highest surface over the pixel centres.

    Parameters
    ----------
    mesh : triangles in the pull frame, open or closed
    pixel_mm : side of a pixel, > 0
    margin_mm : empty border around the mesh
    bounds_xy : (2, 2) lowest and highest corner, mm, in place of those of the mesh

    Returns
    -------
    Relief : heights exact at pixel centres to rounding

    Raises
    ------
    InputError
        The pixel is not positive, or so small that the raster would have more than 64 million pixels.

    Notes
    -----
    One pass over the rows that each triangle crosses; thin slanting triangles cost no more than what they
    cover.

    Examples
    --------
    >>> roof = Mesh.from_arrays([(0, 0, 5), (4, 0, 5), (4, 4, 5), (0, 4, 5)], [(0, 1, 2), (0, 2, 3)])
    >>> relief = relief_of(roof, pixel_mm=1.0, margin_mm=1.0)
    >>> relief.height.shape, int((relief.height == 5.0).sum())
    ((6, 6), 16)
    """
    if not pixel_mm > 0.0:
        raise InputError(f"pixel_mm must be greater than 0, got {pixel_mm}")
    low, high = mesh.bounds[:, :2] if bounds_xy is None else np.asarray(bounds_xy, np.float64)
    low, high = low - margin_mm, high + margin_mm
    columns, rows = np.maximum(np.ceil((high - low) / pixel_mm - 1e-9), 1).astype(np.int64)
    if rows * columns > _MOST_PIXELS:
        raise InputError(f"a pixel of {pixel_mm} mm makes {columns} x {rows} pixels; choose a larger one")
    height = np.full((rows, columns), -np.inf)
    face = np.full((rows, columns), -1, np.int32)
    _rasterise(mesh.vertices, mesh.faces, float(low[0]), float(low[1]), float(pixel_mm), height, face)
    return Relief(np.ascontiguousarray(low), float(pixel_mm), height, face)
