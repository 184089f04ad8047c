"""`report.json`: every figure of a run under fixed names, units in the names."""

import json
import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import IO, Any

import numpy as np

from buckwright import __version__
from buckwright.output.files import write_safely

__all__ = ["ENTRY_KEYS", "SECTIONS", "assemble", "plain", "to_json", "write_report"]

SECTIONS = (
    "input",
    "frame",
    "pull",
    "draft",
    "undercuts",
    "fill",
    "pockets",
    "vents",
    "evacuation_s",
    "base",
    "buck",
    "forecast",
    "findings",
    "timing_s",
    "version",
)
"""The top-level keys, in the order in which they are written."""

ENTRY_KEYS: Mapping[str, tuple[str, ...]] = {
    "input": ("faces", "vertices", "size_mm", "repairs"),
    "frame": ("matrix",),
    "pull": ("direction", "candidates"),
    "draft": ("wanted_deg", "free_share", "tight_share", "trapped_share", "histogram"),
    "undercuts": ("area_mm2", "depth_mm", "sideways_mm", "centre_mm", "release"),
    "fill": ("mode", "added_volume_mm3"),
    "pockets": ("centre_mm", "depth_mm", "volume_mm3", "area_mm2"),
    "vents": ("top_mm", "diameter_mm", "back_bore_mm", "pocket"),
    "buck": ("faces", "size_mm", "volume_mm3", "watertight"),
    "forecast": ("thickness_percentiles_mm", "thinnest", "mean_mm", "webs", "pockets", "trust"),
    "findings": ("severity", "words", "advice"),
}
"""Keys that a section (or every entry of a list) must have; more are allowed."""

_RELEASE_KEYS = ("strain", "allowable", "verdict")
_LISTS = ("undercuts", "pockets", "vents", "findings")
# Seven significant digits are finer than single precision, which is all that the written meshes hold.
_DIGITS = 7
# The matrix transforms coordinates from one frame to the other, so it keeps every digit.
_EXACT = ("frame",)


def assemble(sections: Mapping[str, Any]) -> dict[str, Any]:
    """Put the sections of a report together and check their names.

    Parameters
    ----------
    sections : by name; `version` is added here. A section that was not computed is None, a list that was and
        is empty is []. Values may hold numpy arrays and numbers.

    Returns
    -------
    dict of plain values only: NaN and infinite numbers become None, numbers are rounded to seven significant
    digits (the frame's matrix is not).

    Raises
    ------
    ValueError
        A section is missing or unknown, or lacks one of its fixed keys.
    """
    wanted = set(SECTIONS) - {"version"}
    missing, unknown = wanted - set(sections), set(sections) - wanted
    if missing or unknown:
        raise ValueError(f"report sections: missing {sorted(missing)}, unknown {sorted(unknown)}")
    report: dict[str, Any] = {}
    for name in SECTIONS[:-1]:
        digits = None if name in _EXACT else _DIGITS
        report[name] = plain(sections[name], digits=digits)
        _check_keys(name, report[name])
    report["version"] = __version__
    return report


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


def _check_keys(name: str, section: Any) -> None:
    """Refuse a section, or an entry of a list, that lacks a fixed key."""
    keys = ENTRY_KEYS.get(name)
    if section is None or keys is None:
        return
    entries = section if name in _LISTS else [section]
    for entry in entries:
        lacking = [key for key in keys if key not in entry]
        if lacking:
            raise ValueError(f"report section {name!r} lacks {lacking}")
        if name == "undercuts":
            _check_release(entry["release"])


def _check_release(release: Any) -> None:
    lacking = [key for key in _RELEASE_KEYS if release is not None and key not in release]
    if lacking:
        raise ValueError(f"the release of an undercut lacks {lacking}")
