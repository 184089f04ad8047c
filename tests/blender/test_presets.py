"""Presets: their parts, those that come with the extension, those of the user."""

import tomllib
from pathlib import Path

import pytest

from buckwright.job import job_from
from buckwright.stages import all_settings

ROOT = Path(__file__).resolve().parents[2]


def test_a_preset_with_older_names_is_read(addon, scene):
    import bpy

    presets = addon.scene.presets
    bpy.ops.buckwright.save_preset(kind="machine", name="Old One")
    try:
        (presets._folder("machine", create=False) / "Old One.toml").write_text(
            "[base]\nfixings = 5\n[forecast]\ntallest_mm = 90.0\n", encoding="utf-8"
        )
        bpy.ops.buckwright.load_preset(kind="machine", name="Old One")
    finally:
        bpy.ops.buckwright.remove_preset(kind="machine", name="Old One")
    tables = addon.scene.settings.read_tables(scene)
    assert tables["underside"]["fixing_count"] == 5 and tables["forecast"]["machine_height_mm"] == 90.0


def test_presets_hold_what_the_settings_declare(addon):
    kinds = addon.scene.presets.KINDS
    declared = {one.preset for one in all_settings().values() if one.preset}
    assert set(kinds) == declared | {"job"} and kinds["job"] is None
    for kind in declared:
        wanted = {name for name, one in all_settings().items() if one.preset == kind}
        assert {".".join(place) for place in kinds[kind]} == wanted


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
    assert vents.under_platen_kpa * 1000.0 < vents.left_share * 101325.0, "else no pocket ever gets there"


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

    with pytest.raises(RuntimeError, match="no machine preset of that name"):
        bpy.ops.buckwright.load_preset(kind="machine", name="Never Saved")
    with pytest.raises(RuntimeError, match="cannot be deleted"):
        bpy.ops.buckwright.remove_preset(kind="machine", name="600 x 600 Workshop, Pump and Tank")


@pytest.mark.parametrize("name", ["", "a/b", "..", "x\ny", " "])
def test_names_that_no_file_can_have_are_refused(addon, scene, name):
    import bpy

    with pytest.raises(RuntimeError, match="cannot be the name of a preset"):
        bpy.ops.buckwright.save_preset(kind="job", name=name)
