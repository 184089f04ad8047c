"""Publishing is wholly old or wholly new, wherever a process is killed; the next start leaves no rubbish."""

import hashlib
import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from buckwright.output import journal
from buckwright.output.files import Batch, mend

POSIX = pytest.mark.skipif(os.name != "posix", reason="kills by signal")

# Publishes a generation of files for ever; its report names the hash of each, and comes last.
WRITER = """
import hashlib, json, sys
from pathlib import Path
from buckwright.output.files import Batch
folder, n = Path(sys.argv[1]), int(sys.argv[2])
print("ready", flush=True)
while True:
    n += 1
    data = {f"file{k}": (f"generation {n} " * (200 * k + 1)).encode() for k in range(6 + n % 2)}
    report = json.dumps({name: hashlib.sha256(held).hexdigest() for name, held in data.items()}).encode()
    with Batch(folder) as batch:
        for name, held in data.items():
            batch.add(name, lambda file, held=held: file.write(held))
        batch.add("report.json", lambda file: file.write(report))
        for path in folder.glob("file*"):
            if path.name not in data:
                batch.remove(path)
"""


def whole(folder: Path) -> bool:
    """Whether the folder holds just what its report names, with those hashes."""
    names = {path.name for path in folder.iterdir()}
    if not names:
        return True
    report = json.loads((folder / "report.json").read_bytes())
    held = {name: hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in report}
    return held == report and names == {*report, "report.json"}


@POSIX
def test_killed_at_random_never_leaves_a_mixture(tmp_path: Path) -> None:
    rng = random.Random(5)
    for n in range(20):
        words = [sys.executable, "-c", WRITER, str(tmp_path), str(1000 * n)]
        with subprocess.Popen(words, stdout=subprocess.PIPE) as process:
            assert process.stdout is not None
            process.stdout.readline()
            time.sleep(rng.uniform(0.0, 0.05))
            process.send_signal(signal.SIGKILL)
            process.wait()
        mend(tmp_path)
        assert whole(tmp_path), sorted(path.name for path in tmp_path.iterdir())


class Killed(BaseException):
    """Stands for the end of the process."""


@pytest.mark.parametrize("at", range(24))
def test_killed_at_every_step_of_publishing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int) -> None:
    """Ends at the n-th call that changes the folder; the next start makes it wholly old or wholly new."""
    older = {"a": b"older a", "b": b"older b", "gone": b"older"}
    newer = {"a": b"newer a", "b": b"newer b", "c": b"newer c"}
    for name, data in older.items():
        (tmp_path / name).write_bytes(data)
    calls = 0

    def counted(function):
        def call(*words, **more):
            nonlocal calls
            calls += 1
            if calls == at + 1:
                raise Killed
            return function(*words, **more)

        return call

    batch = Batch(tmp_path)
    batch.__enter__()
    for name, data in newer.items():
        batch.add(name, lambda file, data=data: file.write(data))
    batch.remove(tmp_path / "gone")
    with monkeypatch.context() as patch:
        patch.setattr(Path, "replace", counted(Path.replace))
        patch.setattr(Path, "unlink", counted(Path.unlink))
        patch.setattr(os, "link", counted(os.link))
        patch.setattr(Batch, "_clear", lambda _self: None)  # a process that is gone clears nothing
        try:
            batch.__exit__(None, None, None)
        except Killed:
            pass
        else:
            assert at >= 12, "every step of the publication is tried"
    # the process is gone: what carries its number is nobody's
    mend(tmp_path, process=os.getpid())
    held = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert held in (older, newer)


def test_a_failing_move_puts_everything_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    older = {"a": b"older a", "gone": b"older"}
    for name, data in older.items():
        (tmp_path / name).write_bytes(data)
    real = journal._move

    def failing(waiting: str, target: str) -> None:
        if target.endswith("c"):
            raise OSError(28, "No space left on device", target)
        real(waiting, target)

    monkeypatch.setattr(journal, "_move", failing)
    with pytest.raises(OSError, match="disk is full"), Batch(tmp_path) as batch:
        for name in "abc":
            batch.add(name, lambda file: file.write(b"newer"))
        batch.remove(tmp_path / "gone")
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == older


def test_a_damaged_journal_is_no_reason_to_touch_anything(tmp_path: Path) -> None:
    (tmp_path / "mine").write_bytes(b"mine")
    for words in (b"", b"{", b'{"entries": 5}', b"[]", b'{"entries": [["x"]]}'):
        (tmp_path / journal.JOURNAL).write_bytes(words)
        mend(tmp_path)
        assert {path.name for path in tmp_path.iterdir()} == {"mine"}, words


def test_files_of_living_processes_and_of_others_stay(tmp_path: Path) -> None:
    for name in (f".a.{os.getppid()}.0123abcd.part", ".hidden.part", ".a.b.part", "x.old"):
        (tmp_path / name).write_bytes(b"")
    (tmp_path / ".a.4194999.0123abcd.part").write_bytes(b"")  # above the greatest number of a process
    mend(tmp_path)
    assert not (tmp_path / ".a.4194999.0123abcd.part").exists()
    assert len(list(tmp_path.iterdir())) == 4


@POSIX
def test_two_at_once_never_mix(tmp_path: Path) -> None:
    words = [[sys.executable, "-c", WRITER, str(tmp_path), str(k)] for k in (0, 10**6)]
    processes = [subprocess.Popen(line, stdout=subprocess.PIPE) for line in words]
    try:
        for process in processes:
            assert process.stdout is not None
            process.stdout.readline()
        time.sleep(1.0)
    finally:
        for process in processes:
            process.send_signal(signal.SIGKILL)
            process.wait()
            assert process.stdout is not None
            process.stdout.close()
    mend(tmp_path)
    report = json.loads((tmp_path / "report.json").read_bytes())
    held = {name: hashlib.sha256((tmp_path / name).read_bytes()).hexdigest() for name in report}
    assert held == report


@POSIX
def test_an_interrupt_waits_for_the_moves(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = journal._move

    def interrupted(waiting: str, target: str) -> None:
        os.kill(os.getpid(), signal.SIGINT)
        real(waiting, target)

    monkeypatch.setattr(journal, "_move", interrupted)
    with pytest.raises(KeyboardInterrupt), Batch(tmp_path) as batch:
        for name in "abc":
            batch.add(name, lambda file: file.write(b"newer"))
    assert {path.name for path in tmp_path.iterdir()} == {"a", "b", "c"}
