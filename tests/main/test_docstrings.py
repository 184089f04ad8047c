"""Public names say what they are, what goes in (with unit and shape) and what comes out."""

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from types import ModuleType
from typing import Any

import pytest

ROOMS = ("mesh", "relief", "survey", "shape", "forming", "output", "kernel", "errors")
LEAST_SHARE = 0.8
SECTION = re.compile(r"^(\w[\w ]*)\n-{3,}$", re.MULTILINE)


def _modules(room: str) -> list[ModuleType]:
    top = importlib.import_module(f"buckwright.{room}")
    below = pkgutil.walk_packages(getattr(top, "__path__", []), f"buckwright.{room}.")
    return [top, *(importlib.import_module(module.name) for module in below)]


def _public(room: str) -> Iterator[tuple[str, Any]]:
    """Functions and classes named in `__all__` where they are defined, compiled loops as their source."""
    for module in _modules(room):
        for name in getattr(module, "__all__", ()):
            found = getattr(module, name)
            found = getattr(found, "py_func", found)
            if (inspect.isclass(found) or inspect.isfunction(found)) and found.__module__ == module.__name__:
                yield f"{module.__name__}.{name}", found


def _functions(room: str) -> Iterator[tuple[str, Callable[..., Any]]]:
    """Public functions, and public methods of public classes; properties are too short for sections."""
    for name, found in _public(room):
        if inspect.isfunction(found):
            yield name, found
            continue
        for key, value in vars(found).items():
            method = getattr(value, "__func__", value)
            if not key.startswith("_") and inspect.isfunction(method):
                yield f"{name}.{key}", method


def _sections(function: Callable[..., Any]) -> dict[str, str]:
    text = inspect.getdoc(function) or ""
    heads = list(SECTION.finditer(text))
    starts = [*(head.start() for head in heads), len(text)]
    return {head[1]: text[head.end() : end] for head, end in zip(heads, starts[1:], strict=True)}


def _arguments(function: Callable[..., Any]) -> list[str]:
    return [name for name in inspect.signature(function).parameters if name not in ("self", "cls")]


def _missing(function: Callable[..., Any]) -> list[str]:
    """The sections that a function owes its reader and does not have."""
    has = _sections(function).keys()
    missing = []
    if _arguments(function) and "Parameters" not in has:
        missing.append("Parameters")
    if inspect.signature(function).return_annotation not in (None, inspect.Signature.empty):
        missing += [] if has & {"Returns", "Yields"} else ["Returns"]
    return missing


def _described(function: Callable[..., Any]) -> list[str]:
    """Names that the section Parameters describes."""
    lines = _sections(function).get("Parameters", "").splitlines()
    heads = [line.split(" : ")[0] for line in lines if line and not line.startswith(" ")]
    return [name.strip("` *") for head in heads for name in head.split(",")]


def _said(found: Any) -> bool:
    words = (found.__doc__ or "").strip()
    return bool(words) and not words.startswith(f"{found.__name__}(")


@pytest.mark.parametrize("room", ROOMS)
def test_every_module_class_and_function_has_a_docstring(room: str) -> None:
    bare = [module.__name__ for module in _modules(room) if not (module.__doc__ or "").strip()]
    # a dataclass without a docstring gets its signature as one
    bare += [name for name, found in _public(room) if not _said(found)]
    bare += [name for name, function in _functions(room) if not (function.__doc__ or "").strip()]
    assert not bare


@pytest.mark.parametrize("room", ROOMS)
def test_most_functions_describe_parameters_and_result(room: str) -> None:
    missing = {name: _missing(function) for name, function in _functions(room)}
    if not missing:
        assert room == "errors"
        return
    worst = sorted((name for name in missing if missing[name]), key=lambda name: -len(missing[name]))
    words = "\n".join(f"{name}: no {' and no '.join(missing[name])}" for name in worst)
    assert 1.0 - len(worst) / len(missing) >= LEAST_SHARE, f"\n{words}"


@pytest.mark.parametrize("room", ROOMS)
def test_described_parameters_are_those_of_the_function(room: str) -> None:
    wrong = {}
    for name, function in _functions(room):
        described = _described(function)
        if described and set(described) != set(_arguments(function)):
            wrong[name] = sorted(set(described) ^ set(_arguments(function)))
    assert not wrong
