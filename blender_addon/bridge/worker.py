"""The child process: started, read, stopped; its end told in words. No threads, nothing of Blender.

The child writes its lines to a file that is read as it grows, so that no pipe can fill up or block on any
platform. Its standard input stays open as long as this process lives: when that ends, the child ends too.
"""

import contextlib
import importlib.util
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from .library import HOST

__all__ = ["Worker", "missing_parts", "part_folders"]

PARTS = (
    "numpy", "scipy", "numba", "llvmlite", "manifold3d", "igl", "trimesh", "lib3mf", "matplotlib",
    "pythoncdt", "tomli_w", "attrs",
)  # fmt: skip
"""What the library imports in the child."""

PATIENCE_S = 0.45
"""How long the child may take to stop by itself; the user waits at most half a second."""
_PATIENCE_AT_END_S = 2.0
"""The same where nobody waits for anything else: a file is opened, Blender closes."""
_DISK_FULL = ("No space left on device", "Disk quota exceeded", "ENOSPC", "not enough space")


def missing_parts() -> list[str]:
    """Libraries that the child would not find."""
    return [name for name in PARTS if importlib.util.find_spec(name) is None]


def part_folders() -> list[str]:
    """Folders in which this process finds what the child needs; where the extension's wheels are."""
    folders: dict[str, None] = {}
    for name in PARTS:
        spec = importlib.util.find_spec(name)
        if spec is None or not spec.origin:
            continue
        path = Path(spec.origin)
        folders[str(path.parent.parent if spec.submodule_search_locations else path.parent)] = None
    return list(folders)


class Worker:
    """One run of the child.

    Attributes
    ----------
    folder : everything that passes between both; the caller removes it
    """

    def __init__(
        self, request: dict[str, Any], folder: Path, *, python: Sequence[str], environment: dict[str, str]
    ) -> None:
        """Write the request and start the child.

        Parameters
        ----------
        request : see the library's host.py
        folder : an empty folder
        python : the interpreter and its options
        environment : variables that the child sees beside those of this process

        Raises
        ------
        OSError
            The folder cannot be written, or the child cannot be started.
        """
        self.folder = folder
        asked = folder / "request.json"
        asked.write_text(json.dumps(request | {"python_path": part_folders()}), encoding="utf-8")
        command = [*python, str(HOST), str(asked)]
        self._errors = folder / "errors.txt"
        with (folder / "lines.jsonl").open("wb") as lines, self._errors.open("wb") as errors:
            self._child = subprocess.Popen(
                command,
                stdin=subprocess.PIPE,
                stdout=lines,
                stderr=errors,
                env=os.environ | environment,
                **_group_of_its_own(),
            )
        # Kept open: a file that is read to its end gives what is added later.
        self._lines = (folder / "lines.jsonl").open("rb")
        self._rest = b""
        self._stop_at = 0.0

    def messages(self) -> Iterable[dict[str, Any]]:
        """Whole lines that have come since the last call."""
        *lines, self._rest = (self._rest + self._lines.read()).split(b"\n")
        for line in lines:
            with contextlib.suppress(ValueError):  # something else wrote to standard output
                message = json.loads(line)
                if isinstance(message, dict):
                    yield message

    def ended(self) -> bool:
        """Whether the child is gone. One that was asked to stop and does not is ended here."""
        if self._child.poll() is None and self._stop_at and time.monotonic() > self._stop_at:
            self._child.kill()
            self._child.wait(5.0)
        return self._child.poll() is not None

    def stop(self) -> None:
        """Ask the child to stop."""
        if not self._stop_at:
            self._stop_at = time.monotonic() + PATIENCE_S
            self._tell(b"stop\n")

    @property
    def stopping(self) -> bool:
        """Whether it was asked to stop."""
        return bool(self._stop_at)

    def process_id(self) -> int:
        """Number of the child process."""
        return self._child.pid

    def close(self) -> None:
        """End the child if it still runs, and let go of the files.

        It is asked first: killed at once, it would leave its scratch folder.
        """
        if self._child.poll() is None:
            self._tell(b"stop\n")
            with contextlib.suppress(subprocess.TimeoutExpired):
                self._child.wait(_PATIENCE_AT_END_S)
        if self._child.poll() is None:
            self._child.kill()
            self._child.wait(5.0)
        self._lines.close()
        if self._child.stdin is not None:
            with contextlib.suppress(OSError):
                self._child.stdin.close()

    def last_words(self) -> str:
        """Why the child ended without a result, in a sentence."""
        try:
            text = self._errors.read_text(encoding="utf-8", errors="replace").strip()
        except OSError:
            text = ""
        code = self._child.returncode
        if any(words in text for words in _DISK_FULL):
            return "The disk is full: make room and try again"
        if "MemoryError" in text:
            return "There is not enough memory: close other programs, or use a sculpt with fewer faces"
        if "ModuleNotFoundError" in text:
            what = text.rsplit("ModuleNotFoundError:", 1)[1].strip().splitlines()[0]
            return f"The extension is incomplete ({what}): remove it and install it again from its zip"
        if code is not None and code < 0:
            return (
                f"The run was ended from outside (signal {-code}). If memory ran out, "
                "close other programs or use a sculpt with fewer faces"
            )
        last = text.splitlines()[-1] if text else f"exit code {code}"
        return f"The run failed: {last}"

    def _tell(self, words: bytes) -> None:
        if self._child.stdin is not None:
            with contextlib.suppress(OSError):  # it is gone already
                self._child.stdin.write(words)
                self._child.stdin.flush()


def _group_of_its_own() -> dict[str, Any]:
    """Options that keep the terminal's Ctrl C, and a console window, away from the child."""
    if sys.platform == "win32":
        flags = subprocess.CREATE_NEW_PROCESS_GROUP | subprocess.CREATE_NO_WINDOW
        return {"creationflags": flags}
    return {"start_new_session": True}
