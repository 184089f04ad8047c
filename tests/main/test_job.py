"""Job files: what is read, what is refused, and how it is said."""

import re
import tomllib
from pathlib import Path

import pytest
import tomli_w

from buckwright.errors import JobError
from buckwright.job import Job, job_from, read_job, write_job
from buckwright.job.files import RENAMED, commented_job, renamed_keys
from buckwright.settings import settings_of
from buckwright.stages import all_settings, tables

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = sorted((ROOT / "sample_scenes").glob("*/job.toml"))

# A value other than the default for every key there is.
# The other model refuses settings below.
APART = {("forecast", "model"): "membrane"}
EVERYTHING = {
    "job": {
        "name": "Jägerin 鷺 № 7",
        "number": "BW-Ω1",
        "use": "lamp",
        "story": "two\nlines with \"quotes\" and 'more'",
    },
    "sculpt": {
        "file": "früh/reiher.obj",
        "unit": "in",
        "width_mm": 1.5,
        "depth_mm": 2.5,
        "height_mm": 60.0,
        "height_factor": 1.5,
        "mirror": "y",
    },
    "sheet": {"material": "PETG", "thickness_mm": 1.0},
    "size": {
        "measure": "girth",
        "wanted_mm": 560.0,
        "along": "y",
        "level_share": 0.4,
        "side": "z",
        "between_mm": [[0.0, 0.0, 1.0], [0.0, 2.0, 1.0]],
        "slice": "ring",
        "slice_mm": 6.0,
        "wall_mm": 3.0,
    },
    "pull": {
        "direction": [0.0, 0.5, 1.0],
        "about": [0.0, 1.0, 0.0],
        "cone_deg": 30.0,
        "directions": 64,
        "setup": 2,
    },
    "body": {
        "file": "head.stl",
        "unit": "cm",
        "side": "outside",
        "padding_mm": 5.0,
        "clearance_mm": 3.0,
        "grow": "short",
        "foot": "widest",
        "trim": "body",
        "edge_mm": 1.5,
    },
    "halves": {
        "seek": True,
        "propose": False,
        "plane": 2,
        "normal": [1.0, 0.0, 0.5],
        "offset_mm": 4.5,
        "overlap_mm": 8.0,
        "key_mm": 2.0,
    },
    "draft": {"wanted_deg": 4.0, "texture_depth_mm": 0.1},
    "detail": {"stroke_mm": 1.2, "edge_radius_mm": 2.0},
    "fill": {"mode": "locked", "keep_tight": True, "tolerance_mm": 0.05, "cell_mm": 0.7},
    "fit": {"controlled_side": "outside", "shrinkage": 0.004, "formed_thickness_mm": 0.4},
    "base": {
        "sink_mm": "widest",
        "style": "plinth",
        "footprint": "circle",
        "riser_mm": 9.0,
        "flange_mm": 6.0,
        "land_mm": 12.0,
        "fillet_mm": 3.0,
        "corner_mm": 4.0,
        "trim_step_mm": 0.4,
        "platen_mm": [200.0, 300.0],
        "outline_mm": [[-40.0, -30.0, 0.0], [50.0, -30.0, 1.5], [0.0, 60.0, 0.0]],
    },
    "mould": {"form": "female", "floor_mm": 9.0},
    "underside": {"fixing": "magnet", "fixing_count": 3, "engrave": False},
    "vents": {
        "enabled": False,
        "min_pocket_mm": 0.4,
        "spacing_mm": 20.0,
        "hole_mm": 0.9,
        "printer_min_hole_mm": 0.8,
        "when_small": "dimple",
        "skin_mm": 4.0,
        "narrow_most_mm": 8.0,
        "back_bore_mm": 5.0,
        "wall_mm": 2.0,
        "tilt_deg": 30.0,
        "channel_width_mm": 5.0,
        "channel_depth_mm": 3.0,
        "foot_ring": False,
        "target_s": 1.0,
        "target_share": 0.3,
        "plenum_kpa": 20.0,
        "at_mm": [[1.0, 2.0, 3.0], [-4.0, 5.5, 6.0]],
        "platen_holes_mm": [[0.0, 0.0], [10.0, -10.0]],
    },
    "forecast": {
        "quality": "fine",
        "nodes": 12000,
        "frame_mm": [300.0, 260.0],
        "gap_mm": 40.0,
        "machine_height_mm": 90.0,
        "sag_mm": 12.0,
        "rim_colder_c": 12.0,
        "heat_map": "0.9 1; 1 1.1",
        "friction": 0.3,
        "sticks_after": 0.5,
        "measured": "brow 0.52 at 12 30 41",
        "model": APART["forecast", "model"],
        "law": "Mooney-Rivlin",
        "sharpest_radius_mm": 1.5,
        "hot_modulus_kpa": 60.0,
        "place_vents": True,
        "compare_gaps": True,
    },
    "heating": {
        "heater": "oven",
        "sides": "both",
        "flux_kw_m2": 8.0,
        "heater_c": 500.0,
        "oven_c": 150.0,
        "air_c": 80.0,
        "transfer_w_m2k": 15.0,
        "emissivity": 0.8,
        "room_c": 18.0,
        "carry_s": 3.0,
        "buck_c": 40.0,
        "buck_w_mk": 1.0,
        "buck_kj_m3k": 1800.0,
    },
    "edge": {
        "strip_mm": 20.0,
        "gauge": False,
        "openings": False,
        "opening_rise_mm": 5.0,
        "profile": "u",
        "profile_leg_mm": 5.0,
        "profile_wall_mm": 1.2,
        "profile_room_mm": 0.3,
        "rivets_mm": [[1.0, 2.0, 3.0]],
        "rivet_mm": 4.0,
        "slots_mm": [[1.0, 2.0, 3.0]],
        "slot_mm": [30.0, 5.0],
        "fans_mm": [[1.0, 2.0, 3.0]],
        "fan_mm": 30.0,
        "pip_mm": 0.5,
    },
    "rig": {
        "reducing": True,
        "grip_mm": 20.0,
        "corner_mm": 12.0,
        "mask_mm": 4.0,
        "gasket_mm": 8.0,
        "gasket_width_mm": 12.0,
        "gasket_squeeze": 0.4,
        "owned": "280 x 230",
    },
    "stock": {
        "stock_mm": [1000.0, 500.0],
        "parts": 40,
        "spare_share": 0.2,
        "saw_gap_mm": 2.0,
        "cutting": "free",
        "keep_direction": True,
        "also": "300 x 240: 4, 260 x 220",
        "price": 25.0,
    },
    "group": {"others": "lid.stl: 2", "copies": 4, "spacing_mm": 60.0, "edge_mm": 30.0},
    "machine": {
        "profile": "SHOP_600",
        "shape": "rectangle",
        "hole_pitch_mm": 20.0,
        "hole_mm": 2.5,
        "sag_room_mm": 90.0,
        "oven_mm": [500.0, 400.0],
        "heater_zones": "0.9 1; 1 1.1",
        "heater_kw_m2": 12.0,
        "vacuum": "cleaner",
        "flow_l_min": 900.0,
        "lowest_kpa": 60.0,
        "box_l": 4.0,
        "tank_l": 20.0,
        "tank_kpa": 12.0,
        "thickness_bias": 0.9,
    },
    "templates": {"enabled": False, "page": "Letter", "edge_strip_mm": 25.0},
    "print": {"material": "PETG", "shell_mm": 3.0, "infill_share": 0.4, "infill_line_mm": 0.6},
    "printer": {
        "bed_mm": [256.0, 250.0],
        "height_mm": 200.0,
        "margin_mm": 6.0,
        "spacing_mm": 5.0,
        "joint": "printed",
        "pin_mm": 8.0,
        "clearance_mm": 0.25,
        "planes_mm": [[0.0, 0.0, 1.0, 40.0], [1.0, 0.0, 0.0, 0.0]],
        "glue_groove": False,
        "joint_clear_mm": 4.0,
        "flow_mm3_s": 10.0,
        "filament_mm": 2.85,
    },
    "hollow": {"kind": "ribbed", "wall_mm": 5.0, "rib_mm": 3.0, "spacing_mm": 20.0, "pour_mm": 18.0},
    "porous": {"enabled": True, "wall_mm": 4.0, "steepest_deg": 30.0, "infill_share": 0.3},
    "take_up": {
        "enabled": True,
        "radius_mm": 5.0,
        "draft_deg": 7.0,
        "below_trim_mm": 2.0,
        "at_mm": [[30.0, 20.0, -4.0, 3.0], [-30.0, 20.0, -4.0, 0.0]],
    },
    "strength": {"safety": 2.0, "rest_s": 120.0, "preheat_c": 50.0, "most_bend_mm": 0.2},
    "artwork": {
        "file": "feathers.png",
        "by": "uv",
        "grid": True,
        "grid_mm": 5.0,
        "register": True,
        "side": "under",
        "width_mm": 120.0,
        "middle_mm": [4.0, -2.0],
        "turn_deg": 30.0,
        "dots_per_inch": 300.0,
    },
}


