"""A map of relative heat over the frame, in words. Imports nothing heavy: Blender's own process reads it."""

from buckwright.frame_map import map_rows

__all__ = ["EVEN", "MOST_HEAT", "check_heat_map", "rows_of"]

EVEN = ""
"""The heat map of a sheet that is equally warm."""
MOST_HEAT = (0.8, 1.2)
"""Relative heats outside of this leave the range in which a sheet can be formed (judgement)."""


def rows_of(words: str) -> list[list[float]]:
    """Read a map.

    Parameters
    ----------
    words : see `map_rows`

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
    low, high = MOST_HEAT
    return map_rows(words, name="heat_map", figure="relative heat", low=low, high=high)


def check_heat_map(words: str) -> None:
    """Refuse what is no map; errors as `rows_of`."""
    rows_of(words)
