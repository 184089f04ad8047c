"""The command as a process: an interrupt ends it within a second with 130 and without a traceback."""

import os
import random
import signal
import subprocess
import sys
import time

import pytest

pytestmark = pytest.mark.skipif(os.name != "posix", reason="interrupts by signal")

COMMAND = [sys.executable, "-m", "buckwright"]


def _stop(words, after_s, folder):
    """Start the command, interrupt the process that was started, wait for its end."""
    with subprocess.Popen(
        [*COMMAND, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=folder, start_new_session=True
    ) as process:
        time.sleep(after_s)
        process.send_signal(signal.SIGINT)
        begun = time.monotonic()
        _, errors = process.communicate(timeout=60)
        return process.returncode, errors.decode(), time.monotonic() - begun


def test_an_interrupt_at_any_moment(sculpt_file, tmp_path):
    sculpt = sculpt_file("idol")
    rng = random.Random(2)
    for n in range(8):
        # the first tenths of a second are imports
        after = 0.05 + 0.1 * n if n < 5 else rng.uniform(0.5, 4.0)
        code, errors, took = _stop(["make", str(sculpt), "--pull-direction", "z"], after, tmp_path)
        if code == 0 or (code < 0 and "buckwright" not in errors):
            continue  # it was done before, or the interpreter had not come to it yet
        assert code == 130, errors
        assert "Traceback" not in errors
        assert took < 15  # a second on a quiet machine
        assert not list(tmp_path.rglob("*.part"))


def test_exit_codes_pass_through(tmp_path):
    for words, code in ((["--version"], 0), (["make", "absent.stl"], 2), (["nonsense"], 2)):
        done = subprocess.run([*COMMAND, *words], capture_output=True, check=False, cwd=tmp_path, timeout=120)
        assert done.returncode == code


def test_a_read_only_installation_without_a_home_runs(sculpt_file, tmp_path):
    """Compiled loops that cannot be kept anywhere are compiled anew, and that is said once."""
    words = [*COMMAND, "look", str(sculpt_file("box")), "--pull-direction", "z", "--no-pictures"]
    program = (
        "import sys, numba.core.caching as c; c.CacheImpl._locator_classes = []; "
        "sys.argv = ['buckwright', *sys.argv[1:]]; from buckwright.entry import main; main()"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, *words[3:]], capture_output=True, text=True, check=False, cwd=tmp_path
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr.count("compiles them anew") == 1


_WAITING = """
import os, sys, time
from buckwright import entry
try:
    entry._split()
    print(os.getpid(), flush=True)
    time.sleep(60)
except KeyboardInterrupt:
    os._exit(entry.STOPPED)
"""


_CHANGED = """
import os, signal, sys, types
from buckwright import entry
command = types.ModuleType("buckwright.cli")
def main():
    try:
        os.kill(os.getpid(), signal.SIGINT)
        for _ in range(10**9): pass
    except KeyboardInterrupt:
        raise AttributeError("no such thing in the pickle")
command.main = main
sys.modules["buckwright.cli"] = command
entry.main()
"""


def test_an_interrupt_that_a_library_turned_into_an_error_is_no_traceback():
    done = subprocess.run([sys.executable, "-c", _CHANGED], capture_output=True, text=True, check=False)
    assert done.returncode == 130
    assert done.stderr == "Stopped; results are complete or as they were before.\n"


def _waiting(*, ignored=None):
    """A guard whose work only waits, and the id of the work."""
    before = None if ignored is None else signal.signal(ignored, signal.SIG_IGN)
    try:
        process = subprocess.Popen(
            [sys.executable, "-c", _WAITING],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            start_new_session=True,
        )
    finally:
        if ignored is not None:
            signal.signal(ignored, before)
    return process, int(process.stdout.readline())


def test_work_that_ends_just_before_the_guard_hears_of_the_interrupt():
    for n in range(20):
        process, work = _waiting()
        os.kill(work, signal.SIGINT)  # a terminal tells both
        time.sleep(n * 2e-4)
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=60)
        assert (process.returncode, errors) == (130, b"")


def test_the_work_ends_with_a_guard_that_is_killed():
    process, _ = _waiting()
    process.kill()
    # the work holds the other end of these pipes
    process.communicate(timeout=60)
    process, _ = _waiting(ignored=signal.SIGINT)
    process.kill()
    process.communicate(timeout=60)


def test_what_was_started_to_outlive_its_terminal_does_so():
    process, work = _waiting(ignored=signal.SIGHUP)
    process.send_signal(signal.SIGHUP)
    with pytest.raises(subprocess.TimeoutExpired):
        process.wait(timeout=0.5)
    os.kill(work, signal.SIGKILL)
    process.communicate(timeout=60)
    assert process.returncode == 137
