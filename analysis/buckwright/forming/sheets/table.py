"""The table of sheets: what is known of each, with the source of every figure."""

import functools
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal, get_args

from buckwright.errors import JobError
from buckwright.forming.sheets.figures import (
    Drying,
    Figure,
    Note,
    Range,
    drying_from,
    figure_from,
    note_from,
    range_from,
)

__all__ = [
    "SheetMaterial",
    "Structure",
    "amount_words",
    "label_of",
    "load_sheets",
    "plain_name",
    "sheets_from",
]

Structure = Literal["amorphous", "semi-crystalline"]

_TABLE = Path(__file__).with_name("sheets.toml")
_COLDEST_C, _HOTTEST_C = -273.15, 500.0
_READERS: Mapping[type, Callable[[str, Any], Any]] = {
    Figure: figure_from,
    Range: range_from,
    Drying: drying_from,
    Note: note_from,
}


_LABELS: Mapping[str, tuple[str, str, float]] = {
    "density_kg_m3": ("Density", "kg/m³", 1.0),
    "heat_capacity_j_kgk": ("Heat capacity", "J/(kg K)", 1.0),
    "melting_heat_kj_kg": ("Heat of melting", "kJ/kg", 1.0),
    "conductivity_w_mk": ("Conductivity", "W/(m K)", 1.0),
    "glass_transition_c": ("Glass transition", "°C", 1.0),
    "softening_c": ("Part softens", "°C", 1.0),
    "forming_lowest_c": ("Lowest to form (core)", "°C", 1.0),
    "forming_normal_c": ("Normal to form", "°C", 1.0),
    "forming_highest_c": ("Highest (surface)", "°C", 1.0),
    "release_c": ("Taken off below", "°C", 1.0),
    "shrinkage": ("Shrinkage", "%", 100.0),
    "male_draft_deg": ("Draft on a male buck", "°", 1.0),
    "draw_depth_ratio": ("Greatest depth over width", "", 1.0),
    "strain": ("Strain of the cold part, once and short", "%", 100.0),
    "vent_diameter_mm": ("Vent at the face", "mm", 1.0),
    "drying": ("Drying", "", 1.0),
    "sag_share": ("Sag over opening", "%", 100.0),
    "cue": ("While heating", "", 1.0),
    "fume": ("Fume", "", 1.0),
    "finishing": ("Finishing", "", 1.0),
}
"""Label and unit of an entry for people, and what its number is multiplied by for them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetMaterial:
    """One row of the table.

    Attributes
    ----------
    name : key of the table, e.g. ``HIPS``
    title : the same in words
    structure : ``amorphous`` or ``semi-crystalline``
    density_kg_m3, conductivity_w_mk, heat_capacity_j_kgk : of the solid sheet
    melting_heat_kj_kg : taken up between softening and forming; 0 where nothing melts
    glass_transition_c : Figure
    softening_c : the cold part deflects under load (at 0.45 MPa where it is known)
    forming_lowest_c, forming_normal_c, forming_highest_c : of the core, usually, and of the surface
    release_c : at which the part may be taken off the buck
    shrinkage : Range of ratios, forming temperature to room; buck = part / (1 - shrinkage)
    male_draft_deg : Figure, wanted draft of a smooth male buck
    draw_depth_ratio : greatest depth over the smaller width without a plug
    strain : Range of ratios that the cold part may be stretched once, for a short time
    vent_diameter_mm : Range of hole diameters at the face that do not mark
    drying : hours at a temperature
    sag_share : sag of the ready sheet over the smaller width of the frame's opening
    cue, fume, finishing : what it does while it heats; what it gives off; which coats hold and which crack
    """

    name: str
    title: str
    structure: Structure
    density_kg_m3: Figure
    heat_capacity_j_kgk: Figure
    melting_heat_kj_kg: Figure
    conductivity_w_mk: Figure
    glass_transition_c: Figure
    softening_c: Range
    forming_lowest_c: Range
    forming_normal_c: Range
    forming_highest_c: Range
    release_c: Figure
    shrinkage: Range
    male_draft_deg: Figure
    draw_depth_ratio: Range
    strain: Range
    vent_diameter_mm: Range
    drying: Drying
    sag_share: Range
    cue: Note
    fume: Note
    finishing: Note

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : texts, and one dict per figure, range or note
        """
        texts = {"name": self.name, "title": self.title, "structure": self.structure}
        return texts | {key: getattr(self, key).to_dict() for key in _entries()}


