"""Settings of a scene against the job of the library: nothing is missing, nothing is lost on the way."""

import math
import tomllib
from pathlib import Path
from types import SimpleNamespace

import attrs
import pytest

from buckwright.job import Job, job_from, read_job, write_job
from buckwright.settings import amount_or_word, choice, direction, number, places, settings_of, switch
from buckwright.stages import all_settings

ROOT = Path(__file__).resolve().parents[2]
SCENES = sorted((ROOT / "sample_scenes").glob("*/job.toml"))


def _through(addon, scene, job):
    """The job after it went through the properties of a scene."""
    addon.scene.settings.write_tables(scene, tomllib.loads(write_job(job)))
    return job_from(addon.scene.settings.read_tables(scene))


def _held(addon, name):
    """The field that holds a setting; None for one that is read from the scene."""
    place = tuple(name.split("."))
    return next((one for one in addon.scene.fields.fields() if (one.table, one.key) == place), None)


@pytest.mark.parametrize("name", all_settings())
def test_every_setting_has_its_property_label_and_tip(addon, scene, name):
    setting, field = all_settings()[name], _held(addon, name)
    if field is None:
        assert setting.in_scene
        table, key = name.split(".")
        fields = addon.scene.fields
        assert ((table, key) in fields.FROM_OBJECTS) != ((table, key) in fields.kept_lists())
        return
    # A group has a `name` of its own, which comes first; ours covers it.
    found = {one.identifier: one for one in getattr(scene.buckwright, field.table).bl_rna.properties}
    for prop in field.props():
        assert found[prop].name == setting.label
        wanted = f"Automatic: {setting.automatic}" if prop == field.auto else setting.tip
        assert found[prop].description == wanted
    if setting.words:
        items = {item.name: item.description for item in found[field.mode].enum_items}
        assert {label: items[label] for label, _tip in setting.words.values()} == dict(setting.words.values())


@pytest.mark.parametrize("name", all_settings())
def test_labels_and_tips_follow_the_rules_of_blender(name):
    setting = all_settings()[name]
    assert setting.label and setting.label[0].isupper()
    assert len(setting.tip) > 15 and setting.tip[0].isupper() and not setting.tip.endswith(".")


def test_the_tip_of_the_flange_says_thickness(scene):
    assert "Thickness" in scene.buckwright.base.bl_rna.properties["flange_mm"].description


@pytest.mark.parametrize("name", [name for name, one in all_settings().items() if one.optional])
def test_a_value_that_is_set_by_hand_starts_within_its_range(addon, name):
    setting, field = all_settings()[name], _held(addon, name)
    if field is None or not field.has_auto:
        return
    start = field.start()
    assert start == setting.start
    for one in start if isinstance(start, tuple) else (start,):
        assert setting.low < one < setting.high


def test_every_setting_stands_in_a_panel(addon, scene, monkeypatch):
    import bpy

    drawn = set()
    settings = addon.ui.panels_of_settings

    def note(_layout, _scene, table, key):
        drawn.add(f"{table}.{key}")

    monkeypatch.setattr(settings, "draw_field", note)
    for panel in settings._CLASSES:
        if issubclass(panel, bpy.types.Panel):
            panel.draw(SimpleNamespace(layout=SimpleNamespace(prop=lambda *_: None)), bpy.context)
    front = {f"{table}.{key}" for table, key in settings.IN_FRONT}
    of_the_file = {"sculpt.file", "sculpt.unit", "body.unit"}  # objects of the scene are used instead
    of_the_scene = {name for name, one in all_settings().items() if one.in_scene}
    assert not drawn & front
    assert drawn | front == set(all_settings()) - of_the_file - of_the_scene


def test_a_table_stands_under_the_command_that_reads_it(addon):
    of = addon.ui.panels_of_settings.parent_of
    assert {of(table) for table in ("sculpt", "pull", "draft", "fit", "body")} == {"BUCKWRIGHT_PT_look_more"}
    assert {of(table) for table in ("fill", "base", "vents", "underside")} == {"BUCKWRIGHT_PT_buck_more"}
    workshop = ("machine", "rig", "stock", "group", "templates", "edge", "heating")
    assert {of(table) for table in workshop} == {"BUCKWRIGHT_PT_workshop_more"}
    assert (of("forecast"), of("job")) == ("BUCKWRIGHT_PT_formed", "BUCKWRIGHT_PT_send")


@attrs.frozen(kw_only=True)
class _Hollow:
    """Hollow Buck: how much of the inside is taken out."""

    wall_mm: float | None = number(
        None,
        low=1,
        high=50,
        unit="mm",
        label="Wall",
        tip="Thickness of the wall that is left",
        automatic="the height",
        start=6.0,
    )
    roof_deg: float = number(45.0, low=0, high=90, unit="degrees", label="Roof", tip="Angle of the roof")
    way: str | tuple[float, float, float] = direction(
        "up", {"up": ("Up", "Open above")}, label="Way", tip="Where it opens"
    )
    depth_mm: float | str = amount_or_word(
        "all", {"all": ("All", "To the top")}, low=0, high=100, label="Depth", tip="How deep it goes"
    )
    spots_mm: tuple[tuple[float, float], ...] | None = places(
        size=2, label="Spots", tip="Where it is filled again", automatic="nowhere"
    )
    on: bool = switch(True, label="Hollow", tip="Take the inside out")
    weight_share: float = number(0.5, low=0, high=1, label="Weight", tip="Share of the weight that is left")
    hours: float = number(2.0, low=0, high=9, unit="h", label="Time", tip="Time that it may print")
    sort: str | None = choice(
        None, {"gyroid": ("Gyroid", "A wavy web")}, label="Sort", tip="Web inside", automatic="the height"
    )


