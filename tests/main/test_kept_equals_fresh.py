"""Whatever setting is changed: a run that takes what it can from the store gives what a fresh one gives.

Every setting of every table is walked, found by its declaration, so that a further one is walked as well. The
store was filled by a run with the settings below; a result that is found again although a setting it depends
on has changed shows as a difference. A usual run walks about every eleventh, `make explore` all of them.
"""

import json
import os
import shutil
from zlib import crc32

import numpy as np
import pytest

from buckwright.pipeline.commands import COMMANDS, stages_for
from buckwright.pipeline.run import run as run_command
from buckwright.stages import all_settings

#: Coarse and without a search, so that a run is cheap; the settings of a search are walked further down.
CHEAP = {
    "job": {"name": "Cap", "number": "4", "story": "none"},
    "sculpt": {"unit": "cm"},
    "pull": {"direction": "z"},
    "base": {"sink_mm": 0.0},
    "fill": {"cell_mm": 2.0},
    "forecast": {"nodes": 1500},
}

QUIET = {"vents": {"enabled": False}, "forecast": {"quality": "off"}}

#: Left out of both runs where a setting comes long before it or after it, so that a run is cheap: all is
#: walked with the settings of the base, the fill and of what is left out itself.
LEFT_OUT = {
    **dict.fromkeys(
        ("job", "sculpt", "sheet", "pull", "draft", "fit", "heating", "rig", "stock", "templates"), QUIET
    ),
    **dict.fromkeys(("machine", "group", "print", "printer", "strength", "hollow"), QUIET),
    "forecast": {"vents": {"enabled": False}},
    "vents": {"forecast": {"quality": "off"}},
    "underside": {"forecast": {"quality": "off"}},
}

#: Where a value by the rules of `_changed` would not do.
CHOSEN = {
    "sculpt.unit": "in",
    "rig.owned": "300 x 260",
    "stock.also": "300 x 260: 2",
    "base.outline_mm": [[-6.0, -5.0], [6.0, -5.0], [0.0, 8.0]],  # in the sculpt's own coordinates, cm
    "vents.at_mm": [[0.5, 0.3, 3.3], [-0.8, 0.2, 3.2]],
    "vents.platen_holes_mm": [[0.0, 0.0], [30.0, 10.0]],
    "pull.about": [0.2, 0.1, 1.0],
    "pull.direction": [0.0, 0.1, 1.0],
    "machine.profile": "HOME_BOX_300_450",
    "machine.shape": "rectangle",
    "machine.vacuum": "cleaner",
    "heating.sides": "both",
    "forecast.heat_map": "0.9 1 0.9",
    "machine.heater_zones": "0.9 1 1.1",
    "forecast.measured": "rim 0.52 at 0 0 30, top 0.6 at 2 1 33",
}

SEARCHED = {"pull": {"direction": "search", "cone_deg": 30.0, "directions": 30}}

#: Further values and settings that only count beside others: what else is set in both runs.
FURTHER = [
    ("base.sink_mm", "widest", {}),
    ("base.sink_mm", "auto", {}),
    ("pull.about", [0.2, 0.1, 1.0], SEARCHED),
    ("pull.cone_deg", 40.0, SEARCHED),
    ("pull.directions", 45, SEARCHED),
    ("pull.setup", 2, {"pull": {"direction": "search", "directions": 30}}),
    ("vents.enabled", False, {"forecast": {"place_vents": True}}),
    ("vents.foot_ring", False, {"vents": {"at_mm": [[0.5, 0.3, 3.3]]}}),
    ("vents.spacing_mm", 8.0, {"forecast": {"place_vents": True}}),
    ("fit.formed_thickness_mm", 0.3, {"fit": {"controlled_side": "outside"}, **QUIET}),
    ("sheet.material", "PETG", {"fit": {"controlled_side": "outside"}, **QUIET}),
    ("base.corner_mm", 3.0, {"base": {"footprint": "rectangle"}, **QUIET}),
    ("base.sink_mm", 3.0, {"base": {"footprint": "circle", "style": "plinth"}, **QUIET}),
    ("draft.texture_depth_mm", 0.3, {"fill": {"mode": "locked"}, **QUIET}),
    ("fill.keep_tight", True, {"draft": {"wanted_deg": 6.0}, **QUIET}),
    ("forecast.gap_mm", 60.0, {"forecast": {"compare_gaps": True}}),
    ("forecast.law", "Mooney-Rivlin", {"forecast": {"sag_mm": 5.0, "friction": 0.4, "sticks_after": 0.3}}),
]


