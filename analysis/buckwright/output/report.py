"""`report.json`: every figure of a run under fixed names, units in the names."""

import json
import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import IO, Any

import numpy as np

from buckwright import __version__
from buckwright.output.files import write_safely

__all__ = ["assemble", "plain", "to_json", "write_report"]

# Seven significant digits are finer than single precision, which is all that the written meshes hold.
_DIGITS = 7
# The matrix transforms coordinates from one frame to the other, so it keeps every digit.
_EXACT = ("frame",)


def assemble(sections: Mapping[str, Any]) -> dict[str, Any]:
    """Put the sections of a report together.

    Parameters
    ----------
    sections : by name; `version` is added here. Values may hold numpy arrays and numbers.

    Returns
    -------
    dict of plain values only: NaN and infinite numbers become None, numbers are rounded to seven significant
    digits (the frame's matrix is not).

    Raises
    ------
    TypeError
        A section holds something that JSON does not know.
    """
    report = {
        name: plain(section, digits=None if name in _EXACT else _DIGITS) for name, section in sections.items()
    }
    return report | {"version": __version__}


def plain(value: Any, *, digits: int | None = None) -> Any:
    """Turn numpy values, tuples and mappings into JSON types.

    Parameters
    ----------
    value : None, bool, number, text, path, array, sequence or mapping, nested at will
    digits : significant digits of floating numbers; all of them if None

    Returns
    -------
    None, bool, int, float, str, list or dict : NaN and infinite numbers become None

    Raises
    ------
    TypeError
        A value of any other type.

    Examples
    --------
    >>> import numpy as np
    >>> plain({"size": np.array([1.23456, np.inf]), "name": Path("buck")}, digits=3)
    {'size': [1.23, None], 'name': 'buck'}
    """
    if isinstance(value, np.ndarray | np.generic):
        return plain(value.tolist(), digits=digits)
    if isinstance(value, Mapping):
        return {str(name): plain(entry, digits=digits) for name, entry in value.items()}
    if isinstance(value, str | Path):
        return str(value)
    if isinstance(value, Sequence):
        return [plain(entry, digits=digits) for entry in value]
    if isinstance(value, float):
        return _rounded(value, digits)
    if value is None or isinstance(value, bool | int):
        return value
    raise TypeError(f"a report cannot hold {type(value).__name__}")


def to_json(report: Mapping[str, Any]) -> str:
    """Encode as readable JSON text, letters of any script as they are; ends with a line feed.

    Parameters
    ----------
    report : plain values, from `assemble`

    Returns
    -------
    str

    Raises
    ------
    ValueError
        A number is not finite.
    """
    return json.dumps(report, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def write_report(target: Path | IO[bytes], report: Mapping[str, Any]) -> None:
    """Write report.json (UTF-8) to a path (all or nothing) or into an open file.

    Parameters
    ----------
    target : path, or file open for writing bytes
    report : plain values, from `assemble`

    Raises
    ------
    OutputError
        The path cannot be written.
    """
    data = to_json(report).encode()
    if isinstance(target, Path):
        write_safely(target, lambda file: file.write(data))
    else:
        target.write(data)


def _rounded(number: float, digits: int | None) -> float | None:
    if not math.isfinite(number):
        return None
    if digits is None:
        return number
    return float(f"{number:.{digits}g}") + 0.0  # + 0.0 turns -0.0 into 0.0
