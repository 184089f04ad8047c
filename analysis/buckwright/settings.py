"""Settings: each field of a table carries its label, tip, unit, range and kind, and checks its own values.

A table is a frozen attrs class whose fields are made by `number`, `choice` and the others below. Whatever
shows or reads settings (job files, the command line, panels, the guide) takes it from here, so that nothing
about a setting is written twice. Imports nothing heavy: Blender's own process reads it.
"""

import difflib
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import attrs

from buckwright.errors import JobError

__all__ = [
    "Kind",
    "Preset",
    "Setting",
    "amount_or_word",
    "choice",
    "direction",
    "known",
    "number",
    "pair",
    "places",
    "setting_of",
    "settings_of",
    "switch",
    "table_from",
    "text",
    "vector",
    "whole",
]

type Kind = Literal[
    "text", "number", "whole", "switch", "choice", "vector", "pair", "direction", "amount_or_word", "places"
]
type Preset = Literal["", "machine", "sheet"]

# No buck and no scene is larger; and a list this long is a mistake. House rules.
_FARTHEST_MM = 100_000.0
_MOST_PLACES = 5_000
_LONGEST_TEXT = 2_000
_SETTING = "buckwright_setting"


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What a field of a table is and how it may be set.

    Attributes
    ----------
    kind : which values it takes
    label : its name for people, in title case
    tip : what it does, one sentence without a full stop
    unit : 'mm', 'degrees', 's', 'kPa' or empty
    low, high : range of the number, or of each number of a list; infinite where there is none
    words : for a choice, direction or amount: label and tip of each word
    automatic : for a value that may be left out: what it then follows from
    start : what an optional value starts from when it is set by hand and no run has told the automatic one
    front : whether it stands in front, among the settings that are shown first
    preset : the kind of preset that holds it: 'machine', 'sheet', or none but that of a whole job
    in_scene : whether a program with a scene takes it from objects there instead of a field
    names_file : whether it names a file whose content counts, not its name
    size : numbers in each place; `least` of them are enough, the rest is 0
    longest : letters that a text may have
    replaces : keys of the same table that no longer hold once this one is set
    more : for a choice, what there is to add when a word is not known
    """

    kind: Kind
    label: str
    tip: str
    unit: str = ""
    low: float = -math.inf
    high: float = math.inf
    words: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    automatic: str = ""
    start: Any = None
    front: bool = False
    preset: Preset = ""
    in_scene: bool = False
    names_file: bool = False
    size: int = 0
    least: int = 0
    longest: int = _LONGEST_TEXT
    replaces: tuple[str, ...] = ()
    more: Callable[[], str] = str

    @property
    def optional(self) -> bool:
        """Whether it may be left out."""
        return bool(self.automatic)

    def read(self, value: Any, name: str) -> Any:
        """Check a value and bring it into the form that a table holds.

        Parameters
        ----------
        value : from a file, a command line or a program; lists and tuples are alike
        name : of the setting, for the message

        Raises
        ------
        JobError
            The value is of the wrong kind or out of range.
        """
        if value is None and self.optional:
            return None
        return _READERS[self.kind](self, value, name)

    def range_words(self) -> str:
        """The range in words: 'between 0.05 and 10 mm', or empty."""
        if not math.isfinite(self.low):
            return ""
        return f"between {self.low:g} and {self.high:g}{f' {self.unit}' if self.unit else ''}"


def _a_number(setting: Setting, value: Any, name: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        wanted = setting.range_words()
        raise JobError(f"{name} must be {wanted or 'a number'}, got {value!r}; it must be a number")
    if not setting.low <= value <= setting.high or not math.isfinite(value):
        raise JobError(f"{name} must be {setting.range_words() or 'a finite number'}, got {value!r}")
    return float(value)


def _a_whole(setting: Setting, value: Any, name: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise JobError(f"{name} must be a whole number {setting.range_words()}, got {value!r}")
    _a_number(setting, value, name)
    return value


def _a_text(setting: Setting, value: Any, name: str) -> str:
    if not isinstance(value, str):
        raise JobError(f"{name} must be text in quotes, got {value!r}")
    if len(value) > setting.longest:
        raise JobError(f"{name} holds {len(value)} letters; {setting.longest} are allowed")
    return value


def _a_switch(_setting: Setting, value: Any, name: str) -> bool:
    if not isinstance(value, bool):
        raise JobError(f"{name} must be true or false, got {value!r}")
    return value


def _a_word(setting: Setting, value: Any, name: str) -> str:
    if isinstance(value, str):
        if value in setting.words:
            return value
        for word in setting.words:  # capitals, hyphens, slashes and spaces do not matter
            if _plain(word) == _plain(value):
                return word
    more = f". {words}" if (words := setting.more()) else ""
    raise JobError(
        f"{name} must be one of {', '.join(setting.words)}; got {value!r}{_nearest(value, setting)}{more}"
    )


def _plain(word: str) -> str:
    return word.strip().lower().replace("-", "_").replace("/", "_").replace(" ", "_")


def _nearest(value: Any, setting: Setting) -> str:
    near = known(str(value), list(setting.words))
    return f" (did you mean {near}?)" if near else ""


def _numbers(setting: Setting, value: Any, name: str, count: int, words: str) -> tuple[float, ...]:
    if not isinstance(value, list | tuple) or len(value) != count:
        raise JobError(f"{name} must be {words}, got {value!r}")
    return tuple(_a_number(setting, entry, name) for entry in value)


def _a_pair(setting: Setting, value: Any, name: str) -> tuple[float, ...]:
    return _numbers(setting, value, name, 2, "two numbers")


def _a_vector(setting: Setting, value: Any, name: str) -> tuple[float, ...]:
    vector = _numbers(setting, value, name, 3, "three numbers")
    if not any(vector):
        raise JobError(f"{name} must not be the zero vector")
    return vector


def _a_direction(setting: Setting, value: Any, name: str) -> str | tuple[float, ...]:
    if isinstance(value, str):
        if value in setting.words:
            return value
        raise JobError(f"{name} must be one of {', '.join(setting.words)} or three numbers; got {value!r}")
    return _a_vector(setting, value, name)


def _an_amount_or_word(setting: Setting, value: Any, name: str) -> str | float:
    if isinstance(value, str):
        if value in setting.words:
            return value
        raise JobError(f"{name} must be {', '.join(setting.words)} or a number of mm; got {value!r}")
    return _a_number(setting, value, name)


def _some_places(setting: Setting, value: Any, name: str) -> tuple[tuple[float, ...], ...]:
    wanted = f"{name} must be a list of places, [{', '.join('xyzd'[: setting.size])}] each"
    if not isinstance(value, list | tuple):
        raise JobError(f"{wanted}, got {value!r}")
    if len(value) > _MOST_PLACES:
        raise JobError(f"{name} names {len(value)} places; {_MOST_PLACES} are allowed")
    return tuple(_place(setting, n, entry, name, wanted) for n, entry in enumerate(value, 1))


def _place(setting: Setting, n: int, value: Any, name: str, wanted: str) -> tuple[float, ...]:
    if not isinstance(value, list | tuple) or not setting.least <= len(value) <= setting.size:
        raise JobError(f"{wanted}, got {value!r} among them")
    for entry in value:
        whole = isinstance(entry, int | float) and not isinstance(entry, bool)
        if not whole or not abs(entry) <= _FARTHEST_MM:  # nan is not either
            reach = f"between -{_FARTHEST_MM:g} and {_FARTHEST_MM:g} mm"
            raise JobError(f"{name}: place {n} must be numbers {reach}, got {list(value)}")
    return tuple(float(entry) for entry in (*value, 0.0)[: setting.size])


_READERS: Mapping[str, Any] = {
    "text": _a_text,
    "number": _a_number,
    "whole": _a_whole,
    "switch": _a_switch,
    "choice": _a_word,
    "vector": _a_vector,
    "pair": _a_pair,
    "direction": _a_direction,
    "amount_or_word": _an_amount_or_word,
    "places": _some_places,
}


def _field(default: Any, setting: Setting) -> Any:
    convert: Any = attrs.Converter(lambda value, which: setting.read(value, which.name), takes_field=True)
    return attrs.field(default=default, converter=convert, metadata={_SETTING: setting})


def number(default: float | None, *, low: float, high: float, **words: Any) -> Any:
    """A field that holds a number in a closed range; optional where `automatic` is given."""
    return _field(default, Setting(kind="number", low=low, high=high, **words))


def whole(default: int, *, low: int, high: int, **words: Any) -> Any:
    """A field that holds a whole number in a closed range."""
    return _field(default, Setting(kind="whole", low=low, high=high, **words))


def text(default: str = "", **words: Any) -> Any:
    """A field that holds text."""
    return _field(default, Setting(kind="text", **words))


def switch(default: bool, **words: Any) -> Any:
    """A field that is on or off."""
    return _field(default, Setting(kind="switch", **words))


def choice(default: str | None, words: Mapping[str, tuple[str, str]], **more: Any) -> Any:
    """A field that holds one of several words, each with its label and tip."""
    return _field(default, Setting(kind="choice", words=words, **more))


def vector(default: tuple[float, float, float], **words: Any) -> Any:
    """A field that holds a vector, not zero."""
    return _field(default, Setting(kind="vector", **words))


def pair(default: tuple[float, float] | None, *, low: float, high: float, **words: Any) -> Any:
    """A field that holds two numbers in a closed range."""
    return _field(default, Setting(kind="pair", low=low, high=high, **words))


def direction(default: str, words: Mapping[str, tuple[str, str]], **more: Any) -> Any:
    """A field that holds a word for a direction, or a vector."""
    return _field(default, Setting(kind="direction", words=words, **more))


def amount_or_word(
    default: float | str, words: Mapping[str, tuple[str, str]], *, low: float, high: float, **more: Any
) -> Any:
    """A field that holds a number in a closed range, or a word."""
    return _field(default, Setting(kind="amount_or_word", words=words, low=low, high=high, **more))


def places(*, size: int, least: int = 0, **words: Any) -> Any:
    """A field that holds a list of places of `size` numbers each (`least` are enough), or nothing."""
    return _field(None, Setting(kind="places", size=size, least=least or size, **words))


def setting_of(entry: Any) -> Setting:
    """The setting of an attrs attribute of a table."""
    found: Setting = entry.metadata[_SETTING]
    return found


def settings_of(table: type) -> dict[str, Setting]:
    """All settings of a table by key, in the order in which they stand there."""
    return {entry.name: setting_of(entry) for entry in attrs.fields(table)}


def known(word: str, words: list[str]) -> str:
    """The known word that is nearest to a misspelt one; empty if none is near."""
    return next(iter(difflib.get_close_matches(word, words, n=1, cutoff=0.6)), "")


def table_from(table: type, values: Mapping[str, Any], *, title: str) -> tuple[Any, list[str]]:
    """Make a table from plain values.

    Parameters
    ----------
    table : attrs class
    values : by key
    title : of the table, for the messages

    Returns
    -------
    The table (None if a value cannot be used), and one line for each thing that is wrong.
    """
    settings, wrong = settings_of(table), []
    for key, value in values.items():
        if key not in settings:
            near = known(key, list(settings))
            hint = f" (did you mean {near}?)" if near else f"; it has {', '.join(settings)}"
            wrong.append(f"[{title}] has no setting {key!r}{hint}")
            continue
        try:
            settings[key].read(value, f"[{title}] {key}")
        except JobError as error:
            wrong.append(str(error))
    if wrong:
        return None, wrong
    try:
        return table(**values), []
    except JobError as error:
        return None, [f"[{title}] {error}"]
