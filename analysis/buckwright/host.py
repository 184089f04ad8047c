"""A run for another program: started by path with a request, it tells how far it is and can be stopped.

    python -I .../buckwright/host.py request.json

Two processes, because a long solid operation cannot be interrupted from within: this one only listens and
watches, and starts `hosted.py`, which works. The request is a JSON object:

- command : 'look', 'make', 'forecast' (see `pipeline.commands`); or 'finished': the sculpt of the job is a
  finished buck in mm, which is checked and written to `out` as it is, without report and arrays; or 'log':
  report.json tells what the pulls in `log` say, without a sculpt; or 'tune': variants are searched for and
  compared, the page goes to `out` and report.json lists them, the best first
- job : path of job.toml
- out : folder for the files that people want, or null
- results : folder for report.json and arrays.npz (the arrays of the stages)
- keep : folder of the stage store, or null
- pictures : whether to draw
- prefix : what the names of the files in `out` begin with (may be left out)
- log : path of the pulls, for 'log' (may be left out otherwise)
- variants : variants to try, for 'tune' (may be left out: 8)
- python_path : further folders of Python packages (may be left out)

On standard output comes one JSON object a line, {"kind": "step", "name", "share"} about ten times a second at
most, and at the end one of

- {"kind": "done", "releases", "report", "arrays"}: exit code 0, also when the part would lock
- {"kind": "failed", "words", "error"}: 2 for bad input, 1 for anything else
- {"kind": "stopped"}: 4

A line "stop" on standard input, its end, an interrupt or a break stops the run within half a second and
leaves nothing in the folders. Only the moment when all files are moved to their places is not interrupted.
"""

import _signal
import os
import sys

if __name__ == "__main__":  # an interrupt may come while the rest is imported

    def _leave(_number: int, _frame: object) -> None:
        try:
            os.write(1, b'{"kind": "stopped"}\n')
        finally:
            os._exit(4)

    for _name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK"):
        if hasattr(_signal, _name):
            _signal.signal(getattr(_signal, _name), _leave)

import importlib
import json
import queue
import shutil
import signal
import stat
import subprocess
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

__all__ = [
    "BAD_INPUT",
    "DONE",
    "FAILED",
    "FINISHED",
    "LOG",
    "SCRATCH",
    "STOPPED",
    "TUNE",
    "Request",
    "main",
    "read_lines",
    "sweep_scratch",
]

DONE, FAILED, BAD_INPUT, STOPPED = 0, 1, 2, 4

#: The command that writes a finished buck.
FINISHED = "finished"
#: The command that tells what a log of pulls says.
LOG = "log"
#: The command that searches for better settings.
TUNE = "tune"
_VARIANTS, _MOST_VARIANTS = 8, 500

#: Seconds to wait for a clean stop before killing the worker.
GRACE_S = 0.3

#: Scratch folders are called so, then after the process that owns them.
SCRATCH = "buckwright-"

#: A request names a few paths; this is room for a thousand.
MOST_REQUEST_BYTES = 4_000_000