def test_list_above_names_every_setting():
    known = {name: set(settings_of(table)) for name, table in tables().items()}
    assert {table: set(values) for table, values in EVERYTHING.items()} == known
    default = Job()
    for table, values in EVERYTHING.items():
        for key, value in values.items():
            if (table, key) not in APART:
                assert getattr(getattr(default, table), key) != value, (table, key)


def test_round_trip_of_every_setting(tmp_path):
    job = job_from(EVERYTHING)
    path = tmp_path / "job.toml"
    path.write_text(write_job(job), encoding="utf-8")
    assert read_job(path) == job
    assert tomllib.loads(write_job(job)) == EVERYTHING


def test_round_trip_of_the_other_model():
    job = job_from({"forecast": {"model": "geometric"}})
    assert job_from(tomllib.loads(write_job(job))) == job != Job()


def test_round_trip_of_the_defaults(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(write_job(Job()), encoding="utf-8")
    assert read_job(path) == Job()
    assert "riser_mm" not in write_job(Job())  # it follows from the sheet and the part


def test_empty_file_is_a_job_of_defaults(tmp_path):
    path = tmp_path / "job.toml"
    path.write_bytes(b"")
    assert read_job(path) == Job()


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.parent.name)
def test_samples_load_and_write_back(path, tmp_path):
    job = read_job(path)
    assert job.sculpt_path.parent == path.parent
    again = tmp_path / "job.toml"
    again.write_text(write_job(job), encoding="utf-8")
    assert read_job(again) == job
    assert job.folder == path.parent  # and it is not written
    assert str(path.parent) not in again.read_text(encoding="utf-8")


