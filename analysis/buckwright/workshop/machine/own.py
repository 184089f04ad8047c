"""Machines that are known by name: the library's generic ones, and the user's own in a file of theirs."""

import functools
import tomllib
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

import attrs

from buckwright.errors import JobError
from buckwright.own_files import OwnFile, OwnTable
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

_ROWS = Path(__file__).with_name("machines.toml")


@functools.cache
def library_machines() -> Mapping[str, MachineProfile]:
    """The generic machines that come with the library, by name, read-only."""
    return MappingProxyType(_profiles(tomllib.loads(_ROWS.read_text(encoding="utf-8"))))


def _profiles(rows: Mapping[str, Any]) -> dict[str, MachineProfile]:
    return {name: _profile(name, row) for name, row in rows.items()}


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


def _handed_down(parent: MachineProfile) -> Mapping[str, Any]:
    return attrs.asdict(parent, filter=lambda one, value: value is not None and one.name != "title")


_FILE = OwnFile(name="machines.toml", environment=ENVIRONMENT, what="machines")
_TABLE = OwnTable(
    file=_FILE,
    one="machine",
    example="BLUE_BOX",
    library=library_machines,
    read=_profiles,
    plain=str,
    handed_down=_handed_down,
)

own_path = _FILE.path
"""Where own machines are looked for; see `OwnFile.path`."""
own_text = _FILE.text
"""Content of that file, which every result hangs on; see `OwnFile.text`."""
own_machines = _TABLE.own
"""The user's own machines by name; see `OwnTable.own`."""
known_machines = _TABLE.known
"""The library's machines and the user's own; see `OwnTable.known`."""
hint = _TABLE.hint
"""Where own machines stand, or what is wrong with them; see `OwnTable.hint`."""


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
