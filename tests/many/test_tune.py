"""The search for better settings: what it tries, compares and writes; variants go by formulas."""

import csv
import io
import json

import pytest
from click.testing import CliRunner

from buckwright.cli import main
from buckwright.errors import InputError
from buckwright.job import Job, read_job
from buckwright.many.choices import (
    block_choices,
    choices_for,
    neighbours,
    own_first,
    radii_for,
    sinks_for,
    spread_out,
)
from buckwright.many.judging import (
    _FINDINGS,
    AIR,
    LOCKS,
    NO_BLOCK,
    THIN,
    WEB,
    Compared,
    best_first,
    judge,
    left_words,
)
from buckwright.many.taking import changed_job
from buckwright.many.tune_page import setting_words
from buckwright.many.tuning import read_chosen, tune
from buckwright.many.varying import Varied
from buckwright.many.work import Product, failed
from buckwright.stages import figures, finding_kinds

JOB = Job(job={"name": "cap"}, sculpt={"file": "cap.stl"}, pull={"direction": "z"}, base={"riser_mm": 12.0})
CHOICES = [
    Varied("base.riser_mm", (12.0, 8.0, 18.0, 25.0)),
    Varied("forecast.gap_mm", (None, 20.0, 30.0, 45.0)),
    Varied("sheet.thickness_mm", (0.75, 0.5, 1.0)),
]


def report(job):
    """A report by formulas: a thicker sheet is thicker, a wide gap takes sheet, a high riser takes print."""
    gap = job.forecast.gap_mm or 25.0
    riser, sheet = job.base.riser_mm, job.sheet.thickness_mm
    weakest = sheet * (0.3 + 0.002 * gap) - 0.004 * abs(riser - 18.0)
    side = 100.0 + 2.0 * gap
    return {
        "forecast": {
            "weakest": {"mm": weakest, "band_mm": 0.004},
            "thin": {"mm": weakest + 0.1, "band_mm": 0.004},
            "mean_mm": weakest + 0.2,
            "webs": [{"length_mm": 20.0, "crosses_trim_line": True}] if riser < 10.0 else [],
            "trapped_air": [],
        },
        "rig": {"blank_mm": [side, side]},
        "print": {"whole": {"mass_g": 50.0 + riser}},
        "release": {"locked": 0, "sideways_left_mm": 0.0},
        "pull": {"sink_mm": 0.0, "cut_volume_mm3": 0.0, "widest_mm": 0.0, "widest_cuts_share": 0.0},
        "findings": [],
        "files": {},
    }


class Formulas:
    """Works variants out by the formulas; stops after so many, fails where it is told to."""

    def __init__(self, stop_after=None, fails=(), by=report):
        self.names, self._stop_after, self._fails, self._by = [], stop_after, fails, by

    def run(self, tasks):
        for task in tasks:
            if len(self.names) == self._stop_after:
                raise KeyboardInterrupt
            self.names.append(task.name)
            if task.name in self._fails:
                yield failed(task.name, "by a test")
            else:
                yield Product(task.name, {"report.json": json.dumps(self._by(task.job)).encode()}, True)


def search(tmp_path, executor, *, count=30, least_mm=0.2):
    return tune(JOB, CHOICES, tmp_path / "out", executor, count=count, least_mm=least_mm)


def test_variants_spread_over_all_choices():
    sizes = [4, 3, 5]
    found = spread_out(sizes, 12)
    assert found[0] == (0, 0, 0)
    assert len(set(found)) == len(found) == 12
    for n, size in enumerate(sizes):
        assert {place[n] for place in found} == set(range(size))
    assert spread_out([2, 1], 50) == [(0, 0), (1, 0)]


def test_neighbours_differ_in_one_choice():
    found = neighbours((1, 0), [3, 2])
    assert sorted(found) == [(0, 0), (1, 1), (2, 0)]


def test_choices_follow_from_the_job():
    names = [one.name for one in choices_for(JOB)]
    assert names == ["base.riser_mm", "forecast.gap_mm", "sheet.thickness_mm", "fill.mode"]
    other = JOB.evolved(
        pull={"direction": "search"}, forecast={"frame_mm": (200.0, 200.0)}, fill={"mode": "none"}
    )
    found = {one.name: one.values for one in choices_for(other)}
    assert list(found) == ["pull.setup", "base.riser_mm", "sheet.thickness_mm"]
    assert found["sheet.thickness_mm"] == (0.75, 0.5, 1.0)
    assert found["base.riser_mm"][0] == 12.0
    assert own_first(Varied("base.riser_mm", (8.0, 12.0)), JOB).values == (12.0, 8.0)


