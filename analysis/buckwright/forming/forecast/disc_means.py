"""Means over discs, quickly: which of many middles can have the least one."""

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import in_parts, kernel
from buckwright.relief.column_bins import cell_order

__all__ = ["may_be_least"]

_SAME = 1e-9  # relative: sums of some hundred samples in another order differ by far less
_WORTH_A_THREAD = 1 << 12  # middles


def may_be_least(
    places: NDArray[np.float64],
    area: NDArray[np.float64],
    volume: NDArray[np.float64],
    tried: NDArray[np.int64],
    *,
    radius_mm: float,
) -> NDArray[np.bool_]:
    """Whether the least of all means, volume over area within a radius, can be the one at each middle.

    Parameters
    ----------
    places : (S, 3) float64, mm, samples
    area, volume : (S,) float64, of each, > 0
    tried : (T,) int64, the samples around which a mean is taken, at least one
    radius_mm : samples no farther away count

    Returns
    -------
    (T,) bool : true at least once; also wherever rounding decides about the mean
    """
    low, high = places.min(axis=0)[:2], places.max(axis=0)[:2]
    columns, rows = (int(span / radius_mm) + 1 for span in high - low)
    grid = float(low[0]), float(low[1]), 1.0 / radius_mm, columns, rows
    order = cell_order(places[:, 0], places[:, 1], *grid)
    cell = _cells(places, low, radius_mm, columns, rows)
    start = np.concatenate([[0], np.cumsum(np.bincount(cell, minlength=columns * rows))])
    table = np.ascontiguousarray(np.column_stack([places, area, volume])[order])
    middles, cell = places[tried], cell[tried]
    mean = np.empty(len(tried))

    def work(begin: int, end: int) -> None:
        part = slice(begin, end)
        _disc_means(table, start, columns, rows, radius_mm**2, middles[part], cell[part], mean[part])

    in_parts(work, len(tried), least=_WORTH_A_THREAD)
    known = mean > 0.0
    least = mean[known].min(initial=np.inf)
    found: NDArray[np.bool_] = ~known | (mean <= least * (1.0 + _SAME))
    return found


def _cells(
    places: NDArray[np.float64], low: NDArray[np.float64], side: float, columns: int, rows: int
) -> NDArray[np.int64]:
    """The cell of each place, as `cell_order` counts them."""
    u, v = ((places[:, axis] - low[axis]) * (1.0 / side) for axis in range(2))
    i, j = np.minimum(u, columns - 1.0).astype(np.int64), np.minimum(v, rows - 1.0).astype(np.int64)
    return np.asarray(j * columns + i)


@kernel
def _disc_means(table, start, columns, rows, square, middles, cell, mean):  # type: ignore[no-untyped-def]
    """Mean around each middle; -1 where a sample lies so near the edge that rounding decides."""
    for n in range(middles.shape[0]):
        x, y, z = middles[n, 0], middles[n, 1], middles[n, 2]
        j, i = cell[n] // columns, cell[n] % columns
        area, volume, doubtful = 0.0, 0.0, False
        for row in range(max(j - 1, 0), min(j + 2, rows)):
            first, last = start[row * columns + max(i - 1, 0)], start[row * columns + min(i + 2, columns)]
            for s in range(first, last):
                dx, dy, dz = table[s, 0] - x, table[s, 1] - y, table[s, 2] - z
                over = dx * dx + dy * dy + dz * dz - square
                if over <= 0.0:
                    area += table[s, 3]
                    volume += table[s, 4]
                if abs(over) <= _SAME * square:
                    doubtful = True
        mean[n] = -1.0 if doubtful else volume / area
