"""Many small jobs on two workers, against two streams that run them one after another.

A stream is a process that calls `run` for each of its jobs into a folder of its own: what two people at two
keyboards would get. Both are measured from the start of the processes to the last file, in the same run and
in turns, so that other work on the machine weighs on both. Run with `pytest benchmarks/bench_many.py -s`;
BUCKWRIGHT_JOBS=40 takes fewer jobs.

`python benchmarks/bench_many.py FOLDER` measures the same in slices of 20 jobs and keeps each in FOLDER, so
that it can be stopped at any time and goes on from there; every slice starts its processes anew, which weighs
on both.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from buckwright.job import Job
from buckwright.many.entries import sweep_entries
from buckwright.many.processes import Processes
from buckwright.many.running import Work, run_many
from buckwright.many.varying import Varied

JOBS = int(os.environ.get("BUCKWRIGHT_JOBS", "200"))
STREAM = """
import pickle, sys
from pathlib import Path
from buckwright.pipeline.run import run
for name, job in pickle.loads(Path(sys.argv[1]).read_bytes()):
    run("look", job, Path(sys.argv[2]) / name, pictures=False)
"""


def _processor_s() -> float:
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


def _streams(entries: list[Any], folder: Path) -> tuple[float, float]:
    """Seconds of two processes with half of the jobs each, on the clock and of processor."""
    import pickle

    begun, spent, streams = time.perf_counter(), _processor_s(), []
    for n in range(2):
        jobs = folder / f"jobs_{n}"
        jobs.write_bytes(pickle.dumps([(entry.name, entry.job) for entry in entries[n::2]]))
        words = [sys.executable, "-c", STREAM, str(jobs), str(folder / f"stream_{n}")]
        environment = {**os.environ, "BUCKWRIGHT_REHEARSING": "1"}
        streams.append(subprocess.Popen(words, env=environment))
    assert not any(stream.wait() for stream in streams)
    return time.perf_counter() - begun, _processor_s() - spent


def _batch(entries: list[Any], folder: Path) -> tuple[float, float]:
    """Seconds of two workers with all jobs, and of the table, on the clock and of processor."""
    begun, spent = time.perf_counter(), _processor_s()
    rows = run_many(
        entries, Work(title="many", command="look", out=folder / "batch", pictures=False), Processes(2)
    )
    assert all(row.state == "done" for row in rows)
    time.sleep(0.5)  # the workers are being waited for
    return time.perf_counter() - begun - 0.5, _processor_s() - spent


def _entries(folder: Path) -> list[Any]:
    path = folder / "ball.stl"
    trimesh.creation.icosphere(subdivisions=3, radius=30.0).export(path)
    job = Job(sculpt={"file": str(path)}, pull={"direction": "z"}, base={"sink_mm": 20.0})
    step = 10.0 / JOBS
    return sweep_entries(job, [Varied("draft.wanted_deg", tuple(1.0 + step * n for n in range(JOBS)))])


@pytest.fixture
def entries(tmp_path: Path) -> list[Any]:
    return _entries(tmp_path)


def test_two_workers_keep_up_with_two_streams(benchmark: Any, tmp_path: Path, entries: list[Any]) -> None:
    few = entries[:4]
    _batch(few, tmp_path / "warm")
    rounds = []
    for n in range(2):  # in turns: half of the jobs each, first one way round and then the other
        half, home = entries[n::2], tmp_path / f"round_{n}"
        home.mkdir()
        first = _streams(half, home) if n == 0 else None
        batch = _batch(half, home)
        rounds.append((first if first is not None else _streams(half, home), batch))
    streams, batch = (np.sum(one, axis=0) for one in zip(*rounds))
    share, spent = (float(one) for one in streams / batch)
    benchmark.extra_info.update(share=share, spent=spent)
    print(
        f"\n{JOBS} jobs: streams {streams[0]:.1f} s, {streams[1]:.1f} s of processor; "
        f"batch {batch[0]:.1f} s, "
        f"{batch[1]:.1f} s of processor: {share:.0%} on the clock, {spent:.0%} of processor"
    )
    benchmark.pedantic(lambda: None, rounds=1)
    assert share >= 0.9


def main() -> None:
    """Measure what is not measured yet, and tell the sum of all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, help="where measured slices are kept")
    parser.add_argument("--slice", type=int, default=20, help="jobs measured together")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    for n in range(0, JOBS, asked.slice):
        kept = asked.folder / f"jobs_{n:03d}.json"
        if not kept.exists():
            with tempfile.TemporaryDirectory() as home:
                some = _entries(Path(home))[n : n + asked.slice]
                ways = {"streams": _streams, "batch": _batch}
                turns = ways if n // asked.slice % 2 else dict(reversed(ways.items()))
                found = {name: measure(some, Path(home)) for name, measure in turns.items()}
            kept.write_text(json.dumps(found | {"jobs": len(some)}), encoding="utf-8")
        _tell(asked.folder)


def _tell(folder: Path) -> None:
    kept = [json.loads(path.read_text(encoding="utf-8")) for path in sorted(folder.glob("jobs_*.json"))]
    streams, batch = (np.sum([one[name] for one in kept], axis=0) for name in ("streams", "batch"))
    jobs = sum(one["jobs"] for one in kept)
    print(
        f"{jobs} of {JOBS} jobs: streams {streams[0]:.0f} s, {streams[1]:.0f} s of processor; batch "
        f"{batch[0]:.0f} s, {batch[1]:.0f} s of processor: {streams[0] / batch[0]:.0%} on the clock, "
        f"{streams[1] / batch[1]:.0%} of processor",
        flush=True,
    )


if __name__ == "__main__":
    main()