def test_sculpt_is_looked_for_beside_the_job(tmp_path):
    (tmp_path / "job.toml").write_text('[sculpt]\nfile = "sub/Kranich-ü.stl"\n', encoding="utf-8")
    assert read_job(tmp_path / "job.toml").sculpt_path == tmp_path / "sub" / "Kranich-ü.stl"
    absolute = (tmp_path / "other.stl").as_posix()
    (tmp_path / "job.toml").write_text(tomli_w.dumps({"sculpt": {"file": absolute}}), encoding="utf-8")
    assert read_job(tmp_path / "job.toml").sculpt_path == tmp_path / "other.stl"


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        ({"sheet": {"thicknes_mm": 1.0}}, ["[sheet]", "thicknes_mm", "did you mean thickness_mm"]),
        ({"shet": {"thickness_mm": 1.0}}, ["shet", "did you mean sheet"]),
        ({"vents": {"colour": 1}}, ["[vents]", "colour", "it has enabled", "spacing_mm"]),
        ({"folder": {"x": 1}}, ["no table [folder]", "there are job, sculpt"]),
        ({"sheet": 1.0}, ["sheet", "[sheet]"]),
        ({"thickness_mm": 1.0}, ["thickness_mm", "table"]),
        ({"sheet": {"thickness_mm": "1 mm"}}, ["[sheet] thickness_mm", "must be a number", "1 mm"]),
        ({"sheet": {"thickness_mm": True}}, ["[sheet] thickness_mm", "must be a number"]),
        ({"sheet": {"material": 3}}, ["[sheet] material", "one of HIPS, PETG", "got 3"]),
        ({"job": {"name": 3}}, ["[job] name", "text in quotes"]),
        ({"fill": {"keep_tight": 1}}, ["[fill] keep_tight", "true or false"]),
        ({"fill": {"mode": "ful"}}, ["[fill] mode", "full, locked, none", "did you mean full"]),
        ({"sculpt": {"unit": "furlong"}}, ["[sculpt] unit", "furlong", "mm"]),
        ({"pull": {"direction": "up"}}, ["[pull]", "direction", "search", "up"]),
        ({"pull": {"direction": [0.0, 1.0]}}, ["[pull] direction", "three numbers"]),
        ({"pull": {"direction": [0.0, 0.0, 0.0]}}, ["direction", "zero vector"]),
        ({"pull": {"about": [0.0, 0.0, 0.0]}}, ["about", "zero vector"]),
        ({"pull": {"directions": 10.5}}, ["[pull] directions", "whole number"]),
        ({"underside": {"fixing_count": "two"}}, ["[underside] fixing_count", "whole number"]),
        ({"base": {"sink_mm": "deep"}}, ["[base] sink_mm", "number", "deep"]),
        ({"base": {"platen_mm": [1.0, 2.0, 3.0]}}, ["[base] platen_mm", "two numbers"]),
        ({"forecast": {"model": "geometric", "sag_mm": 3.0}}, ["geometric", "does not support sag"]),
        ({"forecast": {"model": "geometric", "friction": 0.0}}, ["geometric", "sag, vents or friction"]),
        ({"forecast": {"friction": 2.5}}, ["friction", "between 0 and 2"]),
        ({"underside": {"engrave": "yes"}}, ["[underside] engrave", "true or false"]),
    ],
)
def test_refusals_say_where_and_what(raw, words):
    with pytest.raises(JobError) as caught:
        job_from(raw)
    message = str(caught.value)
    assert all(word in message for word in words), message
    assert "typing" not in message and "Error" not in message and "NoneType" not in message


