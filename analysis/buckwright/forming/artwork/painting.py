"""A picture carried from one plane to another by triangles that are known in both."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel
from buckwright.mesh.triangles import Mesh
from buckwright.relief.raster import relief_of

__all__ = ["owners", "paint", "sampled"]

_AT_ONCE = 4_000_000  # pixels: a sheet of a square metre has fifty times as many


def owners(corners: NDArray[np.float64], shape: tuple[int, int]) -> Iterator[tuple[slice, NDArray[np.int32]]]:
    """Which triangle the middle of each pixel lies in, some rows at a time.

    Parameters
    ----------
    corners : (T, 3, 2) float64, in pixels, (0, 0) the outer corner of the first one; none lies over another
    shape : rows and columns of the whole

    Yields
    ------
    slice, (n, columns) int32 : the rows, and a triangle for each pixel; -1 where none lies
    """
    flat = np.zeros((3 * len(corners), 3))
    flat[:, :2] = corners.reshape(-1, 2)
    mesh = Mesh(flat, np.arange(len(flat), dtype=np.int32).reshape(-1, 3))
    rows, columns = shape
    step = max(_AT_ONCE // columns, 1)
    for begin in range(0, rows, step):
        end = min(begin + step, rows)
        bounds = np.array([[0.0, begin], [columns, end]])
        yield slice(begin, end), relief_of(mesh, pixel_mm=1.0, bounds_xy=bounds).face


def paint(
    target: NDArray[np.float64],
    source: NDArray[np.float64],
    picture: NDArray[np.uint8],
    shape: tuple[int, int],
) -> NDArray[np.uint8]:
    """Paint triangles with a picture.

    Parameters
    ----------
    target : (T, 3, 2) float64, corners in pixels of the result, (0, 0) the outer corner of the first pixel
    source : (T, 3, 2) float64, the same corners in pixels of `picture`
    picture : (h, w, 4) uint8, red, green, blue, opacity
    shape : rows and columns of the result

    Returns
    -------
    (rows, columns, 4) uint8 : clear where no triangle lies or none of the picture

    Notes
    -----
    Within a triangle the map is linear. A pixel belongs to the triangle that its middle lies in; four samples
    of it are taken, each linear between the pixels of the picture, and weighed by their opacity.
    """
    painted = np.zeros((*shape, 4), np.uint8)
    target, source = np.ascontiguousarray(target), np.ascontiguousarray(source)
    for rows, owner in owners(target, shape):
        _paint(owner, float(rows.start), target, source, picture, painted[rows])
    return painted


def sampled(picture: NDArray[np.uint8], places: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Colours between the pixels of a picture that repeats; opacity weighs.

    Parameters
    ----------
    picture : (h, w, 4) uint8
    places : (N, 2) float64, columns and rows, (0, 0) the outer corner of the first pixel

    Returns
    -------
    (N, 4) uint8
    """
    colours = np.zeros((len(places), 4), np.uint8)
    _take(picture, np.ascontiguousarray(places), colours)
    return colours


@kernel
def _paint(owner, first, target, source, picture, painted):  # type: ignore[no-untyped-def]
    colour = np.empty(4)
    for row in range(owner.shape[0]):
        for column in range(owner.shape[1]):
            n = owner[row, column]
            if n < 0:
                continue
            ax, ay = target[n, 0, 0], target[n, 0, 1]
            bx, by = target[n, 1, 0] - ax, target[n, 1, 1] - ay
            cx, cy = target[n, 2, 0] - ax, target[n, 2, 1] - ay
            double = bx * cy - by * cx
            colour[:] = 0.0
            for i in (0.25, 0.75):
                for j in (0.25, 0.75):
                    x, y = column + j - ax, first + row + i - ay
                    s, t = (x * cy - y * cx) / double, (bx * y - by * x) / double
                    u = source[n, 0, 0] * (1.0 - s - t) + source[n, 1, 0] * s + source[n, 2, 0] * t
                    v = source[n, 0, 1] * (1.0 - s - t) + source[n, 1, 1] * s + source[n, 2, 1] * t
                    if 0.0 <= u <= picture.shape[1] and 0.0 <= v <= picture.shape[0]:
                        u = min(max(u, 0.5), picture.shape[1] - 0.5)
                        v = min(max(v, 0.5), picture.shape[0] - 0.5)
                        _add(picture, u, v, colour)
            _lay(colour, 4.0, painted[row, column])


@kernel
def _take(picture, places, colours):  # type: ignore[no-untyped-def]
    colour = np.empty(4)
    for n in range(len(places)):
        colour[:] = 0.0
        _add(picture, places[n, 0], places[n, 1], colour)
        _lay(colour, 1.0, colours[n])


@kernel
def _add(picture, u, v, colour):  # type: ignore[no-untyped-def]
    """Add a colour, weighed by its opacity, and the opacity; beyond an edge the picture starts again."""
    height, width = picture.shape[0], picture.shape[1]
    top, left = np.floor(v - 0.5), np.floor(u - 0.5)
    down, along = v - 0.5 - top, u - 0.5 - left
    for di in range(2):
        for dj in range(2):
            weight = (down if di else 1.0 - down) * (along if dj else 1.0 - along)
            pixel = picture[(int(top) + di) % height, (int(left) + dj) % width]
            opacity = weight * pixel[3]
            for k in range(3):
                colour[k] += opacity * pixel[k]
            colour[3] += opacity


@kernel
def _lay(colour, samples, pixel):  # type: ignore[no-untyped-def]
    """Round what samples sum up to."""
    if colour[3] > 0.0:
        for k in range(3):
            pixel[k] = int(colour[k] / colour[3] + 0.5)
        pixel[3] = int(min(colour[3] / samples, 255.0) + 0.5)
