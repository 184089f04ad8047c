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
    "with_bias",
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


def with_bias(name: str | None, bias: float) -> tuple[Path, str]:
    """The file of own machines with a thickness bias written into one of them.

    Parameters
    ----------
    name : of a machine of the user's own
    bias : measured over forecast thickness

    Returns
    -------
    Path, str : the file, and its new text; nothing is written here

    Raises
    ------
    JobError
        It is no machine of the user's own, or it cannot hold this bias.
    """
    path, text = own_path(), own_text()
    if name is None or name not in own_machines() or path is None or text is None:
        raise JobError(
            "the bias is kept with a machine of your own, named by machine.profile: write it into "
            f"{path} first, with `like` for what it shares with {name or 'one of ours'}"
        )
    head, begin, rest = text.partition(_header(name, text))
    own, after = _cut_at_next(rest)
    line = f"thickness_bias = {bias:.3f}  # measured over forecast thickness, from the pull log"
    found = re.search(r"(?m)^[ \t]*thickness_bias[ \t]*=.*$", own)
    own = f"{own[: found.start()]}{line}{own[found.end() :]}" if found else f"\n{line}{own}"
    new = f"{head}{begin}{own}{after}"
    changed = _TABLE.entries_of(new)[name]
    if changed.thickness_bias != round(bias, 3):
        raise JobError(f"{path}: the bias does not read back; nothing was written")
    return path, new


def _header(name: str, text: str) -> str:
    """The line that begins a machine's table, as it stands in the file."""
    found = re.search(rf"(?m)^[ \t]*\[[ \t]*[\"']?{name}[\"']?[ \t]*\][^\n]*", text)
    if found is None:
        raise JobError(f"machine {name}: write it as a table of its own, [{name}]")
    return found[0]


def _cut_at_next(text: str) -> tuple[str, str]:
    """A table's lines, and what follows from the next header on."""
    found = re.search(r"(?m)^[ \t]*\[", text)
    return (text, "") if found is None else (text[: found.start()], text[found.start() :])


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