@pytest.mark.parametrize(
    ("table", "key", "value"),
    [
        ("sheet", "thickness_mm", 0.0),
        ("sheet", "thickness_mm", -0.75),
        ("sheet", "thickness_mm", 11.0),
        ("sheet", "thickness_mm", float("nan")),
        ("sheet", "thickness_mm", float("inf")),
        ("sculpt", "height_mm", -60.0),
        ("sculpt", "width_mm", 0.0),
        ("sculpt", "depth_mm", float("nan")),
        ("pull", "cone_deg", 181.0),
        ("pull", "directions", 0),
        ("pull", "direction", [float("nan"), 0.0, 1.0]),
        ("pull", "direction", [float("inf"), 0.0, 1.0]),
        ("pull", "about", [0.0, float("nan"), 1.0]),
        ("draft", "wanted_deg", 0.0),
        ("draft", "wanted_deg", 45.0),
        ("draft", "texture_depth_mm", -0.1),
        ("fill", "tolerance_mm", -0.01),
        ("fill", "cell_mm", 0.0),
        ("fit", "shrinkage", 0.5),
        ("fit", "shrinkage", -0.001),
        ("fit", "formed_thickness_mm", 0.0),
        ("base", "sink_mm", -1.0),
        ("base", "sink_mm", float("nan")),
        ("base", "riser_mm", -1.0),
        ("base", "platen_mm", [-10.0, 200.0]),
        ("base", "platen_mm", [float("nan"), 200.0]),
        ("underside", "fixing_count", -1),
        ("vents", "spacing_mm", 0.0),
        ("vents", "hole_mm", -1.0),
        ("vents", "target_share", 1.0),
        ("vents", "plenum_kpa", 101.0),
    ],
)
def test_values_out_of_range_are_refused_by_name(table, key, value):
    with pytest.raises(JobError) as caught:
        job_from({table: {key: value}})
    assert key in str(caught.value)
    assert table in str(caught.value)


