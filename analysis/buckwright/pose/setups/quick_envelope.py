"""A quick envelope of draft cones on a raster, for comparing setups by the hundred."""

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel

__all__ = ["quick_envelope"]


def quick_envelope(height: NDArray[np.float64], *, pixel_mm: float, draft_deg: float) -> NDArray[np.float64]:
    """Draft cones over every pixel: out(x) = max over y of height(y) - |x - y| / tan(draft), nearly.

    Parameters
    ----------
    height : (ny, nx) float64, mm; -inf where empty
    pixel_mm : side of a pixel, > 0
    draft_deg : 0 < draft < 90

    Returns
    -------
    (ny, nx) float64, mm; never above the exact envelope

    Notes
    -----
    Each pixel takes over the source of a neighbour where that source raises it, in four sweeps as for a
    distance transform (P.-E. Danielsson, "Euclidean distance mapping", 1980). A source that no neighbour has
    kept is missed, so the result may be low in few pixels, never high. Time is linear in the pixels.
    """
    out = height.copy()
    rows, columns = (np.ascontiguousarray(part) for part in np.indices(height.shape, np.int32))
    _sweep(height, pixel_mm / np.tan(np.radians(draft_deg)), out, rows, columns)
    return out


@kernel
def _take(height, fall, out, rows, columns, j, i, y, x):  # type: ignore[no-untyped-def]
    """Take over the source of a neighbour if it raises the pixel."""
    here = out[j, i]
    if out[y, x] > here:
        sj, si = rows[y, x], columns[y, x]
        most = height[sj, si] - here
        away = float((sj - j) * (sj - j) + (si - i) * (si - i))
        if most * most > fall * fall * away:
            out[j, i] = height[sj, si] - fall * np.sqrt(away)
            rows[j, i], columns[j, i] = sj, si


@kernel
def _sweep(height, fall, out, rows, columns):  # type: ignore[no-untyped-def]
    last_row, last_column = height.shape[0] - 1, height.shape[1] - 1
    for down in (True, False):
        for step in range(last_row + 1):
            j = step if down else last_row - step
            y = j - 1 if down else j + 1
            if 0 <= y <= last_row:
                for i in range(last_column + 1):
                    _take(height, fall, out, rows, columns, j, i, y, max(i - 1, 0))
                    _take(height, fall, out, rows, columns, j, i, y, i)
                    _take(height, fall, out, rows, columns, j, i, y, min(i + 1, last_column))
            for i in range(1, last_column + 1):
                _take(height, fall, out, rows, columns, j, i, j, i - 1)
            for i in range(last_column - 1, -1, -1):
                _take(height, fall, out, rows, columns, j, i, j, i + 1)
