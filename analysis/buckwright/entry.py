"""Where the command begins: an interrupt ends it within a second, from the first import on.

A solid operation cannot be interrupted from within, and neither can an import. So the work runs in a process
of its own (where the system can split one), and this one only waits: on an interrupt it gives the work a
moment to end by itself and clean up, then ends it. What was being published is finished by the next start.

Only what the interpreter has loaded anyway is imported here: an interrupt that comes before the work is split
off would end in a traceback. That is why signals come from the module beneath `signal`.
"""

import _signal as signal
import _thread
import os
import sys
import time

__all__ = ["main"]

STOPPED = 130
"""Exit code after an interrupt: 128 and the number of the signal, as shells have it."""
_GRACE_S = 0.7
_interrupts: list[int] = []
"""Signals that asked to stop, once they came."""


def main() -> None:
    """Run the command line."""
    try:
        if hasattr(os, "fork") and sys.platform != "win32":
            _split()
        for stream in (sys.stdout, sys.stderr):
            if hasattr(stream, "reconfigure"):  # a terminal may know fewer letters than a name holds
                stream.reconfigure(errors="replace")
        from buckwright.cli import main as command

        command()
    except KeyboardInterrupt:
        _leave()
    except Exception:
        # what reads a pickle, for one, turns an interrupt into an error of its own
        if not _interrupts:
            raise
        _leave()


def _leave() -> None:
    sys.stderr.write("Stopped; results are complete or as they were before.\n")
    sys.stderr.flush()
    os._exit(STOPPED)


def _split() -> None:
    """Split off the work; the process that was started waits for it and does not return from here.

    Signals are blocked meanwhile: none is lost or comes to one that has not made ready for it.
    """
    asked = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
    # what was started to ignore one, as by nohup, goes on doing so
    heeded = {kind for kind in asked if signal.getsignal(kind) != signal.SIG_IGN}
    signal.pthread_sigmask(signal.SIG_BLOCK, heeded | {signal.SIGCHLD})
    here, there = os.pipe()
    worker = os.fork()
    if worker:
        os._exit(_guard(worker, heeded))
    os.close(there)
    _thread.start_new_thread(_end_with, (here,))
    if signal.SIGINT in heeded:
        signal.signal(signal.SIGINT, _interrupted_once)
    signal.pthread_sigmask(signal.SIG_UNBLOCK, heeded | {signal.SIGCHLD})


def _interrupted_once(number: int, _frame: object) -> None:
    """A terminal and the guard may both tell of the same interrupt."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _interrupts.append(number)
    # a callback of the compiler would print it with a traceback and go on; the guard ends that
    sys.unraisablehook = lambda _: None
    raise KeyboardInterrupt


def _end_with(guard: int) -> None:
    """End the work when the guard is gone, which was killed then; `guard` is a pipe that it holds open."""
    os.read(guard, 1)
    _send(os.getpid(), signal.SIGINT)
    time.sleep(_GRACE_S)
    os._exit(STOPPED)


def _guard(worker: int, heeded: set[int]) -> int:
    """Wait for the work, and for signals, which are blocked; the exit code of the work or of an interrupt."""
    signal.signal(signal.SIGCHLD, lambda *_: None)  # else some systems do not keep it while it is blocked
    while True:
        ended, status = os.waitpid(worker, os.WNOHANG)
        if ended:
            code = os.waitstatus_to_exitcode(status)
            return code if code >= 0 else 128 - code
        if signal.sigwait(heeded | {signal.SIGCHLD}) != signal.SIGCHLD:
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
