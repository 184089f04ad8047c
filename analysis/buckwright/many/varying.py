"""Settings that vary: `base.riser_mm=8:24:4` is a range, `sheet.thickness_mm=0.5,0.75` a list."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from buckwright.errors import InputError
from buckwright.settings import Setting, known
from buckwright.stages import all_settings

__all__ = ["Varied", "varied_from"]

_MOST_VALUES = 1_000  # house rule
# So that 0.1:0.3:0.1 ends with 0.3.
_DIGITS = 10


@dataclass(frozen=True, slots=True)
class Varied:
    """A setting and the values that it takes.

    Attributes
    ----------
    name : 'table.key'
    values : as a job file would hold them
    """

    name: str
    values: tuple[Any, ...]


def varied_from(words: str, plain: Callable[[Setting, str], Any]) -> Varied:
    """Read one setting with its values.

    Parameters
    ----------
    words : 'table.key=low:high:step', or 'table.key=' and values with commas between them; values that are
        several numbers themselves have semicolons between them
    plain : (setting, text) -> one value as a job file would hold it

    Returns
    -------
    Varied : the values checked, each once

    Raises
    ------
    InputError
        The words cannot be read, or there is no such setting.
    JobError
        A value that the setting does not take.
    """
    name, given, text = words.partition("=")
    name = name.strip()
    if not given or not text.strip():
        raise InputError(f"{words!r} must be TABLE.KEY=LOW:HIGH:STEP or TABLE.KEY=VALUE,VALUE,...")
    setting = _setting(name)
    parts = text.split(";") if ";" in text else text.split(",")
    span = _span(name, text) if len(parts) == 1 and text.count(":") == 2 else None
    values = [plain(setting, part.strip()) for part in (parts if span is None else span)]
    for value in values:
        setting.read(value, name)
    return Varied(name, tuple(dict.fromkeys(_frozen(value) for value in values)))


def _setting(name: str) -> Setting:
    settings = all_settings()
    if name not in settings:
        near = known(name, list(settings))
        hint = f"; did you mean {near}?" if near else "; 'buckwright settings' lists them"
        raise InputError(f"there is no setting {name!r}{hint}")
    return settings[name]


def _span(name: str, text: str) -> list[str]:
    """Numbers from low to high as they are written, both included where the step meets them."""
    try:
        low, high, step = (float(part) for part in text.split(":"))
    except ValueError as error:
        raise InputError(f"{name}: {text!r} must be three numbers LOW:HIGH:STEP") from error
    if not all(map(math.isfinite, (low, high, step))) or step <= 0.0 or high < low:
        raise InputError(f"{name}: {text!r} needs a step above 0 and LOW not above HIGH")
    count = math.floor((high - low) / step + 1e-9) + 1
    if count > _MOST_VALUES:
        raise InputError(f"{name}: {text!r} gives {count:,} values; at most {_MOST_VALUES:,} are taken")
    return [repr(round(low + n * step, _DIGITS)) for n in range(count)]


def _frozen(value: Any) -> Any:
    return tuple(_frozen(part) for part in value) if isinstance(value, list) else value
