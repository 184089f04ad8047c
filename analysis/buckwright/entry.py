"""Where the command begins: an interrupt ends it within a second, from the first import on.

A solid operation cannot be interrupted from within, and neither can an import. So the work runs in a process
of its own (where the system can split one), and this one only waits: on an interrupt it gives the work a
moment to end by itself and clean up, then ends it. What was being published is finished by the next start.

Only what the interpreter has loaded anyway is imported here: an interrupt that comes before the work is split
off would end in a traceback. That is why signals come from the module beneath `signal`.
"""

import _signal as signal
import os
import sys
import time

__all__ = ["main"]

STOPPED = 130
"""Exit code after an interrupt: 128 and the number of the signal, as shells have it."""
_GRACE_S = 0.7


class _Stop(Exception):  # noqa: N818  (it is no error that the user stops the work)
    """The user asked to stop."""


def main() -> None:
    """Run the command line."""
    if hasattr(os, "fork") and sys.platform != "win32":
        _split()
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a terminal may know fewer letters than a name holds
            stream.reconfigure(errors="replace")
    try:
        from buckwright.cli import main as command

        command()
    except KeyboardInterrupt:
        sys.stderr.write("Stopped; results are complete or as they were before.\n")
        sys.stderr.flush()
        os._exit(STOPPED)


def _split() -> None:
    """Split off the work; the process that was started waits for it and does not return from here."""
    worker = os.fork()
    if worker:
        os._exit(_guard(worker))
    signal.signal(signal.SIGINT, _interrupted_once)


def _interrupted_once(_number: int, _frame: object) -> None:
    """A terminal and the guard may both tell of the same interrupt."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    raise KeyboardInterrupt


def _guard(worker: int) -> int:
    """Wait for the work; its exit code, or that of an interrupt."""

    def stop(_number: int, _frame: object) -> None:
        raise _Stop

    kinds = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
    try:
        for kind in kinds:
            signal.signal(kind, stop)
        code = os.waitstatus_to_exitcode(os.waitpid(worker, 0)[1])
        return code if code >= 0 else 128 - code
    except _Stop:
        for kind in kinds:
            signal.signal(kind, signal.SIG_IGN)
        _end(worker)
        return STOPPED


def _end(worker: int) -> None:
    """Ask the work to end, then end it."""
    patience = time.monotonic() + _GRACE_S
    _send(worker, signal.SIGINT)
    while time.monotonic() < patience:
        if os.waitpid(worker, os.WNOHANG)[0]:
            return
        time.sleep(0.01)
    _send(worker, signal.SIGKILL)
    os.waitpid(worker, 0)
    sys.stderr.write("Stopped.\n")
    sys.stderr.flush()


def _send(worker: int, number: int) -> None:
    try:  # noqa: SIM105  (nothing is imported here that can be done without)
        os.kill(worker, number)
    except ProcessLookupError:
        pass  # it has just ended


if __name__ == "__main__":
    main()
