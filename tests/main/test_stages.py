"""A further stage: everything about it comes from its declaration; and what cannot be a stage is refused."""

import importlib.util
import inspect
import json
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import buckwright.api as bw
from buckwright import stages
from buckwright.clock import Clock
from buckwright.errors import Cancelled, JobError
from buckwright.job import Job, job_from, read_job, write_job
from buckwright.job.files import commented_job
from buckwright.pipeline.commands import COMMANDS, settings_for, stages_for
from buckwright.pipeline.engine import Engine
from buckwright.pipeline.run import run as run_command
from buckwright.pipeline.store import Store
from buckwright.stage import Stage, in_order

CHEAP = {"fill": {"mode": "none"}, "forecast": {"quality": "off"}, "vents": {"enabled": False}}
HOME = "buckwright.shape.feet.stage"


@pytest.fixture
def feet(monkeypatch):
    """The module of the further stage, in a folder of the library as it were, and in the list of stages."""
    spec = importlib.util.spec_from_file_location(HOME, Path(__file__).with_name("feet_stage.py"))
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, HOME, module)
    spec.loader.exec_module(module)
    monkeypatch.setattr(stages, "STAGES", [*stages.STAGES, module.FEET])
    return module


def _job(job_of, **tables):
    return job_of("cone", **CHEAP, **tables)


def test_its_table_is_read_written_and_checked(feet, tmp_path):
    (tmp_path / "job.toml").write_text("[feet]\ncount = 3\nheight_mm = 4\n", encoding="utf-8")
    job = read_job(tmp_path / "job.toml")
    assert (job.feet.count, job.feet.height_mm) == (3, 4.0)
    (tmp_path / "job.toml").write_text(write_job(job), encoding="utf-8")
    assert read_job(tmp_path / "job.toml") == job
    assert job.evolved(feet={"height_mm": None}).feet.height_mm is None
    with pytest.raises(JobError, match=r"\[feet\] count must be .*between 3 and 12"):
        job_from({"feet": {"count": 2}})
    with pytest.raises(JobError, match="did you mean count"):
        job_from({"feet": {"counts": 3}})


def test_without_it_nobody_knows_the_table():
    assert "feet" not in stages.tables()
    with pytest.raises(JobError, match=r"no table \[feet\]"):
        job_from({"feet": {"count": 3}})


def test_its_settings_are_among_those_of_the_commands_that_run_it(feet):
    both = {"feet.count", "feet.height_mm"}
    assert both <= set(settings_for(COMMANDS["make"]))
    assert both <= set(bw.settings_table())
    assert not both & set(settings_for(COMMANDS["look"]))
    assert not both & set(settings_for(COMMANDS["forecast"]))


def test_the_commented_job_file_tells_of_it(feet):
    text = commented_job(Job())
    assert "[feet]  # Feet: what the buck stands on." in text
    assert "# count = 4" in text and "How many feet are glued on" in text
    assert "left out: a twentieth of the buck's height" in text
    changed = commented_job(Job(feet={"count": 5}), examples={"feet.height_mm": 7.5})
    assert "\ncount = 5" in changed and "# height_mm = 7.5" in changed
    assert "# height_mm = 5.0" in text


def test_a_run_tells_all_that_it_declares(feet, job_of, tmp_path):
    out, results = tmp_path / "out", tmp_path / "results"
    outcome = run_command("make", _job(job_of, feet={"count": 3}), out, pictures=False, results=results)
    report = json.loads((out / "report.json").read_text(encoding="utf-8"))
    height = 0.05 * report["buck"]["size_mm"][2]
    assert report["feet"]["height_mm"] == pytest.approx(height, rel=1e-5)
    assert np.shape(report["feet"]["places"]) == (3, 2)
    assert report["automatic"]["feet.height_mm"] == report["feet"]["height_mm"]
    assert "planning the feet" in report["timing_s"]
    (found,) = [entry for entry in report["findings"] if entry["slug"] == "few-feet"]
    assert found["words"] == "The buck stands on 3 feet."
    assert f"3 feet {height:.1f} mm high" in outcome.summary.facts
    assert ("Stands", "on 3 feet") in outcome.summary.answers
    assert (out / "feet.csv").read_bytes().startswith(b"x,y")
    assert out / "feet.csv" in outcome.files
    assert bw.explain("few-feet").why == "A buck on three feet rocks."
    assert stages.color_maps()["foot_reach_mm"].label == "Distance to Foot"
    with np.load(results / "arrays.npz", allow_pickle=False) as arrays:
        reach = arrays["foot_reach_mm"]
        assert reach.shape == arrays["state"].shape
    np.testing.assert_array_equal(outcome.faces.foot_reach_mm, reach)
    assert np.nanmax(reach) > np.nanmin(reach) >= 0.0


