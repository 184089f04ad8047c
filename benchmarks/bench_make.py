"""The whole road from a sculpt's file to the buck, counted in unions; memory; growth to four million faces.

The yardstick is one union, by manifold3d, of the same sculpt with a box over its lower half, from triangles
to triangles and in the same run. `make` may take 40 times as long for a million faces and 100 times for the
heron; what each step takes is told in unions too. Run with `pytest benchmarks/bench_make.py -s`. The four
million take minutes and some memory, so they only run when asked for:
`BUCKWRIGHT_LARGE=1 pytest benchmarks/bench_make.py -s -k four`.
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
HERON = SAMPLES / "heron_mask" / "job.toml"

RUN = """
import json, resource, sys, time
from buckwright.job import read_job
from buckwright.pipeline.run import run
command = sys.argv[3]
begin, before = time.perf_counter(), time.process_time()
outcome = run(command, read_job(sys.argv[1]), sys.argv[2])
seconds, processor_s = time.perf_counter() - begin, time.process_time() - before
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
report = outcome.report

def union_s(mesh):
    \"\"\"Processor time of one union of a sculpt with a box over its lower half: the least of three.\"\"\"
    from manifold3d import Manifold
    from buckwright.shape.solid import as_mesh, as_solid
    low, high = mesh.bounds
    size = (high - low) * [1.1, 1.1, 0.5]
    box = Manifold.cube(size).translate(low - (high - low) * [0.05, 0.05, 0.0] - [0.0, 0.0, 1.0])
    took = []
    for _ in range(3):
        begin = time.process_time()
        as_mesh(as_solid(mesh) + box)
        took.append(time.process_time() - begin)
    return min(took)

print(json.dumps({
    "seconds": seconds,
    "processor_s": processor_s,
    "union_s": union_s(outcome.results["posed"].mesh),
    "peak_gb": peak / 1e6 if sys.platform != "darwin" else peak / 1e9,
    "faces": report["input"]["faces"],
    "buck_faces": report.get("buck", {}).get("faces", 0),
    "sideways_left_mm": report.get("release", {}).get("sideways_left_mm", 0.0),
    "watertight": report.get("buck", {}).get("watertight"),
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


def made(job: Path, out: Path, command: str = "make") -> dict[str, Any]:
    """Run a command in a process of its own and read what it took."""
    done = subprocess.run(
        [sys.executable, "-c", RUN, str(job), str(out), command],
        stdout=subprocess.PIPE,
        check=True,
        text=True,
    )
    told: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    union = told["union_s"]
    print(
        f"\n{command}: {told['faces']} faces -> {told['buck_faces']}: {told['seconds']:.1f} s, "
        f"{told['processor_s']:.1f} s of processor time, peak {told['peak_gb']:.2f} GB, "
        f"{told['sideways_left_mm']:.3f} mm sideways left"
    )
    print(f"one union {union:.2f} s: {told['processor_s'] / union:.0f} unions of processor time")
    for name, seconds in told["timing_s"].items():
        print(f"{seconds:8.1f} s {seconds / union:7.1f} unions  {name}")
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
    assert told["processor_s"] < 40.0 * told["union_s"]


def test_hollow_and_split_of_a_million_faces(benchmark: Any, tmp_path: Path, compiled: None) -> None:
    """Hollowing, cutting it out and splitting; on a busy machine only the processor time says something."""
    job = sculpted(tmp_path, 1.0)
    asked = '\n[hollow]\nkind = "ribbed"\n[printer]\nbed_mm = [160.0, 160.0]\n'
    job.write_text(job.read_text(encoding="utf-8") + asked, encoding="utf-8")
    told = benchmark.pedantic(made, args=(job, tmp_path / "out"), rounds=1)
    benchmark.extra_info.update(told)
    steps = ("hollowing", "drilling", "fitting the printer")
    assert told["faces"] > 900_000
    assert told["watertight"]
    assert sum(told["timing_s"][step] for step in steps) < 30.0
    assert told["peak_gb"] < 4.0


def test_the_heron(benchmark: Any, tmp_path: Path, compiled: None) -> None:
    told = benchmark.pedantic(made, args=(HERON, tmp_path / "out"), rounds=1)
    benchmark.extra_info.update(told)
    assert told["watertight"]
    assert told["buck_faces"] <= 1.4 * told["faces"]
    assert told["seconds"] < 20.0
    assert told["processor_s"] < 100.0 * told["union_s"]


def test_a_look_at_a_million_faces(benchmark: Any, tmp_path: Path, compiled: None) -> None:
    job = sculpted(tmp_path, 1.0)
    told = benchmark.pedantic(made, args=(job, tmp_path / "out", "look"), rounds=1)
    benchmark.extra_info.update(told)
    assert told["seconds"] < 6.0


@pytest.mark.skipif("BUCKWRIGHT_LARGE" not in os.environ, reason="only when BUCKWRIGHT_LARGE is set")
def test_growth_to_four_million(benchmark: Any, tmp_path: Path, compiled: None) -> None:
    one = made(sculpted(tmp_path / "one", 1.0), tmp_path / "out")
    job = sculpted(tmp_path / "four", 0.5)
    four = benchmark.pedantic(made, args=(job, tmp_path / "out"), rounds=1)
    growth = four["seconds"] / one["seconds"]
    benchmark.extra_info.update(one=one, four=four, growth=growth)
    print(f"\n{four['faces'] / one['faces']:.2f} times the faces, {growth:.2f} times the time")
    assert growth < 1.5 * four["faces"] / one["faces"]
