"""Colours of the pictures and maps: distinct to every eye and in grey print, each with a pattern too."""

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "BASE",
    "CUT",
    "FREE",
    "INK",
    "ORIGIN_COLOURS",
    "PAPER",
    "STATE_COLOURS",
    "STATE_WORDS",
    "TIGHT",
    "TRAPPED",
    "luminance",
    "state_rgb",
]

FREE, TIGHT, TRAPPED, BASE = range(4)
"""States of a face: at least the wanted draft; some draft, less than wanted; cannot come straight off;
belongs to the underside or the base and is not judged."""

STATE_WORDS = ("free", "tight", "trapped", "base")

# Blue-grey, ochre, dark purple: distinct in hue for the common colour deficiencies (blue against
# yellow) and distinct in lightness for all; checked by tests/output/test_palette.py.
STATE_COLOURS = ((0.79, 0.86, 0.92), (0.80, 0.62, 0.25), (0.31, 0.12, 0.42), (0.94, 0.93, 0.91))
ORIGIN_COLOURS = ((0.90, 0.87, 0.80), (0.42, 0.60, 0.72), (0.93, 0.94, 0.95))
"""Sculpt (sand), draft fill (blue), base (nearly white)."""

CUT = (0.45, 0.52, 0.62)
"""Multiplies the colour of what is cut into the underside."""

PAPER = (1.0, 1.0, 1.0)
INK = (0.12, 0.13, 0.16)


def luminance(rgb: NDArray[np.float64] | tuple[float, float, float]) -> NDArray[np.float64]:
    """Relative luminance of sRGB colours (IEC 61966-2-1, BT.709 weights).

    Parameters
    ----------
    rgb : (..., 3), 0..1

    Returns
    -------
    (...) float64, 0..1

    Examples
    --------
    >>> round(float(luminance((1.0, 1.0, 1.0))), 6), round(float(luminance((0.0, 0.0, 0.0))), 6)
    (1.0, 0.0)
    """
    values = np.asarray(rgb, np.float64)
    linear = np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)
    weighted: NDArray[np.float64] = linear @ np.array([0.2126, 0.7152, 0.0722])
    return weighted


def state_rgb(state: NDArray[np.integer]) -> NDArray[np.uint8]:
    """Colour of each face by its state.

    Parameters
    ----------
    state : (F,) int; 0 free, 1 tight, 2 trapped, 3 base

    Returns
    -------
    (F, 3) uint8, 0..255
    """
    table = np.round(np.array(STATE_COLOURS) * 255).astype(np.uint8)
    colours: NDArray[np.uint8] = table[state]
    return colours