@dataclass(frozen=True, slots=True)
class Request:
    """What another program asks for; see the fields above."""

    command: str
    job: Path
    out: Path | None
    results: Path
    keep: Path | None
    pictures: bool
    prefix: str
    log: Path | None
    variants: int
    python_path: tuple[str, ...]

    @classmethod
    def read(cls, path: str) -> "Request":
        """Read and check a request; its folders of packages are looked into from then on.

        Raises
        ------
        ValueError
            In words: it cannot be read or says nothing that can be done.
        """
        try:
            asked = json.loads(_request_text(Path(path)))
        except RecursionError as error:
            raise ValueError(f"the request {path} cannot be read: it is nested too deep") from error
        except (OSError, ValueError) as error:
            raise ValueError(f"the request {path} cannot be read: {error}") from error
        if not isinstance(asked, dict):
            raise ValueError("the request must be a JSON object")
        unknown = sorted(set(asked) - set(cls.__slots__))
        if unknown:
            raise ValueError(f"the request holds unknown entries: {', '.join(unknown)}")
        further = asked.get("python_path") or []
        if not (isinstance(further, list) and all(isinstance(entry, str) for entry in further)):
            raise ValueError(f"python_path must be a list of folders, got {further!r}")
        # From here on what the library imports is found there.
        sys.path += [entry for entry in further if entry not in sys.path]
        from buckwright.pipeline.commands import COMMANDS

        known = [*(name for name, command in COMMANDS.items() if not command.given), FINISHED, LOG, TUNE]
        if asked.get("command") not in known:
            raise ValueError(f"command must be one of {', '.join(known)}, got {asked.get('command')!r}")
        if not isinstance(asked.get("pictures", False), bool):
            raise ValueError(f"pictures must be true or false, got {asked['pictures']!r}")
        prefix = asked.get("prefix", "")
        if not isinstance(prefix, str) or Path(f"{prefix}x").name != f"{prefix}x":
            raise ValueError(f"prefix must begin the name of a file, got {prefix!r}")
        if asked["command"] == FINISHED and asked.get("out") is None:
            raise ValueError("a finished buck needs a folder to be written to")
        if asked["command"] == TUNE and asked.get("out") is None:
            raise ValueError("a search needs a folder for its page")
        if asked["command"] == LOG and asked.get("log") is None:
            raise ValueError("log must be the path of the pulls")
        return cls(
            command=asked["command"],
            job=_path(asked, "job"),
            out=_path(asked, "out") if asked.get("out") is not None else None,
            results=_path(asked, "results"),
            keep=_path(asked, "keep") if asked.get("keep") is not None else None,
            pictures=asked.get("pictures", False),
            prefix=prefix,
            log=_path(asked, "log") if asked.get("log") is not None else None,
            variants=_variants(asked),
            python_path=tuple(further),
        )

    @property
    def folders(self) -> list[Path]:
        """Folders that the work may write to."""
        return [folder for folder in (self.out, self.results, self.keep) if folder is not None]


def _request_text(path: Path) -> str:
    held = path.stat()
    if not stat.S_ISREG(held.st_mode):
        raise OSError("it is no file")
    if held.st_size > MOST_REQUEST_BYTES:
        raise OSError(f"it holds {held.st_size / 1e6:.0f} MB")
    return path.read_text(encoding="utf-8")


def _variants(asked: dict[str, Any]) -> int:
    count = asked.get("variants", _VARIANTS)
    if not isinstance(count, int) or not 2 <= count <= _MOST_VARIANTS:
        raise ValueError(f"variants must be between 2 and {_MOST_VARIANTS}, got {count!r}")
    return count


def _path(asked: dict[str, Any], key: str) -> Path:
    value = asked.get(key)
    if not isinstance(value, str) or not value:
        raise ValueError(f"{key} must be a path, got {value!r}")
    return Path(value).absolute()


def read_lines(descriptor: int, tell: Callable[[bytes], None]) -> None:
    """Begin to read lines in a thread of their own; the end of the stream is told as an empty one."""

    def read() -> None:
        waiting = b""
        while True:
            try:
                data = os.read(descriptor, 1 << 16)
            except OSError:
                data = b""
            if not data:
                tell(b"")
                return
            *lines, waiting = (waiting + data).split(b"\n")
            for line in lines:
                tell(line.strip() or b" ")

    # not sys.stdin: a thread that waits in it would hold its lock when the process ends
    threading.Thread(target=read, daemon=True).start()


def main(arguments: list[str]) -> int:
    """Run the request named on the command line; returns the exit code."""
    try:
        if len(arguments) != 1:
            raise ValueError(f"one request file is needed, got {len(arguments)} arguments")
        request = Request.read(arguments[0])
    except ValueError as error:
        _say({"kind": "failed", "words": str(error), "error": "InputError"})
        return BAD_INPUT
    return _Watch(request, arguments[0]).run()