def test_what_was_set_by_hand_is_not_automatic(feet, job_of):
    outcome = run_command("make", _job(job_of, feet={"height_mm": 9.0}), None)
    assert outcome.report["feet"]["height_mm"] == 9.0
    assert "feet.height_mm" not in outcome.report["automatic"]
    assert "few-feet" not in {entry["slug"] for entry in outcome.report["findings"]}


def test_its_result_is_kept_and_read_back(feet, job_of, tmp_path):
    job = _job(job_of)
    first = run_command("make", job, None, keep=tmp_path)
    again = run_command("make", job, None, keep=tmp_path)
    assert len(feet.CALLS) == 1
    assert "feet (kept)" in again.report["timing_s"]
    back = again.results["standing"]
    assert type(back) is feet.Feet2
    np.testing.assert_array_equal(back.places, first.results["standing"].places)
    run_command("make", job.evolved(feet={"count": 5}), None, keep=tmp_path)
    run_command("make", job.evolved(base={"riser_mm": 20.0}), None, keep=tmp_path)
    assert len(feet.CALLS) == 3
    run_command("make", job.evolved(underside={"fixing": "magnet"}), None, keep=tmp_path)
    assert len(feet.CALLS) == 3


# --- what cannot be a stage


def _stage(name, needs=(), *, gives="", tables=None, run=None):
    names = [need.rpartition(".")[2] for need in needs]
    made = run or eval(f"lambda {', '.join([*names, 'clock'])}: ({', '.join([*names, ''])})")
    return Stage(
        name=name, title=name, gives=gives or f"{name}ed", needs=tuple(needs), run=made, tables=tables or {}
    )


@pytest.mark.parametrize(
    "run",
    [
        lambda posed, mode, base, clock: None,
        lambda posed, clock: None,
        lambda posed, mode: None,
        lambda posed, fill, clock: None,
    ],
    ids=["one too many", "one too few", "no clock", "the table for a setting"],
)
def test_a_run_must_take_just_what_it_needs(run):
    with pytest.raises(TypeError, match="stage odd: needs are"):
        _stage("odd", ("posed", "fill.mode"), run=run)


def test_stages_in_a_circle_are_refused():
    one, two = _stage("one", ["twoed"]), _stage("two", ["oneed"])
    with pytest.raises(ValueError, match="one > two > one"):
        in_order([one, two])


def test_a_stage_that_needs_itself_is_refused():
    with pytest.raises(ValueError, match="own > own"):
        in_order([_stage("own", ["owned"])])


def test_each_result_and_table_has_one_owner(monkeypatch):
    fill = stages.tables()["fill"]
    for doubled in (
        _stage("other", gives="filled"),
        _stage("other", tables={"fill": fill}),
        _stage("other", gives="fill"),
        _stage("other", tables={"posed": fill}),
    ):
        monkeypatch.setattr(stages, "STAGES", [*stages.STAGES[:13], doubled])
        with pytest.raises(ValueError, match="different results and own different tables"):
            stages.all_stages()


@pytest.mark.parametrize("need", ["feet", "filed", "fill.mod", "posed.mesh"])
def test_a_need_that_nobody_gives_is_refused(need, monkeypatch):
    monkeypatch.setattr(stages, "STAGES", [*stages.STAGES, _stage("odd", [need])])
    with pytest.raises(ValueError, match=rf"stage odd needs '{need}'"):
        stages.all_stages()


