"""Look, make and export as a script or a background run has them: the same operators, waiting."""

import json
import os
import signal
import stat
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from buckwright.job import read_job
from buckwright.pipeline.run import run


def _kept(scene):
    return scene.buckwright_results


def _own(scene):
    """Result objects."""
    return [entry.object for entry in scene.buckwright_results.own]


def _bytes(one):
    """Everything that the mesh of the sculpt is, to see that it stays untouched."""
    mesh = one.data
    places = np.empty(3 * len(mesh.vertices), np.float32)
    mesh.vertices.foreach_get("co", places)
    return (
        places.tobytes(),
        [a.name for a in mesh.attributes],
        [m.name for m in one.modifiers],
        len(mesh.materials),
    )


@pytest.fixture
def folders():
    """Folders that runs leave behind in Blender's temporary folder."""
    import bpy

    return lambda: [path.name for path in Path(bpy.app.tempdir).glob("buckwright-*")]


def test_a_look_and_a_make(addon, scene, solid, fast, folders):
    import bpy

    one = solid("Sculpt 鷺 ä")
    before = _bytes(one)
    assert bpy.ops.buckwright.look() == {"FINISHED"}
    kept = _kept(scene)
    assert (kept.made, kept.releases, len(kept.regions)) == ("LOOK", True, 0)
    assert [entry.object.name for entry in kept.sculpts] == ["Sculpt 鷺 ä"]
    inspection = addon.scene.results.inspection(scene)
    drafts = np.empty(len(inspection.data.polygons), np.float32)
    inspection.data.attributes["buckwright_draft_deg"].data.foreach_get("value", drafts)
    # Half of a facet's width closer to the axis than its corners: tan a = 4 cos(pi / 24) / 15.
    wall = np.degrees(np.arctan(4.0 * np.cos(np.pi / 24) / 15.0))
    walls = (np.abs(drafts) < 89.0) & np.isfinite(drafts)
    assert walls.sum() == 48 and drafts[walls] == pytest.approx(wall, abs=1e-3)

    assert bpy.ops.buckwright.make() == {"FINISHED"}
    assert kept.made == "MAKE" and addon.scene.staleness.why(scene) == ""
    roles = {entry.role for entry in _kept(scene).own}
    assert {"BUCK", "TRIM", "OUTLINE", "INSPECTION", "FOOT_VENT"} <= roles
    buck = addon.scene.results.objects(scene, "BUCK")[0]
    # Shrinkage of the sheet: the part is to have the size of the sculpt once it is cold.
    assert buck.dimensions.z > 0.015 and buck.dimensions.x > 0.040
    assert not buck.data.validate()
    assert _bytes(one) == before and one.users_collection == (scene.collection,)
    assert folders() == []


def test_making_again_keeps_what_the_user_put_on_the_buck(addon, scene, solid, fast):
    import bpy

    solid()
    counts = [len(getattr(bpy.data, kind)) for kind in ("objects", "meshes", "curves", "collections")]
    bpy.ops.buckwright.make()
    buck = addon.scene.results.objects(scene, "BUCK")[0]
    buck.modifiers.new("Mine", "BEVEL")
    buck.data.materials.append(bpy.data.materials.new("Grey"))
    meshes = len(bpy.data.meshes)
    bpy.ops.object.select_all(action="DESELECT")
    # No sculpt is selected: the last one counts.
    addon.scene.results.objects(scene, "OUTLINE")[0].select_set(True)
    fast.base.auto_riser_mm, fast.base.riser_mm = False, 14.0
    assert addon.scene.staleness.why(scene)
    bpy.ops.buckwright.make()
    again = addon.scene.results.objects(scene, "BUCK")
    assert len(again) == 1 and again[0].modifiers[0].name == "Mine"
    assert again[0].data.materials[0].name == "Grey"
    assert len(bpy.data.meshes) == meshes and addon.scene.staleness.why(scene) == ""
    bpy.ops.buckwright.remove_results()  # leaves nothing but the sculpt
    assert counts == [len(getattr(bpy.data, kind)) for kind in ("objects", "meshes", "curves", "collections")]
    assert _kept(scene).made == "NONE" and addon.scene.results.frame(scene) is None


