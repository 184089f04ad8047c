"""Who works tasks out changes nothing: the same bytes from processes, a cluster and a single run."""

import io
import itertools
import json
import os
import shutil
import sys
import threading
import time
from pathlib import Path

import numpy as np
import psutil
import pytest
import trimesh
from click.testing import CliRunner
from PIL import Image

from buckwright.cli import main
from buckwright.errors import InputError, JobError
from buckwright.job import Job
from buckwright.many.cluster import Cluster, whole
from buckwright.many.entries import Entry, sweep_entries
from buckwright.many.executor import executor_for
from buckwright.many.processes import Processes
from buckwright.many.running import Work, run_many
from buckwright.many.varying import Varied
from buckwright.many.work import CRASHED, Task, with_files
from buckwright.pipeline.run import run
from buckwright.pipeline.source import source_of


@pytest.fixture(scope="module")
def scheduler():
    """Address of a cluster of one process of this machine."""
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=1, threads_per_worker=1, dashboard_address=None, host="127.0.0.1", memory_limit=0
    ) as cluster:
        yield cluster.scheduler_address


def _content(folder):
    """All files of all jobs; of reports all but the times."""
    found = {}
    for path in sorted(folder.rglob("*")):
        if path.is_file() and path.name != "done.jsonl":
            name = str(path.relative_to(folder))
            found[name] = path.read_bytes()
            if path.name.endswith("report.json"):
                found[name] = {k: v for k, v in json.loads(found[name]).items() if k != "timing_s"}
    return found


def test_the_same_bytes_whoever_works_it_out(scheduler, job, tmp_path):
    entries = sweep_entries(
        job.evolved(forecast={"quality": "preview", "nodes": 1000}),
        [Varied("sheet.thickness_mm", (0.5,))],
    )
    for name, executor in (("here", Processes(2)), ("there", Cluster(scheduler))):
        work = Work(title="thickness", command="forecast", out=tmp_path / name)
        rows = run_many(entries, work, executor)
        assert [row.state for row in rows] == ["done"], rows
        assert rows[0].releases is None  # a forecast does not judge that
    here = _content(tmp_path / "here")
    assert here == _content(tmp_path / "there")
    home = tmp_path / "single" / entries[0].name
    run("forecast", entries[0].job, home)
    single = _content(tmp_path / "single")
    assert len(single) == 6
    assert single == {name: here[name] for name in single}


def test_a_sweep_of_twenty_gives_the_same_bytes_on_a_cluster(scheduler, sculpt, tmp_path):
    """The same command, once with workers of this machine and once with the address of a cluster."""
    words = [
        *("sweep", str(sculpt), "--command", "look", "--no-pictures", "--pull-direction", "z"),
        *("--vary", "draft.wanted_deg=0.5:10:0.5"),
    ]
    for name, who in (("here", ["--workers", "2"]), ("there", ["--scheduler", scheduler])):
        done = CliRunner().invoke(main, [*words, *who, "--out", str(tmp_path / name / "sweep")])
        assert done.exit_code == 0, done.output
        assert "20 jobs done, 0 failed." in done.output
    here = _content(tmp_path / "here")
    reports = [report for name, report in here.items() if name.endswith("report.json")]
    assert len(reports) == 20
    assert not any(one == other for one, other in itertools.combinations(reports, 2))
    assert _content(tmp_path / "there") == here