def test_every_fault_is_named_at_once():
    with pytest.raises(JobError) as caught:
        job_from({"sheet": {"thickness_mm": "x", "materiel": "HIPS"}, "fill": {"mode": 3}})
    message = str(caught.value)
    assert "materiel" in message
    assert "[fill] mode" in message


def test_settings_that_may_be_left_to_the_rules_take_none():
    job = Job().evolved(base={"riser_mm": 9.0}, sculpt={"unit": "cm"})
    back = job.evolved(base={"riser_mm": None}, sculpt={"unit": None})
    assert back == Job()


def test_evolved_changes_only_what_is_named():
    job = job_from(EVERYTHING, folder=Path("somewhere"))
    other = job.evolved(sheet={"thickness_mm": 1.5}, pull={"direction": "x"})
    assert other.sheet.thickness_mm == 1.5
    assert other.sheet.material == "PETG"
    assert other.pull.direction == "x"
    assert other.folder == Path("somewhere")
    assert job == job_from(EVERYTHING)  # the first one is as it was
    assert other.evolved(sheet={"thickness_mm": 1.0}, pull={"direction": [0.0, 0.5, 1.0]}) == job


def test_evolved_refuses_as_reading_does():
    with pytest.raises(JobError, match="did you mean thickness_mm"):
        Job().evolved(sheet={"thickness": 1.0})
    with pytest.raises(JobError, match="thickness_mm"):
        Job().evolved(sheet={"thickness_mm": -1.0})
    with pytest.raises(JobError, match="did you mean sheet"):
        Job().evolved(sheets={"thickness_mm": 1.0})


def test_whole_numbers_do_for_lengths():
    job = job_from({"base": {"riser_mm": 12, "sink_mm": 3}, "pull": {"direction": [0, 0, 1]}})
    assert job.base.riser_mm == 12.0
    assert job.base.sink_mm == 3.0
    assert job.pull.direction == (0.0, 0.0, 1.0)


def test_unreadable_files_are_told_apart(tmp_path):
    with pytest.raises(JobError, match="no such job file"):
        read_job(tmp_path / "absent.toml")
    with pytest.raises(JobError, match="is a folder"):
        read_job(tmp_path)
    broken = tmp_path / "broken.toml"
    broken.write_text("[sheet\nthickness_mm = 1\n")
    with pytest.raises(JobError, match="not valid TOML"):
        read_job(broken)
    broken.write_bytes(b'[job]\nname = "\xff\xfe"\n')
    with pytest.raises(JobError, match="cannot be read"):
        read_job(broken)


def test_a_byte_order_mark_does_no_harm(tmp_path):
    path = tmp_path / "job.toml"
    path.write_bytes(b'\xef\xbb\xbf[job]\nname = "heron"\n')
    assert read_job(path).job.name == "heron"


def test_a_refusal_names_the_file(tmp_path):
    path = tmp_path / "my_job.toml"
    path.write_text("[fill]\nmode = 'most'\n")
    with pytest.raises(JobError, match=r"my_job\.toml"):
        read_job(path)


def test_every_setting_is_described():
    """By label and tip where it is declared, and so in the commented job file."""
    text = commented_job(Job())
    for name, setting in all_settings().items():
        assert re.fullmatch(r"[A-Z].*[a-z)]", setting.label), name
        assert re.fullmatch(r"[A-Z].*[^.]", setting.tip), name
        assert f"# {setting.tip}" in text, name
        assert re.search(rf"^#? ?{name.partition('.')[2]} = ", text, re.MULTILINE), name
        for word, (label, tip) in setting.words.items():
            assert word and label and not tip.endswith("."), name