def test_undo_and_redo_take_one_step(addon, scene, solid, fast):
    import bpy

    solid()
    bpy.ops.ed.undo_push(message="sculpt")
    bpy.ops.buckwright.look("EXEC_DEFAULT", True)
    assert _kept(bpy.context.scene).made == "LOOK"
    bpy.ops.ed.undo()
    scene = bpy.context.scene
    assert _kept(scene).made == "NONE" and not _own(scene) and "Sculpt" in scene.objects
    bpy.ops.ed.redo()
    scene = bpy.context.scene
    assert _kept(scene).made == "LOOK" and addon.scene.results.inspection(scene) is not None


def _inventory():
    """Every object, mesh, curve and collection of the file, what is selected and hidden, and where it is."""
    import bpy

    scene = bpy.context.scene
    data = {
        kind: sorted(one.name for one in getattr(bpy.data, kind))
        for kind in ("objects", "meshes", "curves", "collections", "materials", "scenes")
    }
    eyes = {one.name: (one.hide_get(), one.select_get()) for one in scene.objects}
    placed = {one.name: [list(row) for row in one.matrix_world] for one in scene.objects}
    tree = sorted((one.name, sorted(child.name for child in one.all_objects)) for one in bpy.data.collections)
    return data, eyes, placed, tree


def test_one_undo_takes_back_all_that_make_has_added_and_nothing_else(addon, scene, solid, fast):
    import bpy

    solid("Sculpt")
    bpy.ops.mesh.primitive_cube_add(size=0.01, location=(0.2, 0.0, 0.0))
    bpy.context.object.name = "Of the User"
    bpy.context.object.select_set(False)
    bpy.context.scene.objects["Sculpt"].select_set(True)
    bpy.context.view_layer.objects.active = bpy.context.scene.objects["Sculpt"]
    fast.sheet.thickness_mm = 1.25
    fast.forecast.quality, fast.forecast.nodes = "PREVIEW", 4000
    bpy.ops.ed.undo_push(message="before")
    before, sculpt = _inventory(), _bytes(bpy.context.scene.objects["Sculpt"])
    bpy.ops.buckwright.make("EXEC_DEFAULT", True)
    assert _bytes(bpy.context.scene.objects["Sculpt"]) == sculpt
    after = _inventory()
    assert after != before
    roles = {entry.role for entry in _kept(bpy.context.scene).own}
    assert {"BUCK", "SHEET", "TRIM", "OUTLINE", "INSPECTION", "FOOT_VENT"} <= roles

    bpy.ops.ed.undo()
    scene = bpy.context.scene
    assert _inventory() == before and not _own(scene)
    assert (_kept(scene).made, _kept(scene).facts, len(_kept(scene).spots)) == ("NONE", "", 0)
    assert _bytes(scene.objects["Sculpt"]) == sculpt
    assert scene.buckwright.sheet.thickness_mm == 1.25

    bpy.ops.ed.redo()
    scene = bpy.context.scene
    assert _inventory() == after and _kept(scene).made == "MAKE"
    assert _bytes(scene.objects["Sculpt"]) == sculpt
    assert scene.buckwright.sheet.thickness_mm == 1.25


def test_the_command_line_makes_the_same_buck_bit_for_bit(addon, scene, solid, fast, tmp_path):
    import bpy

    solid("A name with spaces")
    fast.sheet.thickness_mm = 1.02
    bpy.ops.buckwright.save_job(filepath=str(tmp_path / "job.toml"))
    bpy.ops.buckwright.export(directory=str(tmp_path / "from Blender"))
    job = read_job(tmp_path / "job.toml")
    assert job.sculpt.file == "A name with spaces.npz" and job.sheet.thickness_mm == 1.02
    run("make", job, tmp_path / "from the command line", pictures=False)
    prefix = "A name with spaces_"
    one, other = (
        tmp_path / "from Blender" / f"{prefix}buck.stl",
        tmp_path / "from the command line" / "buck.stl",
    )
    assert one.read_bytes() == other.read_bytes()
    names = {path.name for path in (tmp_path / "from Blender").iterdir()}
    assert {f"{prefix}{name}" for name in ("buck.stl", "buck.3mf", "report.json", "look.ply")} <= names
    assert any(name.endswith(".png") for name in names)


