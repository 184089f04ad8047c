"""The user's own sheets: a file of theirs beside the library's table, read in the same way."""

import functools
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from buckwright.errors import JobError
from buckwright.forming.sheets.table import SheetMaterial, load_sheets, plain_name, sheets_from
from buckwright.own_files import OwnFile

__all__ = ["ENVIRONMENT", "EXAMPLE", "hint", "known_sheets", "own_path", "own_sheets", "own_text"]

ENVIRONMENT = "BUCKWRIGHT_SHEETS"
"""Names another file of own sheets; empty for none."""

EXAMPLE = """\
# Sheets of your own: one table for each. Figures that you leave out are those of the sheet under `like`.
# mark is "read", "second-hand", "measured", "from memory" or "common practice, no source".

[WORKSHOP_PETG]
title = "PETG of the corner shop, 1 mm"
like = "PETG"
shrinkage = { low = 0.004, high = 0.005, source = "two masks, measured across the brow", mark = "measured" }
forming_normal_c = { low = 140, high = 150, source = "the maker's data sheet", mark = "read" }
"""

_NAME = re.compile(r"[A-Z][A-Z0-9_]{0,39}")
_FILE = OwnFile(name="sheets.toml", environment=ENVIRONMENT, what="sheets")


def own_path() -> Path | None:
    """Where own sheets are looked for; None if that is switched off."""
    return _FILE.path()


def own_sheets() -> Mapping[str, SheetMaterial]:
    """The user's own sheets.

    Returns
    -------
    Mapping of name to `SheetMaterial`, read-only; empty where there is no file

    Raises
    ------
    JobError
        The file cannot be read, a row is not whole, or a name is one of the library's.
    """
    path, text = own_path(), own_text()
    return MappingProxyType({}) if path is None or text is None else _sheets(path, text)


def own_text() -> str | None:
    """Content of the file, which every result hangs on; None where there is no file.

    Raises
    ------
    JobError
        The file is there and cannot be read.
    """
    return _FILE.text()


@functools.lru_cache(maxsize=4)
def _sheets(path: Path, text: str) -> Mapping[str, SheetMaterial]:
    try:
        rows = tomllib.loads(text)
        return MappingProxyType(sheets_from({name: _whole(name, row) for name, row in rows.items()}))
    except (JobError, ValueError, RecursionError) as error:
        raise JobError(f"your own sheets, {path}, cannot be used: {error}") from error


def _whole(name: str, row: Any) -> Any:
    """A row with what it takes over from the sheet that it is like."""
    if not _NAME.fullmatch(name):
        raise JobError(f"sheet {name!r}: a name is capitals, digits and underscores, such as WORKSHOP_PETG")
    if name in load_sheets():
        raise JobError(f"sheet {name}: that is one of the library's; give yours another name")
    if not isinstance(row, dict) or "like" not in row:
        return row
    parent = load_sheets().get(plain_name(str(row["like"])))
    if parent is None:
        raise JobError(f"sheet {name}: like must name one of {', '.join(load_sheets())}, got {row['like']!r}")
    taken = {key: value for key, value in parent.to_dict().items() if key != "name"}
    return taken | {key: value for key, value in row.items() if key != "like"}


def known_sheets() -> Mapping[str, SheetMaterial]:
    """The library's sheets and the user's own, as far as these can be used; `hint` tells the rest.

    Returns
    -------
    Mapping of name to `SheetMaterial`, read-only
    """
    try:
        return MappingProxyType({**load_sheets(), **own_sheets()})
    except JobError:
        return load_sheets()


def hint() -> str:
    """Where own sheets stand, or what is wrong with them: for the message about an unknown sheet."""
    try:
        own_sheets()
    except JobError as error:
        return f"{str(error)[0].upper()}{str(error)[1:]}"
    path = own_path()
    return "" if path is None else f"Sheets of your own stand in {path}."
