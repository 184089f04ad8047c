"""A picture carried from one plane to another by triangles that are known in both."""

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel

__all__ = ["paint"]


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
    _paint(np.ascontiguousarray(target), np.ascontiguousarray(source), picture, painted)
    return painted


@kernel
def _paint(target, source, picture, painted):  # type: ignore[no-untyped-def]
    rows, columns = painted.shape[0], painted.shape[1]
    colour = np.empty(4)
    for n in range(len(target)):
        ax, ay = target[n, 0, 0], target[n, 0, 1]
        bx, by = target[n, 1, 0] - ax, target[n, 1, 1] - ay
        cx, cy = target[n, 2, 0] - ax, target[n, 2, 1] - ay
        double = bx * cy - by * cx
        if double == 0.0:
            continue
        left = min(ax, target[n, 1, 0], target[n, 2, 0])
        right = max(ax, target[n, 1, 0], target[n, 2, 0])
        top = min(ay, target[n, 1, 1], target[n, 2, 1])
        foot = max(ay, target[n, 1, 1], target[n, 2, 1])
        for row in range(max(int(top - 0.5), 0), min(int(foot + 0.5) + 1, rows)):
            for column in range(max(int(left - 0.5), 0), min(int(right + 0.5) + 1, columns)):
                x, y = column + 0.5 - ax, row + 0.5 - ay
                s, t = (x * cy - y * cx) / double, (bx * y - by * x) / double
                if s < -1e-9 or t < -1e-9 or s + t > 1.0 + 1e-9:
                    continue
                colour[:] = 0.0
                for i in (-0.25, 0.25):
                    for j in (-0.25, 0.25):
                        p, q = x + j, y + i
                        s, t = (p * cy - q * cx) / double, (bx * q - by * p) / double
                        u = source[n, 0, 0] * (1.0 - s - t) + source[n, 1, 0] * s + source[n, 2, 0] * t
                        v = source[n, 0, 1] * (1.0 - s - t) + source[n, 1, 1] * s + source[n, 2, 1] * t
                        _sample(picture, u, v, colour)
                if colour[3] > 0.0:
                    for k in range(3):
                        painted[row, column, k] = int(colour[k] / colour[3] + 0.5)
                    painted[row, column, 3] = int(min(colour[3] * 0.25, 255.0) + 0.5)


@kernel
def _sample(picture, u, v, colour):  # type: ignore[no-untyped-def]
    """Add a colour, weighed by its opacity, and the opacity."""
    height, width = picture.shape[0], picture.shape[1]
    if u < 0.0 or v < 0.0 or u > width or v > height:
        return
    x, y = min(max(u - 0.5, 0.0), width - 1.0), min(max(v - 0.5, 0.0), height - 1.0)
    i, j = int(y), int(x)
    along, down = x - j, y - i
    for di in range(2):
        for dj in range(2):
            weight = (down if di else 1.0 - down) * (along if dj else 1.0 - along)
            if weight > 0.0:
                opacity = weight * picture[i + di, j + dj, 3]
                for k in range(3):
                    colour[k] += opacity * picture[i + di, j + dj, k]
                colour[3] += opacity
