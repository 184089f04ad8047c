"""The first run compiles its loops; a second process compiles those that come later, beside the work.

It runs the same command on a ball (`on_a_ball`) as soon as the run itself has to compile anything. Being done
with its work long before the run is, it comes to each loop first, and the run reads the machine code from the
disk. Nothing is told of it, and nothing depends on it.
"""

import json
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

from buckwright.job import Job
from buckwright.kernel import compiling, keeps_code

__all__ = ["REHEARSING", "rehearsed"]

REHEARSING = "BUCKWRIGHT_REHEARSING"
"""Set in the environment of the process that rehearses, which needs no other to help it."""

_DOES = """
import importlib, json, sys
sys.path[:] = json.loads(sys.argv[1])
importlib.import_module(sys.argv[2]).main(*sys.argv[3:])
"""
_MODULE = f"{__package__}.on_a_ball"


class _Helper:
    """The process that rehearses, begun at most once."""

    def __init__(self, command: str, job: Job) -> None:
        self._words = (command, json.dumps(_what_matters(job)))
        self._begun = threading.Lock()
        self.process: subprocess.Popen[bytes] | None = None

    def begin(self) -> None:
        """Begin, unless that was done; a machine that cannot start another process compiles alone."""
        if not self._begun.acquire(blocking=False):
            return
        with suppress(OSError):
            self.process = subprocess.Popen(
                [sys.executable, "-c", _DOES, json.dumps(sys.path), _MODULE, *self._words],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                env={**os.environ, REHEARSING: "1"},
            )

    def end(self) -> None:
        """End it, whatever it has done."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()


@contextmanager
def rehearsed(command: str, job: Job) -> Iterator[None]:
    """Have the loops of a command compiled beside it as soon as one of them must be.

    Parameters
    ----------
    command : name of one of `COMMANDS`
    job : settings
    """
    if REHEARSING in os.environ or (os.process_cpu_count() or 1) < 2 or not keeps_code():
        yield
        return
    helper = _Helper(command, job)
    try:
        with compiling(helper.begin):
            yield
    finally:
        helper.end()


def _what_matters(job: Job) -> dict[str, dict[str, Any]]:
    """Settings that decide which loops are needed, by table."""
    sink = job.base.sink_mm
    return {
        "pull": {"direction": job.pull.direction},
        "fill": {"mode": job.fill.mode},
        # a depth in mm may be more than the ball is high
        "base": {"style": job.base.style, "sink_mm": sink if isinstance(sink, str) else 0.0},
        "vents": {"enabled": job.vents.enabled},
        "forecast": {"quality": job.forecast.quality, "place_vents": job.forecast.place_vents},
    }
