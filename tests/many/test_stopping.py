"""The commands as processes: an interrupt ends with 130 and leaves what is done; after a kill it goes on."""

import csv
import json
import os
import signal
import subprocess
import sys
import time

import psutil
import pytest

pytestmark = pytest.mark.skipif(os.name != "posix", reason="stops by signal")

VARIANTS = 20
COMMAND = [sys.executable, "-m", "buckwright"]


def _words(sculpt, out):
    return [
        *(*COMMAND, "sweep", str(sculpt), "--command", "look"),
        *("--vary", "draft.wanted_deg=1:5:1", "--vary", "sheet.thickness_mm=0.5:2:0.5"),
        *("--no-pictures", "--workers", "1", "--pull-direction", "z", "--out", str(out)),
    ]


def _done(out):
    book = out / "done.jsonl"
    return [json.loads(line)["name"] for line in book.read_text().splitlines()] if book.exists() else []


def _begun(words, out, count=1):
    """Start, and wait until so many jobs are done."""
    process = subprocess.Popen(
        words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    deadline = time.monotonic() + 120.0
    while len(_done(out)) < count and process.poll() is None and time.monotonic() < deadline:
        time.sleep(0.01)
    return process


def _all_gone(session):
    """Whether no process of a session is left, after a moment."""
    deadline = time.monotonic() + 15.0
    while time.monotonic() < deadline:
        left = [one for one in psutil.pids() if _session_of(one) == session]
        if not left:
            return True
        time.sleep(0.05)
    return False


def _session_of(process):
    try:
        return os.getsid(process)
    except OSError:
        return None


def test_a_sweep_of_twenty_goes_on_after_a_stop_and_a_kill(sculpt, tmp_path, monkeypatch):
    out, scratch = tmp_path / "out", tmp_path / "scratch"
    scratch.mkdir()
    monkeypatch.setenv("TMPDIR", str(scratch))
    stopped = _begun(_words(sculpt, out), out)
    stopped.send_signal(signal.SIGINT)
    _, errors = stopped.communicate(timeout=60)
    assert stopped.returncode == 130, errors
    assert "Traceback" not in errors
    assert _all_gone(stopped.pid)
    with (out / "table.csv").open(encoding="utf-8", newline="") as file:
        states = [row["state"] for row in csv.DictReader(file)]
    first = _done(out)
    assert 1 <= states.count("done") == len(first) < len(states) == VARIANTS

    killed = _begun(_words(sculpt, out), out, len(first) + 1)
    os.killpg(killed.pid, signal.SIGKILL)
    killed.communicate(timeout=60)
    assert _all_gone(killed.pid)
    second = _done(out)
    assert len(first) < len(second) < VARIANTS

    last = subprocess.run(_words(sculpt, out), capture_output=True, text=True, check=False, timeout=120)
    assert last.returncode == 0, last.stderr
    assert f"{VARIANTS} jobs done, 0 failed." in last.stdout
    # none was done twice
    every = [f"wanted_deg-{n}_thickness_mm-{t}" for n in range(1, 6) for t in ("0.5", "1", "1.5", "2")]
    assert sorted(_done(out)) == sorted(every)
    assert _done(out)[: len(second)] == second
    assert not list(out.rglob("*.part"))
    assert not list(scratch.iterdir())


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (["sweep", "s.stl", "--vary", "base.risr_mm=1,2"], 2, "did you mean base.riser_mm"),
        (["sweep", "s.stl", "--command", "look", "--vary", "vents.hole_mm=1,2"], 2, "changes nothing about"),
        (["batch", "."], 2, "neither job files nor sculpts"),
        (["batch", "gone.stl"], 1, "gone.stl does not exist"),
    ],
)
def test_what_is_wrong_is_told(words, code, told, tmp_path, monkeypatch):
    from click.testing import CliRunner

    from buckwright.cli import main

    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(main, words)
    assert done.exit_code == code, done.output
    assert told in done.output
