"""Files of the user's own beside the library's tables: where they lie, and what they hold.

They lie in the user's folder of settings rather than beside a job, because a sheet or a machine is bought
once and used for many jobs: its name is then known everywhere, in job files, on the command line and in
Blender's lists. Imports nothing heavy: Blender's own process reads it.
"""

import os
import sys
from dataclasses import dataclass
from pathlib import Path

from buckwright.errors import JobError

__all__ = ["OwnFile"]

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