def _changed(name, setting, value):
    """Another value that the setting takes."""
    if name in CHOSEN:
        return CHOSEN[name]
    match setting.kind:
        case "text":
            return f"{value}x"
        case "switch":
            return not value
        case "choice":
            words = list(setting.words)
            return words[(words.index(value) + 1) % len(words)]
        case "whole":
            return value + (1 if value < 100 else value // 2)
        case "pair":
            return [1.1 * number for number in value or setting.start]
        case "amount_or_word" if value in setting.words:
            return 0.5
        case "number" | "amount_or_word":
            start = setting.start if value is None else value
            other = 1.5 * (start if start is not None else 60.0) or 0.1 * min(setting.high, 20.0)
            return other if setting.low <= other <= setting.high else 0.5 * other
    raise AssertionError(f"no other value is known for {name}: add one to CHOSEN")


@pytest.fixture(scope="module")
def job(job_of, sculpt_file, shape):
    path = sculpt_file("mushroom", scale=0.1, name="cap.stl")
    assert shape("mushroom").face_count < 6000
    return job_of(path, **CHEAP)


@pytest.fixture
def told(tmp_path):
    """Run a job and read back what it gave: report without times, arrays, buck."""

    def run(job, keep=None, command="make", pictures=False):
        out = tmp_path / f"out{len(list(tmp_path.glob('out*')))}"
        outcome = run_command(command, job, out, results=out / "inner", keep=keep, pictures=pictures)
        report = {name: entry for name, entry in outcome.report.items() if name != "timing_s"}
        with np.load(out / "inner" / "arrays.npz", allow_pickle=False) as held:
            arrays = {name: held[name] for name in held.files}
        files = {
            path.name: path.read_bytes() for path in out.iterdir() if path.suffix in (".stl", ".ply", ".png")
        }
        kept = [
            name.removesuffix(" (kept)") for name in outcome.report["timing_s"] if name.endswith(" (kept)")
        ]
        return report, arrays, files, kept

    return run


def _same(one, other):
    (report, arrays, files, _), (report2, arrays2, files2, _) = one, other
    assert json.dumps(report, indent=1) == json.dumps(report2, indent=1)
    assert list(arrays) == list(arrays2)
    for name, array in arrays.items():
        np.testing.assert_array_equal(array, arrays2[name], err_msg=name, strict=True)
    assert list(files) == list(files2)
    for name, data in files.items():
        assert data == files2[name], name


@pytest.fixture(scope="module")
def filled(job, tmp_path_factory):
    """A store that a run with those settings has filled."""
    folder = tmp_path_factory.mktemp("filled")
    run_command("make", job, None, keep=folder)
    return folder


@pytest.fixture
def keep(filled, tmp_path):
    """A copy of that store."""
    return shutil.copytree(filled, tmp_path / "keep")


def test_unchanged_settings_take_everything_from_the_store(job, keep, told):
    fresh, kept = told(job), told(job, keep)
    wanted = [stage for stage in stages_for(COMMANDS["make"]) if stage.wanted(job.tables)]
    stages = [stage for stage in wanted if stage.keep and (stage.tells or stage.beside)]
    assert kept[3] == [stage.name for stage in stages]
    _same(fresh, kept)


WALKED = [
    name
    for name in all_settings()
    # of each setting by itself, so that a new one does not change which of the others are walked
    if "BUCKWRIGHT_ALL_SETTINGS" in os.environ or crc32(name.encode()) % 11 == 9
]


@pytest.mark.parametrize("name", WALKED)
def test_any_changed_setting_gives_what_a_fresh_run_gives(name, job, keep, told, sculpt_file):
    table, _, key = name.partition(".")
    value = _changed(name, all_settings()[name], getattr(job.tables[table], key))
    if name == "sculpt.file":
        value = str(sculpt_file("ball", scale=0.1, name="cap.stl"))
    changed = job.evolved(**LEFT_OUT.get(table, {})).evolved(**{table: {key: value}})
    assert changed != job
    _same(told(changed), told(changed, keep))


@pytest.mark.parametrize(("name", "value", "beside"), FURTHER)
def test_settings_that_count_beside_others(name, value, beside, job, keep, told):
    table, _, key = name.partition(".")
    first = job.evolved(**beside)
    command = "look" if table == "pull" else "make"  # a search takes long enough
    told(first, keep, command=command)
    changed = first.evolved(**{table: {key: value}})
    assert changed != first
    _same(told(changed, command=command), told(changed, keep, command=command))


@pytest.mark.parametrize("begun", [True, False])
def test_vents_that_are_switched_come_and_go_with_their_pockets(begun, job, told, tmp_path):
    first = job.evolved(vents={"enabled": begun}, forecast={"quality": "off"})
    second = job.evolved(vents={"enabled": not begun}, forecast={"quality": "off"})
    told(first, tmp_path / "keep")
    switched = told(second, tmp_path / "keep")
    _same(told(second), switched)
    assert ("pockets" in switched[0]) is (not begun)
    assert bool(switched[0]["vents"]) is (not begun)
    _same(told(first), told(first, tmp_path / "keep"))  # and back again


@pytest.mark.parametrize("command", ["look", "forecast"])
def test_other_commands_tell_the_same_from_the_store_of_a_make(command, job, keep, told):
    fresh = told(job, command=command, pictures=True)
    kept = told(job, keep, command=command, pictures=True)
    assert kept[3]
    _same(fresh, kept)
    _same(fresh, told(job, keep, command=command, pictures=True))
