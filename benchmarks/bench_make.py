"""The whole road from a file of a million faces to the buck: seconds and memory, and growth to four million.

Run with `pytest benchmarks/bench_make.py -s`. The four million take minutes and some memory, so they only run
when asked for: `BUCKWRIGHT_LARGE=1 pytest benchmarks/bench_make.py -s -k four`.
"""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

SAMPLES = Path(__file__).parents[1] / "sample_scenes"
JOB = SAMPLES / "antler_bust" / "job.toml"

MAKE = SAMPLES / "make_samples.py"
RUN = """
import json, resource, sys, time
from buckwright.job import read_job
from buckwright.pipeline.run import run
begin = time.perf_counter()
outcome = run("make", read_job(sys.argv[1]), sys.argv[2])
seconds = time.perf_counter() - begin
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
report = outcome.report
print(json.dumps({
    "seconds": seconds,
    "processor_s": time.process_time(),
    "peak_gb": peak / 1e6 if sys.platform != "darwin" else peak / 1e9,
    "faces": report["input"]["faces"],
    "buck_faces": report["buck"]["faces"],
    "sideways_left_mm": report["release"]["sideways_left_mm"],
    "watertight": report["buck"]["watertight"],
    "timing_s": report["timing_s"],
}))
"""


def sculpted(folder: Path, coarse: float) -> Path:
    """A job folder with the antlered faun in it, sampled coarser or finer."""
    subprocess.run(
        [sys.executable, str(MAKE), "antler_bust", "--coarse", str(coarse), "--into", str(folder)], check=True
    )
    job = folder / "antler_bust" / "job.toml"
    job.write_text(JOB.read_text(encoding="utf-8"), encoding="utf-8")
    return job


def made(job: Path, out: Path) -> dict[str, Any]:
    """Run `make` in a process of its own and read what it took."""
    done = subprocess.run(
        [sys.executable, "-c", RUN, str(job), str(out)], stdout=subprocess.PIPE, check=True, text=True
    )
    told: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    steps = ", ".join(f"{name} {seconds:.1f}" for name, seconds in told["timing_s"].items())
    print(
        f"\n{told['faces']} faces -> {told['buck_faces']}: {told['seconds']:.1f} s, "
        f"{told['processor_s']:.1f} s of processor time ({steps}), "
        f"peak {told['peak_gb']:.2f} GB, {told['sideways_left_mm']:.3f} mm sideways left"
    )
    return told


@pytest.fixture(scope="module")
def compiled(tmp_path_factory: pytest.TempPathFactory) -> None:
    """A small run first, so that no measured one waits for the compiler."""
    folder = tmp_path_factory.mktemp("small")
    made(sculpted(folder, 5.0), folder / "out")


def test_a_million_faces(benchmark: Any, tmp_path: Path, compiled: None) -> None:
    job = sculpted(tmp_path, 1.0)
    told = benchmark.pedantic(made, args=(job, tmp_path / "out"), rounds=1)
    benchmark.extra_info.update(told)
    assert told["faces"] > 900_000
    assert told["watertight"]
    assert told["sideways_left_mm"] <= 0.1
    assert told["peak_gb"] < 4.0
    assert told["seconds"] < 30.0


@pytest.mark.skipif("BUCKWRIGHT_LARGE" not in os.environ, reason="only when BUCKWRIGHT_LARGE is set")
def test_growth_to_four_million(benchmark: Any, tmp_path: Path, compiled: None) -> None:
    one = made(sculpted(tmp_path / "one", 1.0), tmp_path / "out")
    job = sculpted(tmp_path / "four", 0.5)
    four = benchmark.pedantic(made, args=(job, tmp_path / "out"), rounds=1)
    growth = four["seconds"] / one["seconds"]
    benchmark.extra_info.update(one=one, four=four, growth=growth)
    print(f"\n{four['faces'] / one['faces']:.2f} times the faces, {growth:.2f} times the time")
    assert growth < 1.5 * four["faces"] / one["faces"]
