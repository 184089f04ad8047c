"""The stage store: what a run worked out is kept, so that the next one redoes only what a change touches.

A stage is found again by a hash of all that it depends on: the content of the sculpt's file, the settings
that reach it, and the library itself. Whatever cannot be read, or was written by something else, is worked
out anew.
"""

import hashlib
import json
import os
import secrets
import time
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from buckwright import __version__
from buckwright.clock import Clock
from buckwright.errors import JobError
from buckwright.forming.sheets.own import own_text as own_sheets_text
from buckwright.pipeline.packing import Packer, unpacked
from buckwright.relief.columns import Columns
from buckwright.workshop.machine.own import own_text as own_machines_text

__all__ = ["KEPT", "Store", "hashed", "library_state", "own_texts"]

KEPT = 3
"""Results kept per stage; the least recently used is dropped."""


class Store:
    """Keeps the results of stages in a folder; without one it works everything out."""

    def __init__(self, folder: Path | None, clock: Clock) -> None:
        self._folder, self._clock = folder, clock
        self._trusted = True
        self.taken: list[str] = []
        """Steps whose results were taken from the folder."""

    @property
    def open(self) -> bool:
        """Whether anything is kept."""
        return self._folder is not None

    def holds(self, stage: str, key: str) -> bool:
        """Whether there is an entry of a stage under a key; it may turn out to be damaged when it is read."""
        path = self._path(stage, key)
        return path is not None and self._trusted and path.exists()

    def read(self, stage: str, key: str) -> tuple[bool, Any]:
        """Whether a result of a stage is kept under a key, and the result."""
        path = self._path(stage, key)
        if path is None or not self.holds(stage, key):
            return False, None
        name = f"{stage} (kept)"
        with self._clock.step(name):
            found, kept = _read(path, key)
        if not found:
            del self._clock.times_s[name]
            return False, None
        with suppress(OSError):
            os.utime(path)
        self.taken.append(name)
        return True, kept

    def distrust(self) -> None:
        """Take nothing more from the folder; what is worked out replaces what it holds."""
        self._trusted = False
        for name in self.taken:
            self._clock.times_s.pop(name, None)
        self.taken.clear()

    def write(self, stage: str, key: str, result: object) -> None:
        """Keep a result; a folder that cannot be written is no reason to stop."""
        path = self._path(stage, key)
        if path is not None:
            _write(path, key, result)
            self._forget(stage)

    def _path(self, stage: str, key: str) -> Path | None:
        return None if self._folder is None else self._folder / f"{stage}-{key[:32]}.npz"

    def _forget(self, stage: str) -> None:
        """Drop all but the last used results of a stage."""
        assert self._folder is not None
        with suppress(OSError):
            now = time.time_ns()
            # an entry that is dated in the future was not used last: its clock was wrong
            entries = sorted(
                self._folder.glob(f"{stage}-*.npz"),
                key=lambda path: _last_used(path, now),
            )
            for path in entries[:-KEPT]:
                path.unlink()


def _last_used(path: Path, now: int) -> int:
    used = path.stat().st_mtime_ns
    return used if used <= now else 0


def _read(path: Path, key: str) -> tuple[bool, Any]:
    """Whether a whole and fitting entry is there, and what it holds."""
    try:
        if not path.is_file():  # a pipe would be waited for
            return False, None
        with path.open("rb") as file, np.load(file, allow_pickle=False) as held:
            label = json.loads(held["label"].tobytes())
            if label["key"] != key:
                return False, None
            loaded: dict[int, NDArray[Any]] = {}

            def array(number: int) -> NDArray[Any]:
                if number not in loaded:
                    loaded[number] = held[f"array_{number}"]
                return loaded[number]

            return True, unpacked(label["tree"], array)
    except Exception:  # an entry that was damaged may raise anything; it is worked out anew
        return False, None


def _write(path: Path, key: str, result: object) -> None:
    """Keep a result; a store that cannot be written is no reason to stop."""
    packer = Packer(left_out=(Columns, Manifold))
    label = json.dumps({"key": key, "tree": packer.packed(result)}).encode()
    arrays = {f"array_{n}": array for n, array in enumerate(packer.arrays)}
    waiting = path.with_name(f".{path.name}.{os.getpid()}.{secrets.token_hex(4)}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with waiting.open("xb") as file:
            np.savez(file, label=np.frombuffer(label, np.uint8), **arrays, allow_pickle=False)
        waiting.replace(path)
    except (OSError, MemoryError):
        with suppress(OSError):
            waiting.unlink(missing_ok=True)


def hashed(*parts: Any) -> str:
    """A hash of plain values."""
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()


def library_state() -> list[Any]:
    """Version, size and time of every source, the user's own files: another state keeps its own results."""
    return [*_sources(), *own_texts()]


def own_texts() -> list[str | None]:
    """Content of the user's own files of sheets and machines; None where one is missing or broken."""
    return [_unless_broken(own_sheets_text), _unless_broken(own_machines_text)]


def _unless_broken(own_text: Callable[[], str | None]) -> str | None:
    with suppress(JobError):  # what cannot be read is not used either
        return own_text()
    return None


@cache
def _sources() -> list[Any]:
    root = Path(__file__).resolve().parents[1]
    files = sorted(path for kind in ("*.py", "*.toml") for path in root.rglob(kind))
    states = [(path, path.stat()) for path in files]
    return [__version__, [[str(path), state.st_size, state.st_mtime_ns] for path, state in states]]