@pytest.mark.parametrize(
    ("changes", "sunk", "widest", "share", "depths"),
    [
        ({}, 0.0, 0.0, 0.0, ()),
        ({}, 0.0, 30.0, 0.05, ("auto", "widest")),
        ({}, 0.0, 30.0, 0.5, ()),  # half a sculpt is another part
        ({}, 12.0, 0.0, 0.0, ("auto", 0.0)),
        ({"base": {"sink_mm": 5.0}}, 5.0, 25.0, 0.05, (5.0, 0.0, "widest")),
        ({"base": {"sink_mm": "widest"}}, 30.0, 0.0, 0.0, ("widest", 0.0)),
        ({"pull": {"direction": "search"}}, 12.0, 8.0, 0.01, ()),  # each setup has its depth
        ({"body": {"file": "head.stl", "foot": "widest"}}, 12.0, 8.0, 0.01, ()),  # the body decides
    ],
)
def test_the_sink_is_a_choice_where_there_is_another(changes, sunk, widest, share, depths):
    pull = {"sink_mm": sunk, "widest_mm": widest, "widest_cuts_share": share}
    found = sinks_for(JOB.evolved(**changes), {"pull": pull})
    assert [(one.name, one.values) for one in found] == ([("base.sink_mm", depths)] if depths else [])


def sunk(job):
    """A report by formulas: sunk to its widest outline the part is thicker, and lacks 8 cm3 of the sculpt."""
    found = report(job)
    deep = job.base.sink_mm == "widest"
    found["pull"] = {
        "sink_mm": 9.0 * deep,
        "cut_volume_mm3": 8000.0 * deep,
        "widest_mm": 9.0 * (not deep),
        "widest_cuts_share": 0.04 * (not deep),
    }
    found["forecast"]["weakest"]["mm"] += 0.2 * deep
    return found


def test_what_is_cut_off_the_sculpt_is_never_free(tmp_path):
    """Sunk it is thicker everywhere; without a figure of what is lost that would be worse in nothing."""
    found = tune(JOB, None, tmp_path, Formulas(by=sunk), count=20, least_mm=0.2)
    deep = [one for one in found.ranked if "base.sink_mm" in found.changes[one.name]]
    assert deep and all("cut off below 8.0 cm³ instead of 0.0 cm³" in one.words for one in deep)
    assert all("cut_off_cm3" in {entry.figure.name for entry in one.worse} for one in deep)
    assert not found.ranked[0].worse and found.ranked[0] not in deep
    # but where nothing else mends a fault it comes first
    thin = tune(JOB, None, tmp_path / "thin", Formulas(by=sunk), count=20, least_mm=0.5)
    assert "base.sink_mm" in thin.changes[thin.ranked[0].name]


def test_what_differs_by_less_than_its_band_is_alike():
    own, other = report(JOB), report(JOB.evolved(forecast={"gap_mm": 27.0}))
    found = {one.figure.name: one.verdict for one in judge("a", other, own, least_mm=0.2).compared}
    assert found["weakest_mm"] == "as good"  # 0.003 mm more, known to 0.004
    assert found["blank_cm2"] == "worse"  # 237 instead of 225
    assert found["print_g"] == "as good"
    assert "bare" not in found


@pytest.mark.parametrize(
    ("lengths", "own", "verdict"),
    [((96,), (101,), "as good"), ((73,), (67,), "as good"), ((50,), (67,), "better"), ((5,), (), "worse")],
)
def test_webs_scatter_and_differ_by_more_than_a_tenth_only(lengths, own, verdict):
    def webs(of):
        found = report(JOB)
        found["forecast"]["webs"] = [{"length_mm": one, "crosses_trim_line": False} for one in of]
        return found

    found = {
        one.figure.name: one.verdict for one in judge("a", webs(lengths), webs(own), least_mm=0.2).compared
    }
    assert found["webs_mm"] == verdict


def test_faults_and_trades_are_told():
    own = report(JOB)
    low = judge("low", report(JOB.evolved(base={"riser_mm": 8.0})), own, least_mm=0.3)
    assert low.faults == ("a web crosses the trim line", "thinner than 0.3 mm")
    assert "print 58 g instead of 62 g" in low.words
    assert "webs over the trim line 1 instead of 0" in low.words
    same = judge("same", own, own, least_mm=0.2)
    assert same.words.startswith("As good as")
    assert (same.gain, same.faults) == (0.0, ())
    assert best_first([low, same])[0] is same
    assert left_words([low, same], {}, own) == ""


