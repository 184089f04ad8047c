"""The table of settings: one `Field` for each key of the job, and how its value becomes properties.

Made from the library's own classes, so that no setting can be missing; `words.py` adds labels and tips.
This module must not import Blender.
"""

import math
import struct
import types
import typing
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, partial
from typing import Any, Literal

import attrs

from ..bridge.library import Job, sheet_titles
from .words import WORDS

__all__ = ["BY_HAND", "KEPT", "Field", "Kind", "fields", "same_stored"]

type Kind = Literal[
    "text", "number", "whole", "switch", "choice", "sheet", "vector", "pair", "direction", "sink"
]

KEPT = (("vents", "platen_holes_mm"),)
"""Lists that an opened job may hold and a scene only keeps."""
BY_HAND = {("vents", "at_mm"), ("base", "outline_mm"), *KEPT}
"""Keys that no property holds: they are read from the markers and the curve in the scene, or kept."""

AXES = ("search", "x", "y", "z", "-x", "-y", "-z")
_VECTOR, _AMOUNT, _NOT_SAID = "vector", "amount", "not said"
_KINDS: dict[tuple[str, str], Kind] = {
    ("sheet", "material"): "sheet",
    ("pull", "direction"): "direction",
    ("base", "sink_mm"): "sink",
}
# Ranges that the library checks by hand (job.py, __attrs_post_init__).
_RANGES = {("base", "sink_mm"): (0.0, 5000.0), ("base", "most_mm"): (10.0, 10000.0)}
# What an optional number starts from when it is first set by hand; the library works these out itself.
_STARTS: dict[tuple[str, str], Any] = {
    ("sculpt", "width_mm"): 150.0,
    ("sculpt", "depth_mm"): 150.0,
    ("sculpt", "height_mm"): 150.0,
    ("draft", "wanted_deg"): 3.0,
    ("fill", "cell_mm"): 0.5,
    ("fit", "shrinkage"): 0.005,
    ("fit", "formed_thickness_mm"): 0.5,
    ("base", "riser_mm"): 10.0,
    ("base", "flange_mm"): 20.0,
    ("base", "land_mm"): 5.0,
    ("base", "fillet_mm"): 1.0,
    ("base", "most_mm"): (200.0, 200.0),
    ("vents", "min_pocket_mm"): 0.3,
    ("vents", "hole_mm"): 0.8,
}


@dataclass(frozen=True, slots=True)
class Field:
    """One key of the job.

    Attributes
    ----------
    table, key : where it stands in the job file
    kind : which properties hold it
    default : the library's; None where the value follows from others
    optional : whether it may be left out
    low, high : range; infinite where there is none
    choices : the words of a choice, in the library's order
    label, tip : for people
    """

    table: str
    key: str
    kind: Kind
    default: Any
    optional: bool
    low: float
    high: float
    choices: tuple[str, ...]
    label: str
    tip: str

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
        return self.optional and self.kind != "choice"

    @property
    def is_angle(self) -> bool:
        """Whether the value is an angle."""
        return self.key.endswith("_deg")

    @property
    def words(self) -> tuple[str, ...]:
        """The words of the choice that this field offers."""
        extra = {"direction": (*AXES, _VECTOR), "sink": (_AMOUNT, "widest"), "sheet": tuple(sheet_titles())}
        return extra.get(self.kind) or ((_NOT_SAID, *self.choices) if self.optional else self.choices)

    @property
    def mode(self) -> str:
        """Name of the property that holds the word of a direction or a sink."""
        return {"sink": "sink_to"}.get(self.kind, self.key)

    def start(self) -> Any:
        """The value that properties start with."""
        if self.default is not None:
            return self.default
        least = max(self.low, 0.0)
        plain: dict[str, Any] = {"pair": (least, least), "vector": (0.0, 0.0, 1.0)}
        return _STARTS.get((self.table, self.key), plain.get(self.kind, least))

    def to_props(self, value: Any) -> dict[str, Any]:
        """Properties that hold a value of the job (None: left out)."""
        props: dict[str, Any] = {self.auto: value is None} if self.has_auto else {}
        if value is None and self.has_auto:
            return props
        match self.kind:
            case "direction":
                word = isinstance(value, str)
                return {self.key: value if word else _VECTOR} | (
                    {} if word else {"direction_vector": tuple(value)}
                )
            case "sink":
                return {self.mode: "widest"} if value == "widest" else {self.mode: _AMOUNT, self.key: value}
            case "choice":
                return {self.key: _NOT_SAID if value is None else value}
            case "vector" | "pair":
                return props | {self.key: tuple(value)}
        return props | {self.prop: math.radians(value) if self.is_angle else value}

    def from_props(self, props: dict[str, Any]) -> Any:  # noqa: PLR0911  (one return a kind)
        """The value of the job that properties stand for (None: left out)."""
        if self.has_auto and props[self.auto]:
            return None
        value = props[self.mode if self.kind in ("direction", "sink") else self.prop]
        match self.kind:
            case "direction":
                return [_decimal(v) for v in props["direction_vector"]] if value == _VECTOR else value
            case "sink":
                return value if value == "widest" else _decimal(props[self.key])
            case "choice":
                return None if value == _NOT_SAID else value
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
            begun = {"direction_vector": (0.0, 0.0, 1.0)} | begun
        if self.kind == "sink":
            begun = {self.key: 0.0} | begun
        if self.kind == "choice" and self.default is None:
            begun[self.key] = _NOT_SAID
        return begun | ({self.auto: self.default is None} if self.has_auto else {})


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
    """Every key of the job that properties hold, in the order of the library."""
    return tuple(_all())


def _all() -> Iterator[Field]:
    for table in attrs.fields(Job):
        if table.name == "folder":
            continue
        assert table.type is not None
        for entry in attrs.fields(table.type):
            if (table.name, entry.name) not in BY_HAND:
                yield _field(table.name, entry)


def _field(table: str, entry: Any) -> Field:
    name = (table, entry.name)
    kind, optional, choices = _kind_of(entry.type)
    low, high = _range_of(entry.validator) or _RANGES.get(name, (-math.inf, math.inf))
    label, tip = WORDS.get(name, (entry.name.replace("_", " ").title(), ""))
    kind = _KINDS.get(name, kind)
    return Field(table, entry.name, kind, entry.default, optional, low, high, choices, label, tip)


def _kind_of(annotation: Any) -> tuple[Kind, bool, tuple[str, ...]]:
    """Kind, whether it may be left out, and words of a choice; a named type is what it stands for."""
    union = typing.get_origin(annotation) in (types.UnionType, typing.Union)
    named = typing.get_args(annotation) if union else (annotation,)
    parts = [getattr(part, "__value__", part) for part in named]
    optional = types.NoneType in parts
    main = next(part for part in parts if part is not types.NoneType)
    if typing.get_origin(main) is Literal:
        return "choice", optional, typing.get_args(main)
    if typing.get_origin(main) is tuple:
        return ("pair" if len(typing.get_args(main)) == 2 else "vector"), optional, ()
    kinds: dict[Any, Kind] = {str: "text", bool: "switch", int: "whole", float: "number"}
    return kinds[main], optional, ()


def _range_of(validator: Any) -> tuple[float, float] | None:
    """The range that a validator of the library checks."""
    if isinstance(validator, partial):
        return float(validator.args[0]), float(validator.args[1])
    return None