def test_vents_that_are_moved_by_hand_go_into_the_job(addon, scene, solid, fast):
    import bpy

    solid()
    bpy.ops.buckwright.make()
    before = addon.scene.results.objects(scene, "VENT")
    assert "at_mm" not in addon.scene.job_tables.of(scene)["vents"]
    bpy.data.objects.remove(before[0])
    assert len(addon.scene.job_tables.of(scene)["vents"]["at_mm"]) == len(before) - 1
    scene.cursor.location = (0.003, 0.002, 0.015)
    bpy.ops.buckwright.add_vent()

    def nearest(places):
        return min(float(np.hypot(place[0] - 3.0, place[1] - 2.0)) for place in places)

    places = addon.scene.job_tables.of(scene)["vents"]["at_mm"]
    assert len(places) == len(before) and nearest(places) < 0.2
    bpy.ops.buckwright.make()
    assert fast.vents_by_hand
    made = [list(one["buckwright_at_mm"]) for one in addon.scene.results.objects(scene, "VENT")]
    assert nearest(made) < 0.2
    assert addon.scene.job_tables.of(scene)["vents"]["at_mm"] == made
    bpy.ops.buckwright.vents_by_rule()
    assert "at_mm" not in addon.scene.job_tables.of(scene)["vents"] and not fast.vents_by_hand


def test_an_outline_that_is_drawn_by_hand_goes_into_the_job(addon, scene, solid, fast):
    import bpy

    scene.unit_settings.scale_length = 0.001  # coordinates are millimetres here
    solid()
    bpy.ops.buckwright.make()
    assert "outline_mm" not in addon.scene.job_tables.of(scene)["base"]
    curve = addon.scene.results.objects(scene, "OUTLINE")[0]
    for point in curve.data.splines[0].bezier_points:
        for part in (point.co, point.handle_left, point.handle_right):
            part.x *= 1.25
    corners = np.array(addon.scene.job_tables.of(scene)["base"]["outline_mm"])
    buck = addon.scene.results.objects(scene, "BUCK")[0]
    wide = np.ptp(corners[:, 0])
    assert 40.0 < buck.dimensions.x < 120.0
    assert wide == pytest.approx(1.25 * buck.dimensions.x, rel=0.02)
    bpy.ops.buckwright.make()
    assert fast.outline_by_hand
    assert addon.scene.results.objects(scene, "BUCK")[0].dimensions.x == pytest.approx(wide, rel=0.02)
    bpy.ops.buckwright.outline_by_rule()
    assert "outline_mm" not in addon.scene.job_tables.of(scene)["base"]


def test_bad_settings_are_told_in_words_and_leave_nothing(addon, scene, solid, fast, folders):
    import bpy

    solid()
    fast.pull.direction = "VECTOR"
    fast.pull.direction_vector = (0.0, 0.0, 0.0)
    with pytest.raises(RuntimeError, match="Direction must not be the zero vector"):
        bpy.ops.buckwright.make()
    assert not _own(scene) and folders() == [] and addon.scene.running.now() is None


def test_what_the_library_refuses_is_told_in_its_words(addon, scene, solid, fast, folders):
    import bpy

    bpy.ops.mesh.primitive_plane_add(size=0.05)
    fast.base.sink_to, fast.base.sink_mm = "AMOUNT", 500.0
    solid()
    with pytest.raises(RuntimeError, match="mm"):
        bpy.ops.buckwright.make()
    assert not _own(scene) and folders() == []
    assert addon.scene.running.trouble()


def test_a_killed_child_is_told_and_leaves_nothing(addon, scene, solid, fast, folders):
    import bpy

    solid()
    killed = []

    def kill():
        for _ in range(500):
            work = addon.scene.running.now()
            if work is not None:
                os.kill(work.process_id(), signal.SIGKILL)
                killed.append(work.process_id())
                return
            time.sleep(0.01)

    other = threading.Thread(target=kill)
    other.start()
    with pytest.raises(RuntimeError, match="ended from outside"):
        bpy.ops.buckwright.make()
    other.join()
    assert killed and not _own(scene) and folders() == []
    assert "ended from outside" in addon.scene.running.trouble()
    assert bpy.ops.buckwright.look() == {"FINISHED"}  # the next run is none the worse
    assert addon.scene.running.trouble() == ""


