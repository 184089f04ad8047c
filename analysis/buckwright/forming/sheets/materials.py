"""What is known of each sheet material, with the source of every figure. Decides nothing about geometry."""

import difflib
import functools
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal, cast, get_args

import numpy as np

from buckwright.errors import JobError

__all__ = ["Figure", "Mark", "Range", "SheetMaterial", "Structure", "load_sheets", "sheet"]

Mark = Literal["read", "second-hand", "from memory", "common practice, no source"]
Structure = Literal["amorphous", "semi-crystalline"]

_TABLE = Path(__file__).with_name("sheets.toml")


@dataclass(frozen=True, slots=True)
class Figure:
    """One number with its source; `mark` says how far the source was checked."""

    value: float
    source: str
    mark: Mark

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : value, source and mark
        """
        return {"value": self.value, "source": self.source, "mark": self.mark}


@dataclass(frozen=True, slots=True)
class Range:
    """A range that stays a range, `low` <= `high`, with its source."""

    low: float
    high: float
    source: str
    mark: Mark

    @property
    def middle(self) -> float:
        """The mean of both ends, where a single number must be chosen."""
        return 0.5 * (self.low + self.high)

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : low, high, source and mark
        """
        return {"low": self.low, "high": self.high, "source": self.source, "mark": self.mark}


@dataclass(frozen=True, slots=True)
class SheetMaterial:
    """One row of the table.

    Attributes
    ----------
    name : key of the table, e.g. ``HIPS``
    title : the same in words
    structure : ``amorphous`` or ``semi-crystalline``
    density_kg_m3, glass_transition_c : Figure
    shrinkage : Range of ratios, forming temperature to room; buck = part / (1 - shrinkage)
    male_draft_deg : Figure, wanted draft of a smooth male buck
    strain : Range of ratios that the cold part may be stretched once, for a short time
    vent_diameter_mm : Range of hole diameters at the face that do not mark
    """

    name: str
    title: str
    structure: Structure
    density_kg_m3: Figure
    glass_transition_c: Figure
    shrinkage: Range
    male_draft_deg: Figure
    strain: Range
    vent_diameter_mm: Range

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : texts, and one dict per figure or range
        """
        texts = {"name": self.name, "title": self.title, "structure": self.structure}
        rest = {field.name: getattr(self, field.name) for field in fields(self) if field.name not in texts}
        return texts | {key: value.to_dict() for key, value in rest.items()}


@functools.cache
def load_sheets(path: Path = _TABLE) -> Mapping[str, SheetMaterial]:
    """Read the table of sheets.

    Parameters
    ----------
    path : a TOML file of the same form as the one that comes with the library

    Returns
    -------
    Mapping of name to `SheetMaterial`, read-only, in the order of the file

    Raises
    ------
    JobError
        The file cannot be read, or a row lacks a figure, a source or a known mark.
    """
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise JobError(f"the table of sheets {path} cannot be read: {error}") from error
    return MappingProxyType({name: _material(name, row) for name, row in table.items()})


def sheet(name: str) -> SheetMaterial:
    """Look up one material; case, hyphens, slashes and spaces do not matter.

    Parameters
    ----------
    name : key of the table

    Returns
    -------
    SheetMaterial

    Raises
    ------
    JobError
        No such material; the message lists the names and the nearest one.

    Examples
    --------
    >>> sheet(" hips ").name
    'HIPS'
    """
    sheets = load_sheets()
    key = name.strip().upper().replace("-", "_").replace("/", "_").replace(" ", "_")
    if key in sheets:
        return sheets[key]
    near = difflib.get_close_matches(key, sheets, n=1, cutoff=0.5)
    hint = f" Did you mean {near[0]}?" if near else ""
    raise JobError(f"no sheet is called '{name}'.{hint} Known: {', '.join(sheets)}")


def _material(name: str, row: Any) -> SheetMaterial:
    if not isinstance(row, dict):
        raise JobError(f"sheet {name}: a table is expected, got {row!r}")
    missing = {field.name for field in fields(SheetMaterial)} - {"name"} - row.keys()
    if missing:
        raise JobError(f"sheet {name}: missing {', '.join(sorted(missing))}")
    if row["structure"] not in get_args(Structure):
        raise JobError(
            f"sheet {name}: structure must be one of {get_args(Structure)}, got {row['structure']!r}"
        )
    return SheetMaterial(
        name=name,
        title=str(row["title"]),
        structure=row["structure"],
        density_kg_m3=_figure(f"{name}.density_kg_m3", row["density_kg_m3"]),
        glass_transition_c=_figure(f"{name}.glass_transition_c", row["glass_transition_c"]),
        shrinkage=_range(f"{name}.shrinkage", row["shrinkage"]),
        male_draft_deg=_figure(f"{name}.male_draft_deg", row["male_draft_deg"]),
        strain=_range(f"{name}.strain", row["strain"]),
        vent_diameter_mm=_range(f"{name}.vent_diameter_mm", row["vent_diameter_mm"]),
    )


def _figure(where: str, entry: Any) -> Figure:
    source, mark = _origin(where, entry)
    return Figure(_number(where, entry, "value"), source, mark)


def _range(where: str, entry: Any) -> Range:
    source, mark = _origin(where, entry)
    low, high = _number(where, entry, "low"), _number(where, entry, "high")
    if not 0.0 < low <= high:
        raise JobError(f"{where}: 0 < low <= high is expected, got {low} and {high}")
    return Range(low, high, source, mark)


def _origin(where: str, entry: Any) -> tuple[str, Mark]:
    if not isinstance(entry, dict):
        raise JobError(f"{where}: a table with its source is expected, got {entry!r}")
    source, mark = entry.get("source"), entry.get("mark")
    if not isinstance(source, str) or not source.strip():
        raise JobError(f"{where}: the source is missing")
    if mark not in get_args(Mark):
        raise JobError(f"{where}: mark must be one of {get_args(Mark)}, got {mark!r}")
    return source, cast(Mark, mark)


def _number(where: str, entry: dict[str, Any], key: str) -> float:
    value = entry.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not np.isfinite(value):
        raise JobError(f"{where}: {key} must be a number, got {value!r}")
    return float(value)