def test_stages_are_put_in_order_whatever_the_list_says():
    mixed = stages.STAGES[::-1]
    place = {stage.gives: n for n, stage in enumerate(in_order(mixed))}
    for stage in mixed:
        assert all(place[need] < place[stage.gives] for need in stage.needs if need in place)


# --- the engine shows a stage what it declared, and nothing else


def test_a_stage_receives_only_its_needs(monkeypatch):
    seen = {}

    def run(mode, draft, oneed, clock):
        seen.update(mode=mode, draft=draft, oneed=oneed, clock=clock)
        return 2

    spy = _stage("spy", ("fill.mode", "draft", "oneed"), run=run)
    monkeypatch.setattr(stages, "STAGES", [*stages.STAGES, _stage("one", ["sheet.thickness_mm"]), spy])
    job, clock = Job(sheet={"thickness_mm": 1.5}), Clock()
    engine = Engine(stages.all_stages(), job, clock, Store(None, clock))
    assert engine.get("spyed") == 2
    assert seen == {"mode": "full", "draft": job.draft, "oneed": (1.5,), "clock": clock}


def test_a_key_is_made_of_the_needs_and_nothing_else(monkeypatch):
    one = _stage("one", ["sheet.thickness_mm"])
    two = _stage("two", ["oneed", "draft"])
    monkeypatch.setattr(stages, "STAGES", [*stages.STAGES, one, two])

    def keys(**tables):
        clock = Clock()
        engine = Engine(stages.all_stages(), Job(**tables), clock, Store(None, clock))
        return engine.key("oneed"), engine.key("twoed")

    first = keys()
    assert keys(sheet={"material": "PETG"}, fill={"mode": "none"}) == first
    thick = keys(sheet={"thickness_mm": 1.5})
    assert thick[0] != first[0] and thick[1] != first[1]
    leaning = keys(draft={"wanted_deg": 5.0})
    assert leaning[0] == first[0] and leaning[1] != first[1]


def test_a_stage_that_tells_nothing_runs_only_for_others(monkeypatch, job_of):
    def run(posed, clock):
        raise AssertionError("nobody asked")

    silent = _stage("silent", ["posed"], run=run)
    monkeypatch.setattr(stages, "STAGES", [*stages.STAGES, silent])
    assert not silent.tells and replace(silent, facts=lambda result, told: ["x"]).tells
    assert silent in stages_for(COMMANDS["make"])
    assert run_command("make", _job(job_of), None).releases is True


# --- stages that are made beside others


def _slow(gate, name, needs=(), *, error=None, **how):
    """A stage that waits for a gate before it ends."""

    def run(clock, **_):
        with clock.step(name):
            assert gate.wait(10.0)
            if error is not None:
                raise error
        return name

    parameters = [inspect.Parameter(need, inspect.Parameter.KEYWORD_ONLY) for need in (*needs, "clock")]
    run.__signature__ = inspect.Signature(parameters)
    return Stage(name=name, title=name, gives=f"{name}ed", needs=tuple(needs), run=run, **how)


def _engine(stages):
    clock = Clock()
    return Engine(stages, Job(), clock, Store(None, clock)), clock


def test_a_lazy_stage_is_made_beside_once_and_only_where_it_is_asked_for():
    opened, made = threading.Event(), []
    opened.set()

    def counted(name, needs=(), **how):
        def run(clock, **_):
            made.append(name)
            return name

        parameters = [inspect.Parameter(need, inspect.Parameter.KEYWORD_ONLY) for need in (*needs, "clock")]
        run.__signature__ = inspect.Signature(parameters)
        return Stage(name=name, title=name, gives=f"{name}ed", needs=tuple(needs), run=run, **how)

    lazy = counted("simple", beside=True, lazy=True)
    between = _slow(opened, "between")
    asking = counted("asking", ("simpleed", "betweened"), beside=True)
    for stages_, expected in (
        ([lazy, between, asking], ["asking", "simple"]),
        ([lazy, between, replace(asking, wanted=lambda _tables: False)], []),
        ([lazy, between], []),
    ):
        made.clear()
        engine, _ = _engine(stages_)
        with engine:
            engine.work_out([stage.gives for stage in stages_], lambda: None)
        assert sorted(made) == expected


