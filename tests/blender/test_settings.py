"""Settings of a scene against the job of the library: nothing is missing, nothing is lost on the way."""

import math
import tomllib
from pathlib import Path

import attrs
import pytest

from buckwright.job import Job, job_from, read_job, write_job

ROOT = Path(__file__).resolve().parents[2]
SCENES = sorted((ROOT / "sample_scenes").glob("*/job.toml"))


def _keys():
    return {
        (table.name, key.name)
        for table in attrs.fields(Job)
        if table.name != "folder"
        for key in attrs.fields(table.type)
    }


def _through(addon, scene, job):
    """The job after it went through the properties of a scene."""
    addon.scene.settings.write_tables(scene, tomllib.loads(write_job(job)))
    return job_from(addon.scene.settings.read_tables(scene))


def test_every_key_of_the_job_has_a_property(addon, scene):
    held = {(one.table, one.key) for one in addon.scene.fields.fields()}
    assert held == _keys() - addon.scene.fields.BY_HAND
    for one in addon.scene.fields.fields():
        group = getattr(scene.buckwright, one.table)
        assert all(hasattr(group, name) for name in one.props())


def test_every_key_has_a_label_and_a_tip_of_its_own(addon):
    for one in addon.scene.fields.fields():
        words = addon.scene.words.WORDS
        assert (one.table, one.key) in words, f"words.py: [{one.table}] {one.key} has no words"
        assert one.label and one.label[0].isupper()
        assert len(one.tip) > 20 and one.tip[0].isupper() and not one.tip.endswith(".")


def test_tips_of_operators_and_panels_end_without_a_full_stop(addon):
    import bpy

    names = [name for name in dir(bpy.types) if name.startswith("BUCKWRIGHT_")]
    assert len(names) > 30
    for name in names:
        words = getattr(bpy.types, name).bl_rna.description
        assert not words.endswith("."), name


def test_a_new_scene_has_the_defaults_of_the_library(addon, scene):
    assert job_from(addon.scene.settings.read_tables(scene)) == Job()


def test_ranges_are_those_of_the_library(addon, scene):
    sheet = scene.buckwright.sheet.bl_rna.properties["thickness_mm"]
    assert (sheet.hard_min, sheet.hard_max) == (pytest.approx(0.05), pytest.approx(10.0))
    angle = scene.buckwright.draft.bl_rna.properties["wanted_angle"]
    assert angle.hard_max == pytest.approx(math.radians(44.0))


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.parent.name)
def test_job_files_come_back_as_they_were(addon, scene, path):
    job = read_job(path)
    assert _through(addon, scene, job) == job


def test_numbers_that_single_precision_cannot_hold_come_back_exactly(addon, scene):
    job = job_from(
        {
            "sheet": {"thickness_mm": 0.7512345678901234},
            "pull": {"direction": [0.123456789012345, -0.2, 0.9], "cone_deg": 33.33333333333333},
            "draft": {"wanted_deg": 4.123456789},
            "base": {"sink_mm": 1.000000001, "most_mm": [200.123456789, 150.0]},
            "fit": {"shrinkage": 0.0061234567890123},
        }
    )
    assert _through(addon, scene, job) == job


def test_optional_keys_stay_left_out_until_they_are_set(addon, scene):
    assert "riser_mm" not in addon.scene.settings.read_tables(scene)["base"]
    scene.buckwright.base.auto_riser_mm = False
    scene.buckwright.base.riser_mm = 12.5
    assert addon.scene.settings.read_tables(scene)["base"]["riser_mm"] == 12.5


def test_a_property_that_is_changed_after_opening_counts(addon, scene):
    job = job_from({"sheet": {"thickness_mm": 0.7512345678901234}})
    addon.scene.settings.write_tables(scene, tomllib.loads(write_job(job)))
    scene.buckwright.sheet.thickness_mm = 1.02
    assert addon.scene.settings.read_tables(scene)["sheet"]["thickness_mm"] == 1.02


@pytest.mark.parametrize("scale", [1.0, 0.01, 0.001])
@pytest.mark.parametrize("system", ["METRIC", "IMPERIAL", "NONE"])
def test_millimetres_do_not_depend_on_the_unit_of_the_scene(addon, scene, scale, system):
    scene.unit_settings.system = system
    scene.unit_settings.scale_length = scale
    scene.buckwright.sheet.thickness_mm = 1.5
    assert addon.scene.settings.read_tables(scene)["sheet"]["thickness_mm"] == 1.5
    assert scene.buckwright.sheet.bl_rna.properties["thickness_mm"].unit == "CAMERA"  # shown in mm always


def test_words_of_choices(addon, scene):
    scene.buckwright.pull.direction = "MINUS_Y"
    scene.buckwright.base.sink_to = "WIDEST"
    scene.buckwright.fill.mode = "LOCKED"
    tables = addon.scene.settings.read_tables(scene)
    assert (tables["pull"]["direction"], tables["base"]["sink_mm"]) == ("-y", "widest")
    assert tables["fill"]["mode"] == "locked"


def test_a_job_file_is_written_and_read(addon, scene, tmp_path):
    import bpy

    path = tmp_path / "Job with ä spaces.toml"
    scene.buckwright.sheet.material = "PETG"
    scene.buckwright.job.name = "Häron 鷺"
    bpy.ops.buckwright.save_job(filepath=str(path), with_sculpt=False)
    assert read_job(path).sheet.material == "PETG"
    scene.buckwright.sheet.material = "HIPS"
    bpy.ops.buckwright.open_job(filepath=str(path))
    assert (scene.buckwright.sheet.material, scene.buckwright.job.name) == ("PETG", "Häron 鷺")


