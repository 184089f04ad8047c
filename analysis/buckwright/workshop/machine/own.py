"""Machines that are known by name: the library's generic ones, and the user's own in a file of theirs."""

import functools
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

import attrs

from buckwright.errors import JobError
from buckwright.own_files import OwnFile
from buckwright.settings import known, table_from
from buckwright.workshop.machine.figures import MachineProfile

__all__ = [
    "ENVIRONMENT",
    "EXAMPLE",
    "hint",
    "known_machines",
    "library_machines",
    "machine",
    "own_machines",
    "own_path",
    "own_text",
]

ENVIRONMENT = "BUCKWRIGHT_MACHINES"
"""Names another file of own machines; empty for none."""

EXAMPLE = """\
# Machines of your own: one table for each. Figures that you leave out are those of the machine under `like`,
# or not known. mark is "read", "measured", "from memory" or "common practice, no source".

[BLUE_BOX]
title = "The blue box under the bench"
like = "HOME_BOX_300_450"
frame_mm = [400, 260]
hole_pitch_mm = 20
hole_mm = 2.5
lowest_kpa = 78.5
source = "measured with rule and gauge"
mark = "measured"
"""

_FILE = OwnFile(name="machines.toml", environment=ENVIRONMENT, what="machines")
_NAME = re.compile(r"[A-Z][A-Z0-9_]{0,39}")
_TABLE = Path(__file__).with_name("machines.toml")


def own_path() -> Path | None:
    """Where own machines are looked for; None if that is switched off."""
    return _FILE.path()


def own_text() -> str | None:
    """Content of the file, which every result hangs on; None where there is no file.

    Raises
    ------
    JobError
        The file is there and cannot be read.
    """
    return _FILE.text()


@functools.cache
def library_machines() -> Mapping[str, MachineProfile]:
    """The generic machines that come with the library, by name, read-only."""
    rows = tomllib.loads(_TABLE.read_text(encoding="utf-8"))
    return MappingProxyType({name: _profile(name, row) for name, row in rows.items()})


def own_machines() -> Mapping[str, MachineProfile]:
    """The user's own machines.

    Returns
    -------
    Mapping of name to `MachineProfile`, read-only; empty where there is no file

    Raises
    ------
    JobError
        The file cannot be read, a figure cannot be used, or a name is one of the library's.
    """
    path, text = own_path(), own_text()
    return MappingProxyType({}) if path is None or text is None else _machines(path, text)


@functools.lru_cache(maxsize=4)
def _machines(path: Path, text: str) -> Mapping[str, MachineProfile]:
    try:
        rows = tomllib.loads(text)
        return MappingProxyType({name: _profile(name, _whole(name, row)) for name, row in rows.items()})
    except (JobError, ValueError, RecursionError) as error:
        raise JobError(f"your own machines, {path}, cannot be used: {error}") from error


def _whole(name: str, row: Any) -> Any:
    """A row with what it takes over from the machine that it is like."""
    if not _NAME.fullmatch(name):
        raise JobError(f"machine {name!r}: a name is capitals, digits and underscores, such as BLUE_BOX")
    if name in library_machines():
        raise JobError(f"machine {name}: that is one of the library's; give yours another name")
    if not isinstance(row, dict) or "like" not in row:
        return row
    parent = library_machines().get(str(row["like"]))
    if parent is None:
        names = ", ".join(library_machines())
        raise JobError(f"machine {name}: like must name one of {names}, got {row['like']!r}")
    taken = attrs.asdict(parent, filter=lambda one, value: value is not None and one.name != "title")
    return taken | {key: value for key, value in row.items() if key != "like"}


def _profile(name: str, row: Any) -> MachineProfile:
    if not isinstance(row, dict):
        raise JobError(f"machine {name}: a table is expected, got {row!r}")
    if missing := [key for key in ("title", "source") if not row.get(key)]:
        raise JobError(f"machine {name}: missing {' and '.join(missing)}")
    profile, wrong = table_from(MachineProfile, row, title=name)
    if wrong:
        raise JobError(f"machine {name}: {'; '.join(wrong)}")
    assert isinstance(profile, MachineProfile)
    return profile


def known_machines() -> Mapping[str, MachineProfile]:
    """The library's machines and the user's own, as far as these can be used; `hint` tells the rest."""
    try:
        return MappingProxyType({**library_machines(), **own_machines()})
    except JobError:
        return library_machines()


def machine(name: str) -> MachineProfile:
    """A machine by name; case, hyphens and spaces do not matter.

    Raises
    ------
    JobError
        There is no such machine.
    """
    plain = name.strip().upper().replace("-", "_").replace(" ", "_")
    machines = known_machines()
    if plain in machines:
        return machines[plain]
    near = known(plain, list(machines))
    near = f"; did you mean {near}?" if near else ""
    raise JobError(f"machine {name!r} is not known; there are {', '.join(machines)}{near} {hint()}".strip())


def hint() -> str:
    """Where own machines stand, or what is wrong with them."""
    try:
        own_machines()
    except JobError as error:
        return f"{str(error)[0].upper()}{str(error)[1:]}"
    path = own_path()
    return "" if path is None else f"Machines of your own stand in {path}."