def test_air_that_stays_trapped_is_a_fault():
    own = report(JOB)
    bare = own | {"venting": {"bare": 1, "vents": 8}}
    found = judge("bare", bare, own | {"venting": {"bare": 0, "vents": 8}}, least_mm=0.2)
    assert (found.lacks, found.faults) == (("bare",), ("air stays trapped in a pocket without a vent",))
    vented = judge("vented", own | {"venting": {"bare": 0, "vents": 9}}, bare, least_mm=0.2)
    assert best_first([found, vented]) == [vented, found]


def test_every_fault_is_told_by_a_finding_that_there_is():
    assert set(_FINDINGS) == {LOCKS, WEB, AIR, THIN} <= {one.name for one in figures()}
    assert {*_FINDINGS.values(), NO_BLOCK} <= set(finding_kinds())


def test_what_no_variant_is_free_of_is_told_with_how_near_they_come_and_where_it_is():
    own = report(JOB)
    own["findings"] = [
        {"slug": "web", "words": "A web.", "advice": "Round the corner."},
        {"slug": "weakest-spot", "words": "Weakest spot: at x 3.", "advice": "Give that place more draft."},
    ]
    jobs = {
        "as_set": JOB,
        "low": JOB.evolved(base={"riser_mm": 8.0}),
        "thick": JOB.evolved(sheet={"thickness_mm": 1}),
    }
    judged = [judge(name, report(job), own, least_mm=0.9) for name, job in jobs.items()]
    words = left_words(judged, {"thick": "Thickness 1 mm"}, own)
    assert words == (
        "None of the 3 variants is free of this: thinner than 0.9 mm. The nearest is Thickness 1 mm: weakest "
        "spot 0.33 mm instead of 0.24 mm. Weakest spot: at x 3. Give that place more draft."
    )
    assert "No variant comes nearer. Weakest spot: at x 3." in left_words(judged[:2], {}, own)


def test_it_finds_what_is_better_in_every_figure(tmp_path):
    executor = Formulas()
    found = search(tmp_path, executor)
    best = found.ranked[0]
    # of all 48, by the same formulas
    whole = {}
    for riser in CHOICES[0].values:
        for gap in CHOICES[1].values:
            for sheet in CHOICES[2].values:
                job = JOB.evolved(
                    base={"riser_mm": riser}, forecast={"gap_mm": gap}, sheet={"thickness_mm": sheet}
                )
                whole[riser, gap, sheet] = judge("x", report(job), report(JOB), least_mm=0.2)
    top = best_first(list(whole.values()))[0]
    assert (len(best.worse), best.gain) == (len(top.worse), pytest.approx(top.gain))
    assert best.better and not best.worse and not best.faults
    assert len(found.rows) <= 30
    assert executor.names[0] == "as_set"


def test_table_page_and_choices_are_written(tmp_path):
    found = search(tmp_path, Formulas(fails=("riser_mm-25",)), count=16)
    out = tmp_path / "out"
    rows = list(csv.DictReader(io.StringIO((out / "tune.csv").read_text(encoding="utf-8"))))
    done = [row["job"] for row in rows if row["state"] == "done"]
    assert done == [one.name for one in found.ranked]
    page = (out / "tune.html").read_text(encoding="utf-8")
    assert "<svg" in page and "As it is set" in page and "cap: variants compared" in page
    assert read_chosen(out, 1)["changes"] == found.changes[found.ranked[0].name]
    for number in (0, 99):
        with pytest.raises(InputError, match="there is no variant"):
            read_chosen(out, number)
    shown = [
        f'src="variants/{name}/{picture}.png"' for name in done for picture in ("buck_slant", "forecast_top")
    ]
    assert [picture in page for picture in shown] == [True] * 6 + [False] * (len(shown) - 6)


def test_stopped_it_leaves_the_best_so_far_and_goes_on(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "cap.stl").write_bytes(b"known by its content alone")
    first, second = Formulas(stop_after=8), Formulas()
    with pytest.raises(KeyboardInterrupt):
        search(tmp_path, first)
    chosen = json.loads((tmp_path / "out" / "choices.json").read_text(encoding="utf-8"))
    assert sorted(one["name"] for one in chosen) == sorted(first.names)
    found = search(tmp_path, second)
    page = (tmp_path / "out" / "tune.html").read_text(encoding="utf-8")
    assert f'src="variants/{found.ranked[0].name}/buck_slant.png"' in page
    assert not set(second.names) & set(first.names)


