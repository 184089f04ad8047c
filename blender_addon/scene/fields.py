"""The settings of the job as Blender keeps them: one `Field` for each, and how its value becomes properties.

Everything about a setting (label, tip, unit, range, words) is declared in the library; a table that a stage
adds there turns up here by itself. This module must not import Blender.
"""

import math
import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import attrs

from ..bridge.library import Setting, settings_of, tables

__all__ = [
    "FROM_OBJECTS",
    "Field",
    "field_of",
    "fields",
    "fields_of",
    "files_of_job",
    "kept_lists",
    "same_stored",
    "titles_of",
]

FROM_OBJECTS = frozenset(
    {
        ("vents", "at_mm"),
        ("base", "outline_mm"),
        ("edge", "rivets_mm"),
        ("edge", "slots_mm"),
        ("edge", "fans_mm"),
        ("printer", "planes_mm"),
    }
)
"""Lists that markers, the curve and split planes of a scene stand for (see `job_tables`)."""

_AUTOMATIC = {"automatic": ("Automatic", "Leave it to the rule")}
_VECTOR = {"vector": ("Own Direction", "Along a direction that is set here")}
_AMOUNT = {"amount": ("Amount", "By an amount that is set here")}
_SHOWN_BY_BLENDER = ("", "mm", "degrees")


@dataclass(frozen=True, slots=True)
class Field:
    """One key of the job that properties hold.

    Attributes
    ----------
    table, key : where it stands in the job file
    setting : what the library declares about it
    default : the library's; None where the value follows from others
    """

    table: str
    key: str
    setting: Setting
    default: Any

    @property
    def kind(self) -> str:
        """Which values it takes."""
        return self.setting.kind

    @property
    def prop(self) -> str:
        """Name of the property: the key; an angle, which Blender keeps in radians, says `_angle`."""
        return self.key.removesuffix("_deg") + "_angle" if self.is_angle else self.key

    @property
    def auto(self) -> str:
        """Name of the switch beside an optional setting: on while the value follows from others."""
        return f"auto_{self.key}"

    @property
    def has_auto(self) -> bool:
        """Whether there is such a switch; a choice has a word for it instead."""
        return self.setting.optional and self.kind != "choice"

    @property
    def is_angle(self) -> bool:
        """Whether the value is an angle."""
        return self.setting.unit == "degrees"

    @property
    def is_share(self) -> bool:
        """Whether the value is a share of something."""
        one = self.setting
        return self.kind == "number" and not one.unit and one.low >= 0.0 and one.high <= 1.0

    @property
    def words(self) -> Mapping[str, tuple[str, str]]:
        """The words of the choice that this field offers, each with label and tip; empty for other fields."""
        words = self.setting.words
        match self.kind:
            case "direction":
                return {**words, **_VECTOR}
            case "amount_or_word":
                return {**_AMOUNT, **words}
            case "choice":
                return {**_AUTOMATIC, **words} if self.setting.optional else words
        return {}

    @property
    def mode(self) -> str:
        """Name of the property that holds the word, where there is one."""
        return f"{self.key.removesuffix('_mm')}_to" if self.kind == "amount_or_word" else self.key

    def holds_word(self, name: str) -> bool:
        """Whether a property of this field holds a word."""
        return bool(self.words) and name == self.mode

    @property
    def vector(self) -> str:
        """Name of the property that holds the vector of a direction."""
        return f"{self.key}_vector"

    @property
    def heading(self) -> str:
        """The label, with the unit where Blender shows none beside the number."""
        unit = self.setting.unit
        return self.setting.label if unit in _SHOWN_BY_BLENDER else f"{self.setting.label} ({unit})"

    def start(self) -> Any:
        """The value that properties start with."""
        if self.default is not None:
            return self.default
        if self.setting.start is not None:
            return self.setting.start
        number = _within(self.setting)
        starts: dict[str, Any] = {
            "text": "",
            "number": number,
            "whole": round(number),
            "switch": False,
            "vector": (0.0, 0.0, 1.0),
            "pair": (number, number),
        }
        return starts[self.kind] if self.kind in starts else next(iter(self.words))

    def told(self, value: Any) -> str:
        """A value in words: '4.2 mm'."""
        if not isinstance(value, int | float | list | tuple):
            return str(value)
        numbers = value if isinstance(value, list | tuple) else [value]
        digits = 4 if len(numbers) == 1 else 3
        text = " x ".join(f"{float(f'{number:.{digits}g}'):g}" for number in numbers)
        return f"{text}°" if self.is_angle else f"{text} {self.setting.unit}".rstrip()

    def to_props(self, value: Any) -> dict[str, Any]:
        """Properties that hold a value of the job (None: left out)."""
        props: dict[str, Any] = {self.auto: value is None} if self.has_auto else {}
        if value is None and self.has_auto:
            return props
        match self.kind:
            case "direction":
                word = isinstance(value, str)
                return {self.key: value if word else "vector"} | ({} if word else {self.vector: tuple(value)})
            case "amount_or_word":
                word = isinstance(value, str)
                return {self.mode: value if word else "amount"} | ({} if word else {self.key: value})
            case "choice":
                return {self.key: "automatic" if value is None else value}
            case "vector" | "pair":
                return props | {self.key: tuple(value)}
        return props | {self.prop: math.radians(value) if self.is_angle else value}

    def from_props(self, props: dict[str, Any]) -> Any:  # noqa: PLR0911  (one return a kind)
        """The value of the job that properties stand for (None: left out)."""
        if self.has_auto and props[self.auto]:
            return None
        value = props[self.mode if self.words else self.prop]
        match self.kind:
            case "direction":
                return [_decimal(v) for v in props[self.vector]] if value == "vector" else value
            case "amount_or_word":
                return _decimal(props[self.key]) if value == "amount" else value
            case "choice":
                return None if self.setting.optional and value == "automatic" else value
            case "vector" | "pair":
                return [_decimal(v) for v in value]
            case "number":
                # A radian in single precision is good for six digits of a degree.
                return float(f"{math.degrees(value):.6g}") if self.is_angle else _decimal(value)
        return value

    def props(self) -> dict[str, Any]:
        """All properties of this field with the values they start with."""
        begun = self.to_props(self.start())
        if self.kind == "direction":
            begun = {self.vector: (0.0, 0.0, 1.0)} | begun
        if self.kind == "amount_or_word":
            begun = {self.key: max(self.setting.low, 0.0)} | begun
        return begun | ({self.auto: self.default is None} if self.has_auto else {})