def test_the_commented_job_is_a_job_and_fixes_nothing():
    assert job_from(tomllib.loads(commented_job(Job()))) == Job()
    full = job_from(EVERYTHING)
    assert job_from(tomllib.loads(commented_job(full))) == full
    every = re.sub(r"^# (\w+ = )", r"\1", commented_job(Job()), flags=re.MULTILINE)
    raw = tomllib.loads(every)
    assert {name: set(values) for name, values in raw.items()} == {
        name: set(settings_of(table)) for name, table in tables().items()
    }
    for table, values in raw.items():
        for key, value in values.items():
            job_from({table: {key: value}})


def _jobs_in(raw):
    """The tables of a job file, or of each part of a project file and of what they share."""
    if "part" not in raw:
        return [raw]
    own = [{name: one for name, one in part.items() if isinstance(one, dict)} for part in raw["part"]]
    return [raw["shared"], *({name: part[name] for name in part if name != "sizes_mm"} for part in own)]


def test_job_files_in_the_texts_are_jobs_of_today():
    texts = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
    blocks = [
        (path, block)
        for path in texts
        for block in re.findall(r"```toml\n(.*?)```", path.read_text(encoding="utf-8"), re.DOTALL)
    ]
    assert blocks
    for path, block in blocks:
        for raw in _jobs_in(tomllib.loads(block)):
            job_from(raw, where=str(path))
        assert not renamed_keys(raw), path


def test_a_name_of_an_argument_is_no_table():
    with pytest.raises(JobError, match=r"no table \[folder\]"):
        Job().evolved(folder={"x": 1})


@pytest.mark.parametrize(("old", "new"), RENAMED.items())
def test_keys_of_older_files_are_read_under_their_new_names(old, new):
    value = EVERYTHING[new[0]][new[1]]
    raw = {old[0]: {old[1]: value}}
    job = job_from(raw)
    assert job == job_from({new[0]: {new[1]: value}}) != Job()
    assert raw == {old[0]: {old[1]: value}}  # what was given stays
    (line,) = renamed_keys(raw)
    assert f"[{new[0]}] {new[1]}" in line


def test_of_an_old_and_a_new_key_the_new_one_counts():
    job = job_from({"base": {"fixing": "magnet"}, "underside": {"fixing": "none"}})
    assert job.underside.fixing == "none"


def test_corners_of_the_base_may_leave_their_height_out():
    job = job_from({"base": {"outline_mm": [[0, 0], [10, 0, 2], [0, 10]]}})
    assert job.base.outline_mm == ((0.0, 0.0, 0.0), (10.0, 0.0, 2.0), (0.0, 10.0, 0.0))


@pytest.mark.parametrize(
    ("table", "key", "value", "words"),
    [
        ("vents", "at_mm", 3, "list of places"),
        ("vents", "at_mm", [[1, 2]], r"\[x, y, z\] each"),
        ("vents", "at_mm", [1, 2, 3], "list of places"),
        ("vents", "at_mm", [[1, 2, float("nan")]], "place 1 must be numbers"),
        ("vents", "at_mm", [[0, 0, 0], [1, 2, 1e9]], "place 2 must be numbers"),
        ("vents", "at_mm", [[1, 2, "3"]], "place 1 must be numbers between -100000"),
        ("vents", "at_mm", [[0, 0, 0]] * 6000, "names 6000 places"),
        ("vents", "platen_holes_mm", [[1, 2, 3]], r"\[x, y\] each"),
        ("base", "outline_mm", [[0, 0], [1, 1]], "three different corners"),
        ("base", "outline_mm", [[0, 0], [1, 1], [0, 0], [1, 1]], "three different corners, got 2"),
        ("base", "outline_mm", [[0]], "list of places"),
    ],
)
def test_places_that_make_no_sense(table, key, value, words):
    with pytest.raises(JobError, match=words):
        job_from({table: {key: value}})