def test_the_command_says_where_the_best_so_far_is_and_goes_on_to_its_end(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "job.toml").write_text(TEXT, encoding="utf-8")
    for stop_after, told in ((0, False), (3, True)):
        executor = Formulas(stop_after=stop_after)
        monkeypatch.setattr("buckwright.many.executor.executor_for", lambda *_, to=executor: to)
        done = CliRunner().invoke(main, ["tune", "job.toml", "--out", "out"])
        assert done.exit_code == 130, done.output
        assert ("The best so far is in out/tune.html" in done.output) is told
        assert (tmp_path / "out" / "choices.json").is_file() is told
    monkeypatch.setattr("buckwright.many.executor.executor_for", lambda *_: Formulas())
    done = CliRunner().invoke(main, ["tune", "job.toml", "--out", "out", "--least-mm", "0.2"])
    assert done.exit_code == 0, done.output
    assert "Worse in nothing." in done.output.splitlines()[1]
    assert "--take N writes a job file" in done.output


def test_changes_are_told_as_people_read_them():
    changes = {"base.riser_mm": 18.0, "fill.mode": "locked", "sheet.thickness_mm": 0.75}
    assert setting_words(changes) == "Riser 18 mm, Fill Locked Areas Only, Thickness 0.75 mm"
    assert setting_words({}) == "As it is set"
    assert setting_words({"base.sink_mm": "widest"}) == "Sink Widest Outline"
    assert setting_words({"base.sink_mm": 0.0}) == "Sink 0 mm"
    assert setting_words({"take_up.enabled": True, "forecast.frame_mm": (200.0, 150.0)}) == (
        "Take-Up Blocks on, Frame 200 x 150 mm"
    )


CORNERED = JOB.evolved(base={"footprint": "rectangle"})


def webbed(job):
    """A report by formulas: webs over the trim line, fewer with rounder corners, none with blocks."""
    found = report(job)
    webs = 0 if job.take_up.enabled else 3 if job.base.corner_mm < 20.0 else 1
    web = {"length_mm": 20.0, "crosses_trim_line": True}
    found["forecast"]["webs"] = [web] * webs
    found["print"]["whole"]["mass_g"] += 3.0 * job.take_up.enabled
    return found


@pytest.mark.parametrize(
    ("changes", "radii", "blocks"),
    [
        ({}, ["base.fillet_mm", "base.corner_mm"], ["take_up.enabled"]),
        ({"base": {"footprint": "outline"}}, ["base.fillet_mm"], ["take_up.enabled"]),
        ({"base": {"style": "plinth"}}, ["base.corner_mm"], []),
        ({"take_up": {"enabled": True}}, ["base.fillet_mm", "base.corner_mm"], []),
        ({"mould": {"form": "female"}}, ["base.corner_mm"], []),
    ],
)
def test_radii_and_blocks_are_choices_where_they_can_help(changes, radii, blocks):
    job = CORNERED.evolved(**changes)
    at_fault = judge("as_set", webbed(CORNERED), webbed(CORNERED), least_mm=0.2)
    assert [one.name for one in radii_for(job, at_fault)] == radii
    assert [one.name for one in block_choices(job, at_fault)] == blocks
    fine = judge("as_set", report(JOB), report(JOB), least_mm=0.2)
    assert radii_for(job, fine) == block_choices(job, fine) == []
    thin = judge("as_set", report(JOB), report(JOB), least_mm=0.3)
    assert [one.name for one in radii_for(job, thin)] == radii
    assert block_choices(job, thin) == []


@pytest.mark.parametrize(("count", "most"), [(24, 2), (8, 2), (4, 1), (3, 0)])
def test_blocks_are_tried_last_with_the_best_alone(tmp_path, count, most):
    """Each of them takes as long as ten others."""
    executor = Formulas(by=webbed)
    found = tune(CORNERED, None, tmp_path, executor, count=count, least_mm=0.2)
    tried = executor.names
    with_blocks = [name for name in tried if "enabled" in name]
    assert with_blocks == tried[len(tried) - most :]
    assert len(found.rows) == count
    if most:
        assert found.changes[found.ranked[0].name]["take_up.enabled"] is True
        assert not found.ranked[0].faults
        assert "Take-Up Blocks on" in found.titles[found.ranked[0].name]
    else:
        assert found.left.startswith("None of the 3 variants is free of this: a web crosses the trim line.")