def test_a_long_stage_goes_on_beside_those_that_do_not_need_it():
    gate, opened = threading.Event(), threading.Event()
    opened.set()
    first, last = _slow(gate, "long", beside=True), _slow(opened, "after", ("longed",))
    engine, clock = _engine([first, _slow(opened, "short"), last])
    seen = []

    def done():
        seen.append(sorted(engine.results))
        gate.set()

    with engine:
        engine.work_out(["longed", "shorted", "aftered"], done)
    assert ["shorted"] in seen
    assert engine.results == {"shorted": "short", "longed": "long", "aftered": "after"}
    assert set(clock.times_s) == {"long", "short", "after"}


def test_what_needs_a_long_stage_follows_it_beside_the_rest():
    first, followed = threading.Event(), threading.Event()

    def follow(longed, clock):
        followed.set()
        return f"after {longed}"

    def go_on(clock):
        first.set()
        assert followed.wait(10.0)
        return "short"

    long = _slow(first, "long", beside=True)
    follower = Stage(
        name="follower", title="follower", gives="followed", needs=("longed",), run=follow, beside=True
    )
    short = Stage(name="short", title="short", gives="shorted", needs=(), run=go_on)
    engine, _ = _engine([long, follower, short])
    with engine:
        engine.work_out(["longed", "followed", "shorted"], lambda: None)
    assert engine.results == {"longed": "long", "followed": "after long", "shorted": "short"}


def test_of_two_that_fail_the_first_in_order_tells_why():
    gate = threading.Event()
    gate.set()
    first = _slow(gate, "long", error=JobError("the first"), beside=True)
    engine, _ = _engine([first, _slow(gate, "short", error=JobError("the second"))])
    with engine, pytest.raises(JobError, match="the first"):
        engine.work_out(["longed", "shorted"], lambda: None)


def test_nothing_works_on_after_a_run_that_was_stopped():
    gate = threading.Event()
    threads = threading.active_count()

    def run(clock):
        while True:
            clock.tick(0.5)
            gate.set()

    endless = Stage(name="endless", title="endless", gives="ended", needs=(), run=run, beside=True)
    engine, _ = _engine([endless, _slow(gate, "short", error=Cancelled("stopped"))])
    with pytest.raises(Cancelled), engine:
        engine.work_out(["ended", "shorted"], lambda: None)
    deadline = time.monotonic() + 10.0
    while threading.active_count() > threads and time.monotonic() < deadline:
        time.sleep(0.01)
    assert threading.active_count() <= threads


@pytest.mark.parametrize("taken", [False, True], ids=["left beside", "waited for"])
def test_what_follows_a_stage_that_was_stopped_ends_too(taken):
    threads = threading.active_count()
    asked = threading.Event()

    def endless(clock):
        while True:
            clock.tick(0.5)
            asked.set()
            time.sleep(0.001)

    def follow(ended, clock):
        return ended

    stages_ = [
        Stage(name="endless", title="endless", gives="ended", needs=(), run=endless, beside=True),
        Stage(name="follow", title="follow", gives="followed", needs=("ended",), run=follow, beside=True),
        _slow(asked, "short", ("ended",) if taken else (), error=Cancelled("stopped")),
    ]
    clock = Clock(cancelled=lambda: taken and asked.is_set())
    engine = Engine(stages_, Job(), clock, Store(None, clock))
    with pytest.raises(Cancelled), engine:
        engine.work_out(["ended", "followed", "shorted"], lambda: None)
    deadline = time.monotonic() + 10.0
    while threading.active_count() > threads and time.monotonic() < deadline:
        time.sleep(0.01)
    assert threading.active_count() <= threads
