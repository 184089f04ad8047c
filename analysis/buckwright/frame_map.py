"""Maps over the frame, in words: rows of numbers. Imports nothing heavy: Blender's own process reads it."""

from buckwright.errors import JobError

__all__ = ["map_rows", "map_words"]

_MOST_VALUES = 50


def map_rows(words: str, *, name: str, figure: str, low: float, high: float) -> list[list[float]]:
    """Read a map.

    Parameters
    ----------
    words : rows from back (+y) to front, parted by semicolons; numbers from left to right; empty: even
    name, figure : of the setting, and what its numbers are, for the messages
    low, high : range of a number

    Returns
    -------
    list of rows, the first in front

    Raises
    ------
    JobError
        It is no such map, or a number is out of range.

    Examples
    --------
    >>> map_rows("0.9 1; 1 1.1", name="heat_map", figure="relative heat", low=0.8, high=1.2)
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
            f"{name}: a map of {figure} is rows of as many numbers each, from back to front, parted by "
            f"semicolons: '0.9 1 0.9; 1 1.1 1'; got {words!r}"
        )
    if not all(low <= value <= high for row in rows for value in row):
        raise JobError(f"{name}: {figure} must be between {low:g} and {high:g} (1 is usual), got {words!r}")
    return rows[::-1]


def map_words(rows: list[list[float]], *, digits: int) -> str:
    """The words of a map.

    Parameters
    ----------
    rows : of numbers, the first in front
    digits : behind the point

    Examples
    --------
    >>> map_words([[1.0, 1.1], [0.9, 1.0]], digits=2)
    '0.9 1; 1 1.1'
    """
    return "; ".join(" ".join(f"{round(value, digits):g}" for value in row) for row in rows[::-1])