@functools.cache
def _entries() -> Mapping[str, type]:
    """Kind of each entry that carries a source, by key."""
    kinds = {one.name: one.type for one in fields(SheetMaterial)}
    return {key: kind for key, kind in kinds.items() if isinstance(kind, type) and kind in _READERS}


def label_of(key: str) -> tuple[str, str, float]:
    """How an entry is called and shown.

    Parameters
    ----------
    key : of the entry

    Returns
    -------
    Label and unit for people, and what its number is multiplied by for them.
    """
    return _LABELS[key]


def amount_words(key: str, entry: Mapping[str, Any]) -> str:
    """The value of an entry in words with its unit.

    Parameters
    ----------
    key : of the entry
    entry : as plain values

    Returns
    -------
    str

    Examples
    --------
    >>> amount_words("shrinkage", {"low": 0.004, "high": 0.007})
    '0.4 to 0.7 %'
    """
    _, unit, times = label_of(key)
    if "words" in entry:
        return str(entry["words"])
    if "at_c" in entry:
        hours = _span(entry["low_h"], entry["high_h"])
        return f"{hours} h at {entry['at_c']:g} °C" if entry["high_h"] > 0.0 else "not needed"
    if "value" in entry:
        return f"{entry['value'] * times:g} {unit}".strip()
    return f"{_span(entry['low'] * times, entry['high'] * times)} {unit}".strip()


def _span(low: float, high: float) -> str:
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


@functools.cache
def load_sheets(path: Path = _TABLE) -> Mapping[str, SheetMaterial]:
    """Read a table of sheets.

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
    return MappingProxyType(sheets_from(_rows(path)))


def _rows(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        raise JobError(f"the table of sheets {path} cannot be read: {error}") from error


def sheets_from(rows: Mapping[str, Any]) -> dict[str, SheetMaterial]:
    """Sheets from plain rows.

    Parameters
    ----------
    rows : by name, as a file holds them

    Returns
    -------
    dict of name to `SheetMaterial`

    Raises
    ------
    JobError
        A row lacks a figure, a source or a known mark, or its figures contradict each other.
    """
    return {name: _material(name, row) for name, row in rows.items()}


def plain_name(name: str) -> str:
    """A name as the table has it: case, hyphens, slashes and spaces do not matter.

    Parameters
    ----------
    name : as somebody wrote it

    Returns
    -------
    str : capitals, joined by underscores
    """
    return name.strip().upper().replace("-", "_").replace("/", "_").replace(" ", "_")


def _material(name: str, row: Any) -> SheetMaterial:
    if not isinstance(row, dict):
        raise JobError(f"sheet {name}: a table is expected, got {row!r}")
    wanted = {one.name for one in fields(SheetMaterial)} - {"name"}
    if missing := wanted - row.keys():
        raise JobError(f"sheet {name}: missing {', '.join(sorted(missing))}")
    if unknown := row.keys() - wanted:
        raise JobError(
            f"sheet {name}: {', '.join(sorted(unknown))} is not known; it has {', '.join(sorted(wanted))}"
        )
    if row["structure"] not in get_args(Structure):
        raise JobError(
            f"sheet {name}: structure must be one of {get_args(Structure)}, got {row['structure']!r}"
        )
    entries = {key: _READERS[kind](f"{name}.{key}", row[key]) for key, kind in _entries().items()}
    material = SheetMaterial(name=name, title=str(row["title"]), structure=row["structure"], **entries)
    _check(material)
    return material


def _check(one: SheetMaterial) -> None:
    """Refuse figures that contradict each other."""
    for key in ("density_kg_m3", "heat_capacity_j_kgk", "conductivity_w_mk"):
        if getattr(one, key).value <= 0.0:
            raise JobError(f"{one.name}.{key}: a number above 0 is expected")
    if one.melting_heat_kj_kg.value < 0.0:
        raise JobError(f"{one.name}.melting_heat_kj_kg: 0 or more is expected")
    if one.shrinkage.high >= 1.0:
        raise JobError(f"{one.name}.shrinkage: ratios below 1 are expected (0.005 is 0.5 %)")
    steps = {
        "release_c": one.release_c.value,
        "forming_lowest_c": one.forming_lowest_c.high,
        "forming_normal_c": one.forming_normal_c.middle,
        "forming_highest_c": one.forming_highest_c.low,
    }
    for (key, below), (following, above) in zip(list(steps.items()), list(steps.items())[1:]):
        if not _COLDEST_C < below < above < _HOTTEST_C:
            raise JobError(f"{one.name}: {key} must be below {following} (°C), got {below:g} and {above:g}")
