"""What a table of sheets is made of: numbers, ranges and words, each with its source and a mark."""

import math
from dataclasses import asdict, dataclass
from typing import Any, Literal, cast, get_args

from buckwright.errors import JobError

__all__ = [
    "Drying",
    "Figure",
    "Mark",
    "Note",
    "Range",
    "drying_from",
    "figure_from",
    "note_from",
    "range_from",
]

Mark = Literal["read", "second-hand", "measured", "from memory", "common practice, no source"]


class _Sourced:
    """What the entries of a table have in common."""

    __slots__ = ()

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : every field by name
        """
        told: dict[str, Any] = asdict(self)  # type: ignore[call-overload]
        return told


@dataclass(frozen=True, slots=True)
class Figure(_Sourced):
    """One number with its source; `mark` says how far the source was checked."""

    value: float
    source: str
    mark: Mark


@dataclass(frozen=True, slots=True)
class Range(_Sourced):
    """A range that stays a range, `low` <= `high`, with its source."""

    low: float
    high: float
    source: str
    mark: Mark

    @property
    def middle(self) -> float:
        """The mean of both ends, where a single number must be chosen."""
        return 0.5 * (self.low + self.high)


@dataclass(frozen=True, slots=True)
class Drying(_Sourced):
    """How long a damp sheet is dried before it is heated: 0 hours where it takes up no water."""

    low_h: float
    high_h: float
    at_c: float
    source: str
    mark: Mark


@dataclass(frozen=True, slots=True)
class Note(_Sourced):
    """Something to know, in words, with its source."""

    words: str
    source: str
    mark: Mark


def figure_from(where: str, entry: Any) -> Figure:
    """Read `{ value, source, mark }`.

    Parameters
    ----------
    where : what the entry is called, for the message
    entry : as a file holds it

    Returns
    -------
    Figure

    Raises
    ------
    JobError
        It is no such table.
    """
    source, mark = _origin(where, entry, {"value"})
    return Figure(_number(where, entry, "value"), source, mark)


def range_from(where: str, entry: Any) -> Range:
    """Read `{ low, high, source, mark }`, 0 < low <= high.

    Parameters
    ----------
    where : what the entry is called, for the message
    entry : as a file holds it

    Returns
    -------
    Range

    Raises
    ------
    JobError
        It is no such table.
    """
    source, mark = _origin(where, entry, {"low", "high"})
    low, high = _number(where, entry, "low"), _number(where, entry, "high")
    if not 0.0 < low <= high:
        raise JobError(f"{where}: 0 < low <= high is expected, got {low:g} and {high:g}")
    return Range(low, high, source, mark)


def drying_from(where: str, entry: Any) -> Drying:
    """Read `{ low_h, high_h, at_c, source, mark }`.

    Parameters
    ----------
    where : what the entry is called, for the message
    entry : as a file holds it

    Returns
    -------
    Drying

    Raises
    ------
    JobError
        It is no such table.
    """
    source, mark = _origin(where, entry, {"low_h", "high_h", "at_c"})
    low, high, at = (_number(where, entry, key) for key in ("low_h", "high_h", "at_c"))
    if not 0.0 <= low <= high:
        raise JobError(f"{where}: 0 <= low_h <= high_h is expected, got {low:g} and {high:g}")
    return Drying(low, high, at, source, mark)


def note_from(where: str, entry: Any) -> Note:
    """Read `{ words, source, mark }`.

    Parameters
    ----------
    where : what the entry is called, for the message
    entry : as a file holds it

    Returns
    -------
    Note

    Raises
    ------
    JobError
        It is no such table.
    """
    source, mark = _origin(where, entry, {"words"})
    words = entry.get("words")
    if not isinstance(words, str) or not words.strip():
        raise JobError(f"{where}: words in quotes are expected, got {words!r}")
    return Note(words, source, mark)


def _origin(where: str, entry: Any, keys: set[str]) -> tuple[str, Mark]:
    if not isinstance(entry, dict):
        raise JobError(f"{where}: a table with its source is expected, got {entry!r}")
    if unknown := entry.keys() - keys - {"source", "mark"}:
        raise JobError(
            f"{where}: {', '.join(sorted(unknown))} is not known; it has {', '.join(sorted(keys))}"
        )
    source, mark = entry.get("source"), entry.get("mark")
    if not isinstance(source, str) or not source.strip():
        raise JobError(f"{where}: the source is missing")
    if mark not in get_args(Mark):
        raise JobError(f"{where}: mark must be one of {get_args(Mark)}, got {mark!r}")
    return source, cast(Mark, mark)


def _number(where: str, entry: dict[str, Any], key: str) -> float:
    value = entry.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise JobError(f"{where}: {key} must be a number, got {value!r}")
    return float(value)