class _Watch:
    """Starts the work, passes on what it says, and ends it when it is to stop."""

    def __init__(self, request: Request, path: str) -> None:
        from buckwright.output.files import missing_folders

        self._request, self._path = request, path
        self._made = [place for folder in request.folders for place in missing_folders(folder)]
        self._events: queue.SimpleQueue[tuple[str, bytes]] = queue.SimpleQueue()
        self._stop_at: float | None = None
        self._publishing = False
        self._last: dict[str, Any] = {}

    def run(self) -> int:
        for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK"):
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), lambda *_: self._events.put(("heard", b"stop")))
        sweep_scratch()
        scratch = tempfile.mkdtemp(prefix=f"{SCRATCH}{os.getpid()}-")
        try:
            return self._run(scratch)
        finally:
            shutil.rmtree(scratch, ignore_errors=True)

    def _run(self, scratch: str) -> int:
        read_lines(0, lambda line: self._events.put(("heard", line)))
        work = _start(self._path, scratch)
        try:
            self._follow(work)
        finally:
            if work.poll() is None:
                work.kill()
            code = work.wait()
        if self._last.get("kind") == "done":
            _say(self._last)
            return DONE
        self._clear(work.pid)
        if self._stop_at is not None:
            _say({"kind": "stopped"})
            return STOPPED
        if not self._last:
            self._last = {"kind": "failed", "words": _crashed(code), "error": "Crash"}
        _say(self._last)
        return BAD_INPUT if code == BAD_INPUT else FAILED

    def _follow(self, work: subprocess.Popen[bytes]) -> None:
        """Until the work has ended or its time to stop is over."""
        assert work.stdout is not None
        read_lines(work.stdout.fileno(), lambda line: self._events.put(("said", line)))
        while self._stop_at is None or time.monotonic() < self._stop_at:
            left = 0.2 if self._stop_at is None else max(self._stop_at - time.monotonic(), 0.0)
            try:
                who, line = self._events.get(timeout=min(left, 0.2))
            except queue.Empty:
                continue
            if who == "heard":
                if line in (b"", b"stop"):
                    self._stop(work)
            elif not line or self._said(json.loads(line), work):
                return

    def _stop(self, work: subprocess.Popen[bytes]) -> None:
        if self._stop_at is None and not self._publishing:
            self._stop_at = time.monotonic() + GRACE_S
            _tell(work, b"stop\n")

    def _said(self, message: dict[str, Any], work: subprocess.Popen[bytes]) -> bool:
        """Take in one message of the work; whether it was the last."""
        kind = message["kind"]
        if kind in ("done", "failed"):
            self._last = message
        elif kind == "publishing" and self._stop_at is None:
            self._publishing = True
            _tell(work, b"go\n")
        elif kind == "step" and self._stop_at is None and not _say(message):
            self._stop(work)  # nobody listens any more
        # a failure is followed by the exit code
        return bool(kind == "done")

    def _clear(self, process: int) -> None:
        from buckwright.output.files import clear_leftovers

        clear_leftovers(self._request.folders, self._made, process=process)


def sweep_scratch() -> None:
    """Take away the scratch folders of processes that were killed."""
    from buckwright.output.journal import alive

    for folder in Path(tempfile.gettempdir()).glob(f"{SCRATCH}*-*"):
        owner = folder.name.split("-")[1]
        if owner.isdecimal() and not alive(int(owner)):
            shutil.rmtree(folder, ignore_errors=True)  # those of other users stay


def _start(path: str, scratch: str) -> subprocess.Popen[bytes]:
    flags = ["-I"] if sys.flags.isolated else []
    return subprocess.Popen(
        [sys.executable, *flags, str(Path(__file__).with_name("hosted.py")), path],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=os.environ | dict.fromkeys(("TMPDIR", "TEMP", "TMP"), scratch),
        creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        start_new_session=True,  # an interrupt of a terminal comes to this process alone, which tells it
    )


def _tell(work: subprocess.Popen[bytes], words: bytes) -> None:
    assert work.stdin is not None
    try:
        work.stdin.write(words)
        work.stdin.flush()
    except OSError:
        pass  # it has ended; what it said last tells why


def _say(message: dict[str, Any]) -> bool:
    """Write one line to standard output; whether anybody could read it."""
    data = (json.dumps(message) + "\n").encode()
    try:
        while data:
            data = data[os.write(1, data) :]
    except OSError:
        return False
    return True


def _crashed(code: int) -> str:
    cause = f"signal {-code}" if code < 0 else f"code {code}"
    hint = ", often a sign of too little memory" if code == -getattr(signal, "SIGKILL", 9) else ""
    return f"the work ended without an explanation ({cause}{hint}); nothing was written"


if __name__ == "__main__":
    here = Path(__file__).resolve().parent
    sys.path[:] = [str(here.parent), *(entry for entry in sys.path if entry != str(here))]
    # not sys.exit: a thread may still wait for input
    os._exit(importlib.import_module("buckwright.host").main(sys.argv[1:]))
