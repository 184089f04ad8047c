"""Units and size: from the numbers in a file to millimetres, and whether the size is plausible."""

from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from buckwright.errors import JobError, MeshError

__all__ = ["MM_PER_UNIT", "doubtful_size", "mm_per", "scale_for"]

#: Millimetres in one unit. The inch is 25.4 mm exactly (international yard and pound agreement, 1959);
#: micron and foot are here because a 3MF file may name them (3MF core specification, 3.4, ST_Unit).
MM_PER_UNIT = MappingProxyType({"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8, "um": 0.001})

#: Outside this range a size is questioned. Common practice, no source: no buck is smaller than a coin
#: and few machines take more than 2 m.
SMALLEST_MM, LARGEST_MM = 5.0, 2000.0

#: Size of a likely sculpt, by which a wrong unit is guessed. Common practice, no source.
LIKELY_MM = (20.0, 1000.0)

_WORDS = {"cm": "centimetres", "m": "metres", "in": "inches", "um": "microns"}
_AXES = {"width": 0, "depth": 1, "height": 2}


def mm_per(unit: str) -> float:
    """Millimetres in one `unit`.

    Parameters
    ----------
    unit : mm, cm, m, in, ft or um

    Returns
    -------
    float : > 0

    Raises
    ------
    JobError
        The unit is none of these.

    Examples
    --------
    >>> mm_per("in")
    25.4
    """
    try:
        return MM_PER_UNIT[unit]
    except KeyError:
        raise JobError(f"unit {unit!r} is unknown; use one of mm, cm, m, in") from None


def scale_for(
    size_mm: ArrayLike,
    *,
    width: float | None = None,
    depth: float | None = None,
    height: float | None = None,
) -> float:
    """Uniform scale that brings a sculpt to one wanted measurement.

    Parameters
    ----------
    size_mm : (3,) extent along x (width), y (depth) and z (height), mm, before scaling
    width, depth, height : wanted extent, mm, > 0; at most one may be given

    Returns
    -------
    float
        1.0 when no measurement is given.

    Raises
    ------
    JobError
        More than one measurement, or one that is not a positive finite number.
    MeshError
        The sculpt has no extent along the wanted axis.

    Examples
    --------
    >>> scale_for((40.0, 30.0, 50.0), height=200.0)
    4.0
    """
    wanted = {"width": width, "depth": depth, "height": height}
    given = {name: value for name, value in wanted.items() if value is not None}
    if not given:
        return 1.0
    if len(given) > 1:
        raise JobError(f"give only one of {', '.join(given)}: the sculpt is scaled evenly")
    name, value = given.popitem()
    if not (np.isfinite(value) and value > 0):
        raise JobError(f"{name} must be a number of millimetres above 0, got {value}")
    extent = float(np.asarray(size_mm, dtype=np.float64)[_AXES[name]])
    if extent <= 0:
        raise MeshError(f"the sculpt has no {name}, so it cannot be scaled to one")
    return value / extent


def doubtful_size(size_mm: ArrayLike) -> str | None:
    """Question a size that looks like a wrong unit.

    Parameters
    ----------
    size_mm : (3,) extent along x, y, z in what are taken as millimetres

    Returns
    -------
    str or None
        A question in plain words with the likely unit; None from 5 mm to 2 m across.

    Examples
    --------
    >>> doubtful_size((120.0, 90.0, 200.0)) is None
    True
    >>> doubtful_size((0.12, 0.09, 0.2)) is None
    False
    """
    extent = np.asarray(size_mm, dtype=np.float64)
    largest = float(extent.max(initial=0.0))
    if SMALLEST_MM <= largest <= LARGEST_MM:
        return None
    size = " x ".join(f"{value:.3g}" for value in extent)
    words = f"The sculpt is {size} mm: is the unit right?"
    order = ("m", "cm", "in") if largest < SMALLEST_MM else ("um",)
    for unit in order:
        guess = largest * MM_PER_UNIT[unit]
        if LIKELY_MM[0] <= guess <= LIKELY_MM[1]:
            return (
                f"{words} Read as {_WORDS[unit]} (x {MM_PER_UNIT[unit]:g}) it would be {guess:.4g} mm across."
            )
    return words