def test_a_job_file_with_a_wrong_key_is_refused_and_changes_nothing(addon, scene, tmp_path):
    import bpy

    path = tmp_path / "job.toml"
    path.write_text("[sheet]\nthikness_mm = 2.0\n", encoding="utf-8")
    with pytest.raises(RuntimeError, match="did you mean 'thickness_mm'"):
        bpy.ops.buckwright.open_job(filepath=str(path))
    assert job_from(addon.scene.settings.read_tables(scene)) == Job()


def test_presets_keep_their_part_and_leave_the_rest(addon, scene):
    import bpy

    own = scene.buckwright
    own.sheet.material, own.sheet.thickness_mm, own.fill.mode = "ABS", 2.0, "NONE"
    bpy.ops.buckwright.save_preset(kind="sheet", name="Thick Blaß 2")
    assert addon.scene.presets.own_preset_names("sheet") == ["Thick Blaß 2"]
    assert "Thick Blaß 2" in addon.scene.presets.preset_names("sheet")
    own.sheet.material, own.sheet.thickness_mm, own.fill.mode = "PP", 0.5, "FULL"
    own.fit.auto_shrinkage, own.fit.shrinkage = False, 0.01
    bpy.ops.buckwright.load_preset(kind="sheet", name="Thick Blaß 2")
    assert (own.sheet.material, own.sheet.thickness_mm, own.fill.mode) == ("ABS", 2.0, "FULL")
    assert own.fit.auto_shrinkage  # the preset left it out, so it follows from the sheet again
    bpy.ops.buckwright.remove_preset(kind="sheet", name="Thick Blaß 2")
    assert addon.scene.presets.own_preset_names("sheet") == []


BUNDLED = sorted((ROOT / "blender_addon" / "presets").glob("*/*.toml"))


@pytest.mark.parametrize("path", BUNDLED, ids=lambda path: path.stem)
def test_presets_that_come_with_the_extension_hold_what_they_say(addon, scene, path):
    import bpy

    kind, name = path.parent.name, path.stem
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    if (keys := addon.scene.presets.KINDS[kind]) is not None:
        assert {(one, key) for one, values in table.items() for key in values} <= set(keys)
    assert "no source" in path.read_text(encoding="utf-8") or "Choices" in path.read_text(encoding="utf-8")
    presets = addon.scene.presets
    assert name in presets.preset_names(kind) and name not in presets.own_preset_names(kind)
    scene.buckwright.job.name = "Mine"
    assert bpy.ops.buckwright.load_preset(kind=kind, name=name) == {"FINISHED"}
    now = addon.scene.settings.read_tables(scene)
    assert all(now[one][key] == value for one, values in table.items() for key, value in values.items())
    assert now["job"]["name"] == "Mine"
    vents = job_from(now).vents
    assert vents.plenum_kpa * 1000.0 < vents.target_share * 101325.0, "else no pocket ever gets there"


def test_every_kind_has_presets_to_start_from(addon, scene):
    assert {path.parent.name for path in BUNDLED} == set(addon.scene.presets.KINDS)


def test_a_preset_of_the_user_goes_before_one_of_the_same_name(addon, scene):
    import bpy

    own, name = scene.buckwright, "HIPS 1 mm"
    bpy.ops.buckwright.load_preset(kind="sheet", name=name)
    own.sheet.thickness_mm = 1.1
    bpy.ops.buckwright.save_preset(kind="sheet", name=name)
    try:
        own.sheet.thickness_mm = 0.5
        bpy.ops.buckwright.load_preset(kind="sheet", name=name)
        assert own.sheet.thickness_mm == pytest.approx(1.1)
        assert addon.scene.presets.preset_names("sheet").count(name) == 1
    finally:
        bpy.ops.buckwright.remove_preset(kind="sheet", name=name)
    bpy.ops.buckwright.load_preset(kind="sheet", name=name)
    assert own.sheet.thickness_mm == pytest.approx(1.0)


def test_a_preset_that_is_not_there_is_told(addon, scene):
    import bpy

    with pytest.raises(RuntimeError, match="none of that name"):
        bpy.ops.buckwright.load_preset(kind="machine", name="Never Saved")
    with pytest.raises(RuntimeError, match="cannot be deleted"):
        bpy.ops.buckwright.remove_preset(kind="machine", name="600 x 600 Workshop, Pump and Tank")


@pytest.mark.parametrize("name", ["", "a/b", "..", "x\ny", " "])
def test_names_that_no_file_can_have_are_refused(addon, scene, name):
    import bpy

    with pytest.raises(RuntimeError, match="cannot be the name of a preset"):
        bpy.ops.buckwright.save_preset(kind="job", name=name)


def test_vents_and_outline_of_a_job_come_back_through_the_scene(addon, scene, tmp_path):
    import bpy

    if not {("vents", "at_mm"), ("base", "outline_mm")} <= _keys():
        pytest.fail("the job knows no vents or outline set by hand")
    places = [[1.1, 2.2, 3.3333333333333335], [-4.0, 5.0, 6.0]]
    outline = [[-30.0, -30.0], [30.1, -30.0], [30.0, 30.0], [-30.0, 30.0]]
    job = job_from({"vents": {"at_mm": places}, "base": {"outline_mm": outline}})
    path = tmp_path / "job.toml"
    path.write_text(write_job(job), encoding="utf-8")
    bpy.ops.buckwright.open_job(filepath=str(path))
    assert job_from(addon.scene.job_tables.of(scene)) == job
    marker = addon.scene.results.objects(scene, "VENT")[0]
    marker.location.x += 0.001
    moved = addon.scene.job_tables.of(scene)["vents"]["at_mm"]
    assert moved[0] == pytest.approx([2.1, 2.2, 3.33333], abs=1e-4) and moved[1] == places[1]
