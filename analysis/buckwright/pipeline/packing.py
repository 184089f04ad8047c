"""Results of stages as plain values and arrays, and back; no code is ever read from them."""

import hashlib
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.shape.solid_arrays import Body, SolidArrays

__all__ = ["Packer", "digest_of", "unpacked"]

type Tree = Any
"""JSON: numbers, text, truth values and null as they are; everything else as {kind: content}."""


_ROOT = __name__.split(".pipeline.")[0]  # the extension carries the library under another name
_PLACE = re.compile(r"(\.[a-z_][a-z0-9_]*)+:[A-Za-z_][A-Za-z0-9_]*")


class Packer:
    """Takes results apart; arrays that are one object stay one.

    Of dataclasses only those of this library may occur: their names are looked up in it when they are read.
    Objects of the kinds `left_out` become None: they can be made anew from the rest.
    """

    def __init__(self, left_out: tuple[type, ...] = ()) -> None:
        self._left_out = left_out
        self.arrays: list[NDArray[Any]] = []
        self._known: dict[int, int] = {}

    def packed(self, value: Any) -> Tree:  # noqa: PLR0911  (one for each kind)
        """The tree of a value; its arrays are added to `arrays`.

        Raises
        ------
        TypeError
            Something inside is none of what results are made of.
        """
        if value is None or isinstance(value, self._left_out):
            return None
        if isinstance(value, str):
            return value
        if isinstance(value, np.ndarray | np.generic):
            return {"array": self._index(value), "single": not isinstance(value, np.ndarray)}
        if isinstance(value, bool | int | float):
            return value
        if isinstance(value, tuple):
            return {"tuple": [self.packed(entry) for entry in value]}
        if isinstance(value, list):
            return {"list": [self.packed(entry) for entry in value]}
        if isinstance(value, Mapping):
            return {"map": [[self.packed(key), self.packed(entry)] for key, entry in value.items()]}
        if isinstance(value, Path):
            return {"path": str(value)}
        if isinstance(value, Body):
            return {"body": self.packed(value.arrays)}
        if is_dataclass(value) and type(value).__module__.startswith(f"{_ROOT}."):
            content = {field.name: self.packed(getattr(value, field.name)) for field in fields(value)}
            return {"record": _place_of(type(value)), "fields": content}
        raise TypeError(f"a stage cannot keep {type(value).__name__}")

    def _index(self, value: Any) -> int:
        number = self._known.get(id(value))
        if number is None:
            number = self._known[id(value)] = len(self.arrays)
            # holding on to the value keeps its id from being given to another
            self.arrays.append(value)
        return number


def digest_of(value: Any) -> str:
    """A hash of a result by what it holds.

    Raises
    ------
    TypeError
        Something inside is none of what results are made of.
    """
    packer = Packer()
    digest = hashlib.sha256(json.dumps(packer.packed(value), sort_keys=True).encode())
    for array in packer.arrays:
        whole = np.ascontiguousarray(array)
        digest.update(f"{whole.dtype.str}{whole.shape}".encode())
        digest.update(whole.tobytes())
    return digest.hexdigest()


def _place_of(kind: type) -> str:
    """Module within this library, and name."""
    return f"{kind.__module__.removeprefix(_ROOT)}:{kind.__qualname__}"


def _kind_at(place: str) -> type:
    """The dataclass at a place; nothing outside of this library is looked up."""
    if not _PLACE.fullmatch(place):
        raise ValueError(f"no record can be at {place!r}")
    module, _, name = place.partition(":")
    try:
        kind = getattr(import_module(_ROOT + module), name)
    except (ImportError, AttributeError) as error:
        raise ValueError(f"there is no record at {place!r}") from error
    if not (isinstance(kind, type) and is_dataclass(kind)):
        raise ValueError(f"{place!r} is no record")
    return kind


def unpacked(tree: Tree, arrays: Callable[[int], NDArray[Any]]) -> Any:  # noqa: PLR0911  (one for each kind)
    """Put a result together again.

    Parameters
    ----------
    tree : from `Packer.packed`
    arrays : array of each number

    Raises
    ------
    ValueError, KeyError
        The tree is none, or names a record or field that is not known.
    """

    def inner(entry: Tree) -> Any:
        return unpacked(entry, arrays)

    if not isinstance(tree, dict):
        if isinstance(tree, list):
            raise ValueError("a list must say what it is")
        return tree
    match tree:
        case {"array": int(number), "single": single}:
            array = arrays(number)
            return array[()] if single else array
        case {"tuple": list(entries)}:
            return tuple(inner(entry) for entry in entries)
        case {"list": list(entries)}:
            return [inner(entry) for entry in entries]
        case {"map": list(entries)}:
            return {inner(key): inner(entry) for key, entry in entries}
        case {"path": str(path)}:
            return Path(path)
        case {"body": content}:
            held = inner(content)
            if not isinstance(held, SolidArrays):
                raise ValueError("a body without its arrays")
            return Body(held)
        case {"record": str(name), "fields": dict(content)}:
            return _record(_kind_at(name), {key: inner(entry) for key, entry in content.items()})
    raise ValueError(f"unknown entry with {sorted(tree)}")


def _record(kind: type, content: dict[str, Any]) -> Any:
    """An instance with just these fields; they were checked when the first one was made."""
    if {field.name for field in fields(kind)} != set(content):
        raise ValueError(f"{kind.__name__} has other fields now")
    record: Any = object.__new__(kind)
    for name, value in content.items():
        object.__setattr__(record, name, value)
    return record
