"""Job files: a `Job` read from and written to TOML, mistakes told in words."""

import difflib
import tomllib
from pathlib import Path
from typing import Any, Literal, cast

import attrs
import cattrs
import tomli_w
from cattrs.errors import ClassValidationError, ForbiddenExtraKeysError
from cattrs.v import transform_error

from buckwright.errors import JobError
from buckwright.job.settings import Corner, Job, Point, Spot, as_plain

__all__ = ["job_from", "read_job", "write_job"]


def _structure_sink(value: Any, _: Any) -> float | str:
    return value if value == "widest" else _number(value)


def _structure_direction(value: Any, _: Any) -> str | tuple[float, ...]:
    if isinstance(value, str):
        return value
    if not isinstance(value, list | tuple) or len(value) != 3:
        raise ValueError("must be a word or three numbers")
    return tuple(_number(v) for v in value)


def _structure_pair(value: Any, _: Any) -> tuple[float, ...] | None:
    if value is None:
        return None
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise ValueError("must be two numbers")
    return tuple(_number(v) for v in value)


def _structure_places(size: int, *, least: int | None = None) -> Any:
    """Structure hook for a list of places of `size` numbers each (`least` do; the rest is 0), or nothing."""

    def structure(value: Any, _: Any) -> tuple[tuple[float, ...], ...] | None:
        if value is None:
            return None
        wanted = f"must be a list of places, [{', '.join('xyz'[:size])}] each"
        if not isinstance(value, list | tuple):
            raise ValueError(f"{wanted}, got {value!r}")
        for place in value:
            if not isinstance(place, list | tuple) or not (least or size) <= len(place) <= size:
                raise ValueError(f"{wanted}, got {place!r} among them")
        return tuple(tuple(_number(n) for n in (*place, 0.0)[:size]) for place in value)

    return structure


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"must be a number, got {value!r}")
    return float(value)


def _whole(value: Any, _: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError(f"must be a whole number, got {value!r}")
    return value


def _exactly(kind: type) -> Any:
    def structure(value: Any, _: Any) -> Any:
        if not isinstance(value, kind):
            raise ValueError(
                f"must be {'true or false' if kind is bool else 'text in quotes'}, got {value!r}"
            )
        return value

    return structure


def _converter() -> cattrs.Converter:
    converter = cattrs.Converter(forbid_extra_keys=True)
    converter.register_structure_hook(float, lambda value, _: _number(value))
    converter.register_structure_hook(int, _whole)
    converter.register_structure_hook(bool, _exactly(bool))
    converter.register_structure_hook(str, _exactly(str))
    converter.register_structure_hook_func(lambda kind: kind == float | Literal["widest"], _structure_sink)
    converter.register_structure_hook_func(lambda kind: kind == tuple[float, float] | None, _structure_pair)
    converter.register_structure_hook_func(
        lambda kind: kind == str | tuple[float, float, float], _structure_direction
    )
    converter.register_structure_hook_func(
        lambda kind: kind == tuple[Point, ...] | None, _structure_places(2)
    )
    converter.register_structure_hook_func(lambda kind: kind == tuple[Spot, ...] | None, _structure_places(3))
    converter.register_structure_hook_func(
        lambda kind: kind == tuple[Corner, ...] | None, _structure_places(3, least=2)
    )
    return converter


_CONVERTER = _converter()


def job_from(raw: dict[str, Any], *, where: str = "the job") -> Job:
    """Build a job from plain tables.

    Raises
    ------
    JobError
        With one line for each unknown table or key, wrong kind or value out of range.
    """
    for table, values in raw.items():
        if table == "folder" or not isinstance(values, dict):
            raise JobError(f"{where}: '{table}' is not a table of settings, write it as [{table}]")
    try:
        return _CONVERTER.structure(raw, Job)
    except ClassValidationError as error:
        lines = [_worded(line) for line in _messages(error)]
        raise JobError(f"{where} cannot be used:\n  " + "\n  ".join(lines)) from error


def _messages(error: ClassValidationError) -> list[str]:
    return [str(line) for line in transform_error(error, format_exception=_format)]


def _format(error: BaseException, _kind: Any) -> str:
    if isinstance(error, ForbiddenExtraKeysError):
        known = [field.name for field in attrs.fields(cast(Any, error.cl)) if field.name != "folder"]
        parts = []
        for key in sorted(error.extra_fields):
            close = difflib.get_close_matches(key, known, n=1)
            hint = f", did you mean '{close[0]}'?" if close else f"; known are {', '.join(known)}"
            parts.append(f"unknown setting '{key}'{hint}")
        return "; ".join(parts)
    if "not in literal" in str(error):
        value, _, choices = str(error).partition(" not in literal typing.Literal")
        return f"must be one of {choices.strip('[]')}; got {value!r}"
    return str(error)


def _worded(line: str) -> str:
    """`message @ $.sheet.thickness_mm` becomes `[sheet] thickness_mm: message`."""
    message, _, path = line.rpartition(" @ $")
    place = path.strip(".").split(".") if path else []
    if not place or place == [""]:
        return message or line
    key = f" {'.'.join(place[1:])}" if len(place) > 1 else ""
    return f"[{place[0]}]{key}: {message}"


def read_job(path: Path) -> Job:
    """Read a job file.

    Raises
    ------
    JobError
        The file is missing, is no TOML, or holds a setting that cannot be used.
    """
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8-sig"))  # some editors put a mark in front
    except FileNotFoundError as error:
        raise JobError(f"{path}: there is no such job file") from error
    except IsADirectoryError as error:
        raise JobError(f"{path} is a folder; name the job.toml in it") from error
    except (OSError, UnicodeDecodeError) as error:
        raise JobError(f"{path} cannot be read: {error}") from error
    except tomllib.TOMLDecodeError as error:
        raise JobError(f"{path} is not valid TOML: {error}") from error
    return attrs.evolve(job_from(raw, where=str(path)), folder=path.parent)


def write_job(job: Job) -> str:
    """Text of the job file, every setting spelled out except those that follow from others."""
    return tomli_w.dumps(as_plain(job))
