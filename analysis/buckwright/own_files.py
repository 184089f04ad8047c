"""Tables of the user's own beside the library's: where their files lie, what they hold, how both are joined.

They lie in the user's folder of settings rather than beside a job, because a sheet or a machine is bought
once and used for many jobs: its name is then known everywhere, in job files, on the command line and in
Blender's lists. Imports nothing heavy: Blender's own process reads it.
"""

import os
import re
import sys
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from buckwright.errors import JobError

__all__ = ["OwnFile", "OwnTable"]

_NAME = re.compile(r"[A-Z][A-Z0-9_]{0,39}")
_MOST_BYTES = 1_000_000  # house rule: a sheet holds 5 kB, a machine less


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnFile:
    """One such file.

    Attributes
    ----------
    name : of the file in the user's folder of settings
    environment : variable that names another file; empty for none
    what : what it holds, for messages: 'sheets'
    """

    name: str
    environment: str
    what: str

    def path(self) -> Path | None:
        """Where it is looked for.

        Returns
        -------
        Path, or None if that is switched off
        """
        if self.environment in os.environ:
            named = os.environ[self.environment]
            return Path(named) if named else None
        home = Path.home()
        if sys.platform == "win32":
            folder = Path(os.environ.get("APPDATA") or home / "AppData" / "Roaming")
        elif sys.platform == "darwin":
            folder = home / "Library" / "Application Support"
        else:
            folder = Path(os.environ.get("XDG_CONFIG_HOME") or home / ".config")
        return folder / "buckwright" / self.name

    def text(self) -> str | None:
        """Its content, which every result hangs on.

        Returns
        -------
        str, or None where there is no file

        Raises
        ------
        JobError
            The file is there and cannot be read.
        """
        path = self.path()
        try:
            if path is None or not path.exists():
                return None
            if not path.is_file() or path.stat().st_size > _MOST_BYTES:
                size = f"{_MOST_BYTES / 1e6:g} MB"
                raise JobError(f"your own {self.what}, {path}: it is no file, or larger than {size}")
            return path.read_text(encoding="utf-8-sig")
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or error
            raise JobError(f"your own {self.what}, {path}, cannot be read: {reason}") from error


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OwnTable[Entry]:
    """Entries of the user's own beside those of the library, by name.

    Attributes
    ----------
    file : where they stand
    one : what an entry is called: 'sheet'
    example : a name as it should be written
    library : the library's entries
    read : rows by name -> entries by name; raises a JobError where a row is not whole
    plain : a name as the tables have it
    handed_down : what a row takes over from the library's entry that it is like
    """

    file: OwnFile
    one: str
    example: str
    library: Callable[[], Mapping[str, Entry]]
    read: Callable[[Mapping[str, Any]], Mapping[str, Entry]]
    plain: Callable[[str], str]
    handed_down: Callable[[Entry], Mapping[str, Any]]
    _kept: dict[tuple[Path, str], Mapping[str, Entry]] = field(default_factory=dict)

    def own(self) -> Mapping[str, Entry]:
        """The user's own entries.

        Returns
        -------
        Mapping, read-only; empty where there is no file

        Raises
        ------
        JobError
            The file cannot be read, a row is not whole, or a name is one of the library's.
        """
        path, text = self.file.path(), self.file.text()
        if path is None or text is None:
            return MappingProxyType({})
        if (path, text) in self._kept:
            return self._kept[path, text]
        entries = self.entries_of(text)
        self._kept.clear()
        self._kept[path, text] = entries
        return entries

    def entries_of(self, text: str) -> Mapping[str, Entry]:
        """The entries that a text would hold; errors as `own`."""
        try:
            rows = {name: self._whole(name, row) for name, row in tomllib.loads(text).items()}
            return MappingProxyType(dict(self.read(rows)))
        except (JobError, ValueError, RecursionError) as error:
            raise JobError(
                f"your own {self.file.what}, {self.file.path()}, cannot be used: {error}"
            ) from error

    def known(self) -> Mapping[str, Entry]:
        """The library's entries and the user's own, as far as these can be used; `hint` tells the rest.

        Returns
        -------
        Mapping, read-only
        """
        try:
            return MappingProxyType({**self.library(), **self.own()})
        except JobError:
            return self.library()

    def hint(self) -> str:
        """Where own entries stand, or what is wrong with them: for the message about an unknown name."""
        try:
            self.own()
        except JobError as error:
            return f"{str(error)[0].upper()}{str(error)[1:]}"
        path = self.file.path()
        return "" if path is None else f"{self.file.what.capitalize()} of your own stand in {path}."

    def _whole(self, name: str, row: Any) -> Any:
        """A row with what it takes over from the entry that it is like."""
        if not _NAME.fullmatch(name):
            raise JobError(
                f"{self.one} {name!r}: a name is capitals, digits and underscores, such as {self.example}"
            )
        library = self.library()
        if name in library:
            raise JobError(f"{self.one} {name}: that is one of the library's; give yours another name")
        if not isinstance(row, dict) or "like" not in row:
            return row
        parent = library.get(self.plain(str(row["like"])))
        if parent is None:
            names = ", ".join(library)
            raise JobError(f"{self.one} {name}: like must name one of {names}, got {row['like']!r}")
        return {**self.handed_down(parent), **{key: value for key, value in row.items() if key != "like"}}