def test_stopping_takes_less_than_half_a_second_and_leaves_nothing(
    addon, scene, solid, fast, folders, tmp_path
):
    import bpy

    solid()
    work = addon.scene.running.Work(bpy.context, "make", tmp_path / "out")
    while not work.poll() and work.whole == 0.0:
        time.sleep(0.01)
    work.stop()
    asked = time.monotonic()
    while not work.poll():
        time.sleep(0.01)
        assert time.monotonic() - asked < 5.0
    with pytest.raises(addon.scene.running.Stopped):
        work.result(bpy.context)
    work.close()
    assert not (tmp_path / "out").exists() and folders() == [] and addon.scene.running.now() is None


def test_a_sculpt_that_changed_meanwhile_is_refused(addon, scene, solid, fast, folders):
    import bpy

    one = solid()
    work = addon.scene.running.Work(bpy.context, "look")
    one.data.vertices[0].co.z += 0.001
    while not work.poll():
        time.sleep(0.02)
    with pytest.raises(addon.scene.snapshot.Refused, match="changed meanwhile"):
        work.result(bpy.context)
    work.close()
    assert not _own(scene) and folders() == []


def test_only_one_run_at_a_time(addon, scene, solid, fast):
    import bpy

    solid()
    work = addon.scene.running.Work(bpy.context, "look")
    try:
        with pytest.raises(RuntimeError, match="A run is in progress"):
            bpy.ops.buckwright.make()
    finally:
        work.close()


def test_results_stay_with_their_file(addon, scene, solid, fast, tmp_path):
    import bpy

    solid()
    bpy.ops.buckwright.look()
    first = str(tmp_path / "first ü file.blend")
    bpy.ops.wm.save_as_mainfile(filepath=first)
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    assert _kept(bpy.context.scene).made == "NONE"
    solid("Other", draft_mm=6.0)
    bpy.context.scene.buckwright.pull.direction = "Z"
    bpy.ops.buckwright.look()
    assert _kept(bpy.context.scene).sculpts[0].object.name == "Other"
    bpy.ops.wm.open_mainfile(filepath=first)
    scene = bpy.context.scene
    assert _kept(scene).made == "LOOK" and _kept(scene).sculpts[0].object.name == "Sculpt"
    assert addon.scene.results.inspection(scene).data.attributes.get("buckwright_state") is not None
    assert json.loads(_kept(scene).facts)["wanted_deg"] == 3.0


def test_a_folder_that_cannot_be_written_is_told(addon, scene, solid, fast, tmp_path, folders):
    import bpy

    solid()
    shut = tmp_path / "shut"
    shut.mkdir()
    shut.chmod(stat.S_IRUSR | stat.S_IXUSR)
    # A superuser may write anywhere; a file where the folder should be stops everybody.
    target = shut if os.geteuid() else tmp_path / "file" / "out"
    (tmp_path / "file").write_text("no folder", encoding="utf-8")
    try:
        with pytest.raises(RuntimeError, match="was not written"):
            bpy.ops.buckwright.export(directory=str(target))
    finally:
        shut.chmod(stat.S_IRWXU)
    assert not _own(scene) and folders() == []


def test_a_part_that_is_missing_is_told(addon, scene, solid, fast, monkeypatch):
    import bpy

    solid()
    monkeypatch.setattr(addon.bridge.worker, "PARTS", ("numpy", "nosuchlibrary"))
    with pytest.raises(RuntimeError, match=r"nosuchlibrary missing.*install it again"):
        bpy.ops.buckwright.look()


def test_a_change_of_the_sculpt_makes_results_stale(addon, scene, solid, fast):
    import bpy

    one = solid()
    bpy.ops.buckwright.look()
    assert addon.scene.staleness.why(scene) == ""
    one.data.vertices[0].co.z += 0.001
    one.data.update()
    bpy.context.view_layer.update()
    assert "has changed" in addon.scene.staleness.why(scene)
    bpy.ops.buckwright.look()
    assert addon.scene.staleness.why(scene) == ""
    bpy.data.objects.remove(one)
    assert "deleted" in addon.scene.staleness.why(scene)
