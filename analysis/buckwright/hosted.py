"""The work behind `host`: runs the pipeline for a request and says on standard output how far it is.

It hears three things on standard input: "go" (files may be moved to their places), "stop", and the end, which
means that whoever watched is gone.
"""

import importlib
import json
import os
import signal
import sys
import threading
import time
import traceback
from pathlib import Path
from typing import Any

__all__ = ["main"]

#: Progress is told no more often than this.
_PAUSE_S = 0.1
#: When nobody watches any more, so long is waited for a place to stop at.
_GRACE_S = 0.4


class _Line:
    """The line to the process that watches."""

    def __init__(self) -> None:
        # What libraries print must not come between the messages.
        self._out = os.dup(1)
        os.dup2(2, 1)
        self._stop, self._go = threading.Event(), threading.Event()
        self._moving = threading.Lock()
        self._folders: list[Path] = []
        self._made: list[Path] = []
        self._told = ("", 0.0)

    def listen(self, folders: list[Path]) -> None:
        """Begin to listen; `folders` are where the work writes."""
        from buckwright.host import read_lines
        from buckwright.output.files import missing_folders

        self._folders = folders
        self._made = [place for folder in folders for place in missing_folders(folder)]
        read_lines(0, self._heard)

    def say(self, **message: Any) -> None:
        data = (json.dumps(message) + "\n").encode()
        try:
            while data:
                data = data[os.write(self._out, data) :]
        except OSError:
            self._stop.set()

    def progress(self, step: str, share: float) -> None:
        """Tell a step, not too often."""
        name, when = self._told
        now = time.monotonic()
        if step != name or now - when >= _PAUSE_S:
            self._told = (step, now)
            self.say(kind="step", name=step, share=round(min(max(share, 0.0), 1.0), 4))

    def stopped(self) -> bool:
        return self._stop.is_set()

    def gate(self) -> None:
        """Wait until files may be moved to their places; from then on nothing ends the work."""
        from buckwright.errors import Cancelled

        self._moving.acquire()
        self.say(kind="publishing")
        self._go.wait()
        if self._stop.is_set():
            self._moving.release()
            raise Cancelled("stopped before anything was published")

    def _heard(self, line: bytes) -> None:
        if line == b"go":
            self._go.set()
        elif line in (b"stop", b""):
            self._stop.set()
            self._go.set()
        if line == b"":
            self._end_alone()

    def _end_alone(self) -> None:
        from buckwright.host import STOPPED
        from buckwright.output.files import clear_leftovers

        time.sleep(_GRACE_S)
        with self._moving:
            clear_leftovers(self._folders, self._made, process=os.getpid())
            os._exit(STOPPED)


def main(arguments: list[str]) -> int:
    """Run the request; returns the exit code."""
    for name in ("SIGINT", "SIGBREAK"):  # the process that watches hears them too, and says what to do
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    from buckwright.host import FAILED, STOPPED, Request

    line = _Line()
    request = Request.read(arguments[0])
    line.listen(request.folders)
    line.progress("starting", 0.0)
    try:
        return _work(request, line)
    except MemoryError:
        words = "there is not enough memory for this sculpt; close other programs or reduce it"
        line.say(kind="failed", words=words, error="MemoryError")
        return FAILED
    except Exception as error:
        if type(error).__name__ == "Cancelled":
            return STOPPED
        traceback.print_exc()
        line.say(kind="failed", words=f"internal error: {error!r}", error=type(error).__name__)
        return FAILED


def _work(request: Any, line: _Line) -> int:
    from buckwright.errors import BuckwrightError, Cancelled, InputError, OutputError
    from buckwright.host import BAD_INPUT, DONE, FAILED

    try:
        releases = _run(request, line)
    except Cancelled:
        raise
    except BuckwrightError as error:
        line.say(kind="failed", words=str(error), error=type(error).__name__)
        return BAD_INPUT if isinstance(error, InputError | OutputError) else FAILED
    line.say(
        kind="done",
        releases=releases,
        report=str(request.results / "report.json"),
        arrays=str(request.results / "arrays.npz"),
    )
    return DONE


def _run(request: Any, line: _Line) -> bool:
    """Do the work; whether the part releases, as far as the command can tell."""
    from buckwright.host import FINISHED, LOG, TUNE
    from buckwright.job import read_job
    from buckwright.pipeline.finished import write_finished
    from buckwright.pipeline.run import run

    how = {"progress": line.progress, "cancelled": line.stopped, "gate": line.gate, "prefix": request.prefix}
    job = read_job(request.job)
    if request.command == FINISHED:
        write_finished(job, request.out, **how)
        return True
    if request.command == LOG:
        _tell_log(job, request, line.gate)
        return True
    if request.command == TUNE:
        _tune(job, request, line)
        return True
    outcome = run(
        request.command,
        job,
        request.out,
        pictures=request.pictures,
        results=request.results,
        keep=request.keep,
        **how,
    )
    return outcome.releases


def _tell_log(job: Any, request: Any, gate: Any) -> None:
    """Write what the pulls say as report.json."""
    from buckwright.output.files import Batch
    from buckwright.output.report import write_report
    from buckwright.pipeline.log_words import log_report
    from buckwright.pipeline.pull_log import view_log

    report = log_report(view_log(job, path=request.log))
    with Batch(request.results, gate) as batch:
        batch.add("report.json", lambda file: write_report(file, report))


def _tune(job: Any, request: Any, line: _Line) -> None:
    """Search for better settings at preview quality; what was found as report.json."""
    from buckwright.forming.forecast.thresholds import HANDY_MM
    from buckwright.many.alone import Alone
    from buckwright.many.tuning import tune, tuned_report
    from buckwright.output.files import Batch
    from buckwright.output.report import write_report

    job = job.evolved(forecast={"quality": "preview"})
    alone = Alone(request.variants, progress=line.progress, cancelled=line.stopped)
    found = tune(job, None, request.out, alone, count=request.variants, least_mm=HANDY_MM)
    report = tuned_report(found, request.out)
    with Batch(request.results, line.gate) as batch:
        batch.add("report.json", lambda file: write_report(file, report))


if __name__ == "__main__":
    here = Path(__file__).resolve().parent
    sys.path[:] = [str(here.parent), *(entry for entry in sys.path if entry != str(here))]
    # not sys.exit: taking a large heap apart takes longer than leaving it to the system
    os._exit(importlib.import_module("buckwright.hosted").main(sys.argv[1:]))