def _within(setting: Setting) -> float:
    """A number well inside a range, so that nobody starts from an end of it."""
    if not math.isfinite(setting.low) or not math.isfinite(setting.high):
        return 0.0
    return math.sqrt(setting.low * setting.high) if setting.low > 0.0 else (setting.low + setting.high) / 2.0


def _decimal(single: float) -> float:
    """The shortest decimal number that a single stands for: 0.02, not 0.019999999552965164."""
    for digits in range(6, 10):
        text = float(f"{single:.{digits}g}")
        if _single(text) == _single(single):
            return text
    return float(single)


def _single(value: float) -> float:
    return float(struct.unpack("f", struct.pack("f", value))[0])


def same_stored(one: Any, other: Any) -> bool:
    """Whether Blender keeps both values as the same property value."""
    if isinstance(one, tuple | list):
        return len(one) == len(other) and all(same_stored(a, b) for a, b in zip(one, other, strict=True))
    if isinstance(one, float) or isinstance(other, float):
        return _single(one) == _single(other)
    return bool(one == other)


@cache
def fields() -> tuple[Field, ...]:
    """Every setting of the job that properties hold, in the order of the library."""
    return fields_of(tables())


@cache
def files_of_job() -> tuple[tuple[str, str], ...]:
    """Settings that name a file, by table and key, but for the sculpt, which comes from the scene."""
    every = (*_each(tables(), listed=False), *_each(tables(), listed=True))
    return tuple((one.table, one.key) for one in every if one.setting.names_file and one.table != "sculpt")


def fields_of(declared: Mapping[str, type]) -> tuple[Field, ...]:
    """The same for any tables of settings."""
    return tuple(_each(declared, listed=False))


@cache
def field_of(table: str, key: str) -> Field:
    """One of them.

    Raises
    ------
    StopIteration
        No property holds such a key.
    """
    return next(one for one in fields() if (one.table, one.key) == (table, key))


@cache
def kept_lists() -> tuple[tuple[str, str], ...]:
    """Lists that an opened job may hold, and that a scene only keeps: table and key."""
    found = ((one.table, one.key) for one in _each(tables(), listed=True))
    return tuple(place for place in found if place not in FROM_OBJECTS)


def _each(declared: Mapping[str, type], *, listed: bool) -> Iterator[Field]:
    """The settings that properties hold, or (listed) those that none can hold."""
    for table, kind in declared.items():
        defaults = {entry.name: entry.default for entry in attrs.fields(kind)}
        for key, setting in settings_of(kind).items():
            if (setting.in_scene or setting.kind == "places") == listed:
                yield Field(table, key, setting, defaults[key])


def titles_of(declared: Mapping[str, type]) -> dict[str, str]:
    """Headings of tables: what their docstrings say before the colon."""
    return {name: (kind.__doc__ or name.title()).partition(":")[0] for name, kind in declared.items()}