def test_blocks_of_which_none_is_kept_are_no_variant_of_their_own(tmp_path):
    def without_effect(job):
        found = webbed(job.evolved(take_up={"enabled": False}))
        if job.take_up.enabled:
            found["take_up"] = {"web_length_mm": 60.0}
            found["findings"] = [
                {"slug": NO_BLOCK, "severity": "warn", "words": "No block helps.", "advice": "A riser."}
            ]
        return found

    found = tune(CORNERED, None, tmp_path, Formulas(by=without_effect), count=8, least_mm=0.2)
    assert len(found.rows) == 8 and len(found.ranked) == 6
    assert not any("take_up.enabled" in found.changes[one.name] for one in found.ranked)
    assert found.own in found.ranked
    assert found.left.endswith("Blocks were tried: No block helps. A riser.")


def test_figures_that_differ_are_never_told_alike():
    figure = next(one for one in figures() if one.name == "filled_cm3")
    apart = Compared(figure, 0.112, 0.124, "better")
    assert apart.words.endswith(" 0.11 cm³ instead of 0.12 cm³")
    assert Compared(figure, 0.112, 0.113, "as good").words.endswith(" 0.1 cm³ instead of 0.1 cm³")


def test_a_job_that_fails_itself_is_told(tmp_path):
    with pytest.raises(InputError, match="the job as it is set cannot be worked out: by a test"):
        search(tmp_path, Formulas(fails=("as_set",)))


TEXT = """\
# the theatre's own
[sculpt]
file = "cap.stl"   # beside it

[base]
riser_mm = 12.0    # as last year

[vents]
enabled = true     # always
"""


def test_a_change_stands_in_the_job_file_with_a_comment(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(TEXT, encoding="utf-8")
    text = changed_job(
        path, {"base.riser_mm": 18.0, "forecast.gap_mm": 30.0, "vents.enabled": False}, why="Variant 1."
    )
    assert "# the theatre's own" in text and 'file = "cap.stl"   # beside it' in text
    assert "riser_mm = 18.0 # was 12.0; changed by tune; as last year" in text
    assert "enabled = false # was true; changed by tune; always" in text
    assert "gap_mm = 30.0 # was left out; changed by tune" in text
    (tmp_path / "new.toml").write_text(text, encoding="utf-8")
    job = read_job(tmp_path / "new.toml")
    assert job == read_job(path).evolved(
        base={"riser_mm": 18.0}, forecast={"gap_mm": 30.0}, vents={"enabled": False}
    )


def test_what_a_change_sets_aside_goes_from_the_job_file(tmp_path):
    """A frame that stayed would count more than the gap, and the file would not be the variant."""
    path = tmp_path / "job.toml"
    path.write_text(f"{TEXT}\n[forecast]\nframe_mm = [300.0, 200.0] # the old one\n", encoding="utf-8")
    text = changed_job(path, {"forecast.gap_mm": 30.0}, why="Variant 1.")
    assert "gap_mm = 30.0 # was left out; in place of frame_mm = [300.0, 200.0]; changed by tune" in text
    (tmp_path / "new.toml").write_text(text, encoding="utf-8")
    job = read_job(tmp_path / "new.toml")
    assert job == read_job(path).evolved(forecast={"gap_mm": 30.0})
    assert job.forecast.frame_mm is None


def test_a_variant_is_taken(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "job.toml"
    path.write_text(TEXT, encoding="utf-8")
    found = search(tmp_path, Formulas(), count=12)
    words = ["tune", "job.toml", "--out", "out", "--take", "1"]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0, done.output
    changes = found.changes[found.ranked[0].name]
    taken = read_job(tmp_path / "job_tuned.toml")
    assert {
        name: getattr(getattr(taken, name.split(".")[0]), name.split(".")[1]) for name in changes
    } == changes
    assert path.read_text(encoding="utf-8") == TEXT
    (tmp_path / "job_tuned.toml").write_text("# mine\n", encoding="utf-8")
    for more, told in (
        (["--to", "job.toml"], "stays as it is"),
        (["--to", "job.toml", "--force"], "stays as it is"),
        (["--to", "out/a.toml"], "into the same"),
        ([], "job_tuned.toml is there already"),
    ):
        done = CliRunner().invoke(main, [*words, *more])
        assert (done.exit_code, told in done.output) == (2, True), done.output
    assert (tmp_path / "job_tuned.toml").read_text(encoding="utf-8") == "# mine\n"
    assert CliRunner().invoke(main, [*words, "--force"]).exit_code == 0
    assert read_job(tmp_path / "job_tuned.toml") == taken
    done = CliRunner().invoke(main, ["tune", "job.toml", "--out", "none", "--take", "1", "--force"])
    assert done.exit_code == 2 and "holds no search" in done.output
