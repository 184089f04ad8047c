"""The papers of a job, and blanks of many jobs on common sheets, against what is wanted of them.

The heron's frame, machine, cuts, edge, templates (DXF, SVG, PDF) and job sheet with its 3-D view, without
forecast and pictures: 5 s are wanted. Two hundred blanks of many sizes: 2 s. Run with
`pytest benchmarks/bench_workshop.py -s`.
"""

import subprocess
import sys
import time
from pathlib import Path

import numpy as np

from buckwright.clock import Clock
from buckwright.job import read_job
from buckwright.pipeline.engine import Engine
from buckwright.pipeline.job_sheet import add_job_sheet
from buckwright.pipeline.settled import settled
from buckwright.pipeline.store import Store
from buckwright.pipeline.telling import answers_of, sections_of, told_of
from buckwright.stages import all_stages
from buckwright.workshop.cutting.together import Demand, nest_together

SAMPLES = Path(__file__).parents[1] / "sample_scenes"
BEFORE = ("posed", "blank", "vented", "grooved", "buck", "heated", "holed", "formed", "verdict")
PAPERS = ("grouped", "rigged", "machined", "cuts", "edged", "drawn")
WANTED_S, WANTED_NEST_S = 5.0, 2.0


def test_papers_of_the_heron() -> None:
    """Everything that is printed or cut by, once the buck is there."""
    subprocess.run([sys.executable, str(SAMPLES / "make_samples.py"), "heron_mask"], check=True)
    job = read_job(SAMPLES / "heron_mask" / "job.toml").evolved(
        forecast={"quality": "off"},
        machine={"profile": "HOME_BOX_300_450"},
        rig={"reducing": True},
        edge={"profile": "u"},
    )
    clock, stages = Clock(), all_stages()
    with Engine(stages, settled(job), clock, Store(None, clock)) as engine:
        for name in BEFORE:
            engine.get(name)
        begin, before = time.perf_counter(), time.process_time()
        papers = [stage for stage in stages if stage.gives in PAPERS]
        for stage in papers:
            engine.get(stage.gives)
        told = told_of(job, dict(engine.results))
        files: dict[str, bytes] = {}
        for stage in papers:
            for paper in stage.papers:
                if not paper.picture and told.get(stage.gives) is not None:
                    files |= paper.make(told.get(stage.gives), told)
        report = {**sections_of(stages, told), "files": {}, "findings": []}
        files["buck.png"] = PIXEL
        add_job_sheet("the buck is ready to print.", told, answers_of(stages, told), report, files)
        clock_s, processor_s = time.perf_counter() - begin, time.process_time() - before
    weight = len(files["job_sheet.html"]) / 1e6
    print(
        f"\nheron: {len(files)} papers in {clock_s:.1f} s on the clock, {processor_s:.1f} s of processor "
        f"(wanted {WANTED_S:g}), job sheet {weight:.1f} MB"
    )
    assert {"templates.pdf", "edge.stl", "job_sheet.html", "mask_plate.dxf"} <= set(files) and weight <= 8.0


PIXEL = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de"
    "0000000c49444154789c63f8ffff3f0005fe02fe0def46b80000000049454e44ae426082"
)


def test_two_hundred_blanks() -> None:
    """Of forty sizes, as a shop has them."""
    random = np.random.default_rng(5)
    sizes = random.integers(80, 420, (40, 2)).astype(float)
    demands = [Demand(str(n), (float(w), float(d)), 5) for n, (w, d) in enumerate(sizes)]
    begin = time.process_time()
    found = nest_together(demands, (1220.0, 610.0), saw_gap_mm=3.0)
    took = time.process_time() - begin
    print(
        f"\n200 blanks of 40 sizes: {took:.2f} s of processor (wanted {WANTED_NEST_S:g}), "
        f"{found.count} sheets, at least {found.least}"
    )
    assert found.count < 1.3 * found.least
