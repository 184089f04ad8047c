"""A map of relative heat over the frame, in words. Imports nothing heavy: Blender's own process reads it."""

from buckwright.errors import JobError

__all__ = ["EVEN", "MOST_HEAT", "check_heat_map", "rows_of"]

EVEN = ""
"""The heat map of a sheet that is equally warm."""
MOST_HEAT = (0.8, 1.2)
"""Relative heats outside of this leave the range in which a sheet can be formed (judgement)."""

_MOST_VALUES = 50


def rows_of(words: str) -> list[list[float]]:
    """Read a map.

    Parameters
    ----------
    words : rows from back (+y) to front, parted by semicolons; numbers from left to right; empty: even

    Returns
    -------
    list of rows, the first in front

    Raises
    ------
    JobError
        It is no such map, or a heat is out of range.

    Examples
    --------
    >>> rows_of("0.9 1; 1 1.1")
    [[1.0, 1.1], [0.9, 1.0]]
    """
    if not words.strip():
        return [[1.0]]
    try:
        rows = [[float(value) for value in row.replace(",", " ").split()] for row in words.split(";")]
    except ValueError:
        rows = []
    counts = {len(row) for row in rows}
    if len(counts) != 1 or not 0 < max(counts) <= _MOST_VALUES or len(rows) > _MOST_VALUES:
        raise JobError(
            "a heat map is rows of as many numbers each, from back to front, parted by semicolons: "
            f"'0.9 1 0.9; 1 1.1 1'; got {words!r}"
        )
    low, high = MOST_HEAT
    if not all(low <= value <= high for row in rows for value in row):
        raise JobError(
            f"heat_map: relative heat must be between {low:g} and {high:g} (1 is usual), got {words!r}"
        )
    return rows[::-1]


def check_heat_map(words: str) -> None:
    """Refuse what is no map; errors as `rows_of`."""
    rows_of(words)
