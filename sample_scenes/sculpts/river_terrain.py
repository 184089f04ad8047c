"""River terrain: an open relief worn by water, whose opposite edges match so that tiles can be laid out.

The land is lifted and worn by the stream-power law dh/dt = U - K A^m S, solved implicitly from the river
upwards (Braun and Willett 2013, doi 10.1016/j.geomorph.2012.10.008); the grid wraps around on both axes.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from buckwright.kernel import kernel
from sculpting.clay import Faces

__all__ = ["FILE", "UNIT_MM", "sculpt"]

FILE = "sculpt.ply"
UNIT_MM = 1.0
SIDE = 150.0
CELLS = 400
RELIEF = 26.0
"""Height of the highest summit over the river, mm."""
PONDS = ((38.0, 118.0, 10.0, 4.5), (112.0, 128.0, 8.0, 3.6), (96.0, 22.0, 11.0, 4.0), (24.0, 14.0, 6.5, 2.4))
"""Centre x and y, radius and depth below the lowest point of the rim, mm."""
LAND, GRIT = 20260711, 20260712
"""Seeds of the first land and of its fine grain."""


def sculpt(coarse: float = 1.0) -> tuple[NDArray[np.float64], Faces]:
    """Make the tile, without a bottom, its river bed about 4 mm over z = 0; `coarse` thins the grid."""
    cells = round(CELLS / coarse)
    height = _land(cells)
    for x, y, radius, depth in PONDS:
        height = _with_pond(height, x, y, radius, depth)
    height += 0.05 * np.random.default_rng(GRIT).standard_normal(height.shape).clip(-2, 2)
    return _grid_mesh(np.pad(height + 4.0, (0, 1), mode="wrap"))


def _land(cells: int) -> NDArray[np.float64]:
    """(cells, cells) heights over the river, rows along y, mm."""
    along = (np.arange(cells) + 0.0) / cells
    x, y = np.meshgrid(along, along)
    middle = 0.5 + 0.13 * np.sin(2 * np.pi * x + 0.6) + 0.05 * np.sin(4 * np.pi * x + 2.0)
    away = np.abs(y - middle)
    away = np.minimum(away, 1 - away)
    river = away < 0.017
    height = 0.3 * away + 0.05 * _waves(cells, LAND)
    height = np.where(river, 0.0, np.maximum(height - height.min(), 1e-3))
    for _ in range(110):
        height = _wear(height, river, np.argsort(height, axis=None, kind="stable"), 0.02, 9.0 / cells**0.5)
        # Soil creep: smooths what is narrower than a few cells.
        height = np.where(river, 0.0, gaussian_filter(height, 0.0026 * cells, mode="wrap"))
    height *= RELIEF / height.max()
    ledges = height + 0.30 * np.sin(2 * np.pi * height / 2.6)
    bank = np.clip((away - 0.017) / 0.02, 0, 1)
    return np.asarray(gaussian_filter(bank * ledges + 0.5 * bank, 0.002 * cells, mode="wrap"))


def _waves(cells: int, seed: int) -> NDArray[np.float64]:
    """Noise that wraps around, a sum of waves whose size falls with their number, in about -1..1."""
    rng = np.random.default_rng(seed)
    along = np.arange(cells) / cells
    total = np.zeros((cells, cells))
    for _ in range(60):
        across, up = rng.integers(-14, 15, 2)
        phase = rng.uniform(0, 2 * np.pi)
        size = 1 / (1 + np.hypot(across, up)) ** 1.3
        total += size * np.cos(2 * np.pi * (across * along[None, :] + up * along[:, None]) + phase)
    return total / np.abs(total).max()


@kernel
def _wear(height, river, order, lift, wear):  # type: ignore[no-untyped-def]
    """One implicit step of lift and stream-power wear on a grid that wraps around."""
    rows, columns = height.shape
    lower = np.empty(height.size, np.int64)
    fall = np.empty(height.size)
    water = np.ones(height.size)
    flat = height.ravel()
    for spot in order:
        row, column = spot // columns, spot % columns
        best, steepest = spot, 0.0
        length = 1.0
        for i in range(-1, 2):
            for j in range(-1, 2):
                if i == 0 and j == 0:
                    continue
                other = (row + i) % rows * columns + (column + j) % columns
                run = np.sqrt(float(i * i + j * j))
                slope = (flat[spot] - flat[other]) / run
                if slope > steepest:
                    best, steepest, length = other, slope, run
        lower[spot] = best
        fall[spot] = length
    for k in range(order.size - 1, -1, -1):
        if lower[order[k]] != order[k]:
            water[lower[order[k]]] += water[order[k]]
    result = flat.copy()
    for spot in order:
        if river.ravel()[spot]:
            continue
        raised = flat[spot] + lift
        if lower[spot] != spot:
            rate = wear * np.sqrt(water[spot]) / fall[spot]
            raised = (raised + rate * result[lower[spot]]) / (1 + rate)
        result[spot] = raised
    return result.reshape(rows, columns)


def _with_pond(
    height: NDArray[np.float64], x: float, y: float, radius: float, depth: float
) -> NDArray[np.float64]:
    """Sink a bowl whose rim is the lowest height on its circle."""
    cells = len(height)
    along = np.arange(cells) * SIDE / cells
    off = [np.minimum(np.abs(along - at), SIDE - np.abs(along - at)) for at in (x, y)]
    turn = np.arctan2(*np.broadcast_arrays(along[:, None] - y, along[None, :] - x))
    shore = radius * (1 + 0.2 * np.sin(2 * turn + x) + 0.1 * np.sin(5 * turn + y))
    out = np.hypot(off[0][None, :], off[1][:, None]) / shore
    rim = height[np.abs(out - 1) < 1.5 * SIDE / cells / radius].min()
    bowl = rim - depth * np.sqrt(np.clip(1 - out**2, 0, None))
    return np.where(out < 1, np.minimum(height, bowl), height)


def _grid_mesh(height: NDArray[np.float64]) -> tuple[NDArray[np.float64], Faces]:
    """Two triangles a cell, facing up."""
    count = len(height)
    along = np.linspace(0, SIDE, count)
    x, y = np.meshgrid(along, along)
    vertices = np.stack([x, y, height], -1).reshape(-1, 3)
    number = np.arange(count * count).reshape(count, count)
    a, b, c, d = number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]
    faces = np.stack([np.stack([a, b, c], -1), np.stack([a, c, d], -1)], 2)
    return vertices, np.ascontiguousarray(faces.reshape(-1, 3), np.int32)