def test_a_picture_and_texture_coordinates_go_along(job, tmp_path):
    """A worker on another machine has neither the picture nor the sculpt's file."""
    obj = tmp_path / "plate.obj"
    obj.write_text("v 0 0 0\nv 9 0 0\nv 0 9 3\nvt 0 0\nvt 1 0\nvt 0 1\nf 1/1 2/2 3/3\n", encoding="utf-8")
    (tmp_path / "wings.png").write_bytes(b"pixels")
    own = Job(folder=tmp_path, sculpt={"file": obj.name}, artwork={"file": "wings.png", "by": "uv"})
    sent = whole(Task("a", "make", own))
    for gone in (obj, tmp_path / "wings.png"):
        gone.unlink()
    there = with_files(sent, tmp_path)
    assert Path(there.artwork.file).read_bytes() == b"pixels"
    assert Path(there.artwork.file).name == "wings.png"
    assert source_of(there).texture().tolist() == [[[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]]
    with pytest.raises(JobError, match="cannot be read"):
        whole(Task("a", "make", own.evolved(sculpt={"file": str(_sculpt_of(job))})))


def test_pictures_are_the_same_from_a_cluster_that_has_no_file_of_the_job(
    scheduler, monkeypatch, job, tmp_path
):
    """Laid by texture coordinates: the sculpt's file and the picture are gone once the job is handed over."""
    box = trimesh.load_mesh(_sculpt_of(job))
    home = tmp_path / "files"
    home.mkdir()
    lines = [f"v {x} {y} {z}\nvt {x / 40 + 0.5} {y / 30 + 0.5}\n" for x, y, z in box.vertices]
    faces = [f"f {' '.join(f'{n}/{n}' for n in face)}\n" for face in box.faces + 1]
    (home / "box.obj").write_text("".join([*lines, *faces]), encoding="utf-8")
    chequer = (np.indices((40, 30)).sum(axis=0) // 5 % 2 * 255).astype(np.uint8)
    Image.fromarray(chequer).save(home / "chequer.png")
    own = job.evolved(
        sculpt={"file": str(home / "box.obj"), "unit": "mm"},
        forecast={"quality": "preview", "nodes": 1000},
        artwork={"file": str(home / "chequer.png"), "by": "uv", "grid": True, "dots_per_inch": 50},
    )
    entries = [Entry("box", own)]
    for name, executor in (("here", Processes(1)), ("there", Cluster(scheduler))):
        if name == "there":
            monkeypatch.setattr("buckwright.many.cluster.whole", lambda task: _handed_over(task, home))
        work = Work(title="box", command="make", out=tmp_path / name)
        rows = run_many(entries, work, executor)
        assert [(row.state, row.wrong) for row in rows] == [("done", "")]
    here = _content(tmp_path / "here")
    assert not home.exists()
    assert {"box/artwork_sheet.png", "box/artwork_part.png", "box/grid_landed.png"} <= here.keys()
    assert {name for name in here if name.endswith(".png")} > {"box/buck_slant.png", "box/forecast_top.png"}
    sheet = np.asarray(Image.open(io.BytesIO(here["box/artwork_sheet.png"])).convert("L"))
    assert sheet.std() > 20.0
    assert _content(tmp_path / "there") == here


def _handed_over(task, home):
    """The task as it is sent; then its files are removed."""
    sent = whole(task)
    shutil.rmtree(home)
    return sent


def _sculpt_of(job):
    return job.sculpt_path.absolute()


def test_what_fails_on_a_cluster_stops_no_other(scheduler, job):
    tasks = [
        Task("gone", "look", job.evolved(sculpt={"file": "gone.stl"}), pictures=False),
        Task("old", "look", job, pictures=False, version="0.0.0"),
        Task("fine", "look", job, pictures=False),
    ]
    products = {one.name: one for one in Cluster(scheduler).run(tasks)}
    assert "gone.stl" in products["gone"].wrong
    assert "0.0.0 asks for it" in products["old"].wrong
    assert products["fine"].releases is True


def test_a_cluster_that_does_not_answer_is_told(monkeypatch, job):
    monkeypatch.setattr("buckwright.many.cluster._PATIENCE_S", 0.5)
    with pytest.raises(InputError, match=r"no scheduler answers at tcp://127\.0\.0\.1:9"):
        next(Cluster("tcp://127.0.0.1:9").run([Task("a", "look", job)]))


def test_a_missing_library_is_told(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputError, match=r"buckwright\[dask\]"):
        executor_for("tcp://127.0.0.1:8786", None)


def test_the_scheduler_decides_on_workers():
    with pytest.raises(InputError, match="leave out the number"):
        executor_for("tcp://127.0.0.1:8786", 3)


def _workers():
    """Children that work, not the one that keeps an eye on what they share."""
    return {one for one in psutil.Process().children(recursive=True) if _works(one)}


def _works(child):
    try:
        return "spawn_main" in " ".join(child.cmdline())
    except psutil.Error:  # it has just ended
        return False


def _kill_workers(others, times):
    """Kill the worker of this moment, and as it comes the next."""
    killed = set()
    while len(killed) < times:
        for worker in _workers() - others - killed:
            time.sleep(1.0)  # amid its job
            worker.kill()
            killed.add(worker)
        time.sleep(0.02)


@pytest.mark.skipif(os.name != "posix", reason="kills by signal")
@pytest.mark.parametrize(("times", "wrong"), [(1, ""), (2, CRASHED)], ids=("once", "twice"))
def test_a_worker_that_dies_takes_no_other_job_along(job, times, wrong):
    """Its own is tried once more."""
    others, tasks = _workers(), [Task(name, "look", job, pictures=False) for name in "abc"]
    tasks[1] = Task("b", "forecast", job.evolved(forecast={"quality": "preview"}), pictures=False)
    products = []
    for product in Processes(1).run(tasks):
        products.append(product)
        if product.name == "a":
            threading.Thread(target=_kill_workers, args=(others, times), daemon=True).start()
    assert [(one.name, one.wrong) for one in products] == [("a", ""), ("b", wrong), ("c", "")]
    deadline = time.monotonic() + 10.0
    while _workers() - others and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not _workers() - others