def test_a_new_table_turns_up_with_no_change_in_the_extension(addon, scene):
    import bpy

    fields = addon.scene.fields
    held = fields.fields_of({"hollow": _Hollow})
    assert [one.key for one in held] == [one.name for one in attrs.fields(_Hollow) if one.name != "spots_mm"]
    assert fields.titles_of({"hollow": _Hollow}) == {"hollow": "Hollow Buck"}
    group = addon.scene.settings.group_of("hollow", held)
    panel = addon.ui.panels_of_settings.panel_of("hollow", "Hollow Buck", held, "BUCKWRIGHT_PT_buck")
    bpy.utils.register_class(group)
    bpy.utils.register_class(panel)
    try:
        made = group.bl_rna.properties
        assert set(made.keys()) - {"rna_type", "name"} == {prop for one in held for prop in one.props()}
        assert (made["wall_mm"].description, made["wall_mm"].unit) == (_tip("wall_mm"), "CAMERA")
        assert made["roof_angle"].subtype == "ANGLE" and made["roof_angle"].hard_max == pytest.approx(
            math.radians(90)
        )
        assert made["weight_share"].subtype == "FACTOR"
        assert [item.identifier for item in made["depth_to"].enum_items] == ["AMOUNT", "ALL"]
        assert [item.identifier for item in made["way"].enum_items] == ["UP", "VECTOR"]
        assert [item.identifier for item in made["sort"].enum_items] == ["AUTOMATIC", "GYROID"]
        assert panel.bl_label == "Hollow Buck"
    finally:
        bpy.utils.unregister_class(panel)
        bpy.utils.unregister_class(group)
    assert next(one for one in held if one.key == "hours").heading == "Time (h)"
    for one, value in zip(held, (4.2, 30.0, [0.0, 0.5, 1.0], 12.5, False, 0.25, 3.5, "gyroid"), strict=True):
        assert one.from_props(one.props() | one.to_props(value)) == value
        assert one.from_props(one.props()) == one.default


def _tip(key):
    return settings_of(_Hollow)[key].tip


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
            "base": {"sink_mm": 1.000000001, "platen_mm": [200.123456789, 150.0]},
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


def test_a_switch_that_is_off_already_leaves_the_value_alone(scene):
    base = scene.buckwright.base
    base.auto_flange_mm = False
    base.flange_mm = 7.5
    base.auto_flange_mm = False
    assert base.flange_mm == 7.5
    base.auto_flange_mm = True
    base.auto_flange_mm = False
    assert base.flange_mm == all_settings()["base.flange_mm"].start


def test_lists_that_no_object_stands_for_are_kept(addon, scene):
    holes = [[1.5, 2.0], [-3.0, 4.25]]
    job = job_from({"vents": {"platen_holes_mm": holes}})
    assert _through(addon, scene, job) == job
    assert addon.scene.settings.read_tables(scene)["vents"]["platen_holes_mm"] == holes


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


def test_older_names_of_keys_are_read(addon, scene, tmp_path):
    import bpy

    path = tmp_path / "job.toml"
    path.write_text('[base]\nmost_mm = [210.0, 150.0]\nfixing = "magnet"\n', encoding="utf-8")
    bpy.ops.buckwright.open_job(filepath=str(path))
    assert addon.scene.settings.read_tables(scene)["base"]["platen_mm"] == [210.0, 150.0]
    assert scene.buckwright.underside.fixing == "MAGNET"


def test_a_job_file_with_a_wrong_key_is_refused_and_changes_nothing(addon, scene, tmp_path):
    import bpy

    path = tmp_path / "job.toml"
    path.write_text("[sheet]\nthikness_mm = 2.0\n", encoding="utf-8")
    with pytest.raises(RuntimeError, match="did you mean thickness_mm"):
        bpy.ops.buckwright.open_job(filepath=str(path))
    assert job_from(addon.scene.settings.read_tables(scene)) == Job()


def test_vents_and_outline_of_a_job_come_back_through_the_scene(addon, scene, tmp_path):
    import bpy

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


def test_a_picture_that_a_job_names_is_found_wherever_the_run_happens(addon, scene, tmp_path):
    """Beside the job file as it is opened, beside the .blend file where Blender's own '//' says so."""
    import bpy

    path = tmp_path / "job.toml"
    path.write_text('[artwork]\nfile = "art/mask.png"\n', encoding="utf-8")
    bpy.ops.buckwright.open_job(filepath=str(path))
    assert addon.scene.job_tables.of(scene)["artwork"]["file"] == str(tmp_path / "art" / "mask.png")
    assert addon.scene.settings.read_tables(scene)["sculpt"]["file"] == ""
    scene.buckwright.artwork.file = "//mask.png"
    found = addon.scene.job_tables.of(scene)["artwork"]["file"]
    assert found == bpy.path.abspath("//mask.png")
    assert not found.startswith("//")
