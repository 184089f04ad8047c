"""What is the user's is never deleted, overwritten or held: results are told from copies of them."""

import time

import pytest


def _copied(one):
    """A copy as the user makes it: in the same collections, with a mesh of its own."""
    copy = one.copy()
    if one.data is not None:
        copy.data = one.data.copy()
    for collection in one.users_collection:
        collection.objects.link(copy)
    return copy


def _chosen(addon, one):
    import bpy

    bpy.ops.object.select_all(action="DESELECT")
    one.select_set(True)
    bpy.context.view_layer.objects.active = one
    return addon.scene.snapshot.chosen(bpy.context)


def test_copies_of_results_are_the_users(addon, scene, solid, fast, tmp_path):
    import bpy

    sculpt = solid()
    bpy.ops.buckwright.make()
    results, tables = addon.scene.results, addon.scene.job_tables
    buck = results.objects(scene, "BUCK")[0]
    copy = _copied(buck)
    copy.name = "Mine"
    assert results.objects(scene, "BUCK") == [buck]
    assert _chosen(addon, copy) == [copy] and addon.scene.snapshot.why_not(bpy.context) == ""
    assert _chosen(addon, buck) == [sculpt], "the buck itself is no sculpt"

    # A copy of a vent marker asks for a vent; that the marks in the scene are used shows in the panel.
    assert not fast.vents_by_hand and addon.scene.staleness.why(scene, "buck_from") == ""
    (marker,) = results.objects(scene, "VENT")[:1]
    second = _copied(marker)
    second.location.x += 0.004
    assert len(tables.of(scene)["vents"]["at_mm"]) == len(results.objects(scene, "VENT")) + 1
    assert fast.vents_by_hand and addon.scene.staleness.why(scene, "buck_from") == "Vents have changed"
    bpy.data.objects.remove(second)
    assert not fast.vents_by_hand and addon.scene.staleness.why(scene, "buck_from") == ""
    place = marker.location.copy()
    marker.location.x += 0.001
    assert fast.vents_by_hand and addon.scene.staleness.why(scene) == "Vents have changed"
    marker.location = place
    curve = results.objects(scene, "OUTLINE")[0]
    curve.location.x += 0.001
    assert fast.outline_by_hand and addon.scene.staleness.why(scene) == "Outline has changed"
    fast.outline_by_hand = False  # the user's word counts more than what is in the scene
    assert "outline_mm" not in tables.of(scene)["base"] and addon.scene.staleness.why(scene) == ""

    # What is moved during a run is not replaced by its result.
    work = addon.scene.running.Work(bpy.context, "make")
    marker.location.x += 0.001
    while not work.poll():
        time.sleep(0.02)
    with pytest.raises(
        addon.scene.snapshot.Refused, match="Vents, blocks, outline or planes were changed meanwhile"
    ):
        work.result(bpy.context)
    work.close()
    assert (
        marker in results.objects(scene, "VENT") and addon.scene.staleness.why(scene) == "Vents have changed"
    )

    # Deleted in the viewport: not held in the file by the pointer of the results.
    for one in (sculpt, marker):
        one.hide_set(False)
        _chosen(addon, one)
        bpy.ops.object.delete()
    assert "deleted" in addon.scene.staleness.why(scene)
    assert marker not in results.objects(scene, "VENT")
    path = str(tmp_path / "kept.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path, copy=True)
    with bpy.data.libraries.load(path) as (held, _):
        assert "Sculpt" not in held.objects and "Mine" in held.objects and buck.name in held.objects
    assert "deleted" in addon.scene.staleness.why(scene)

    bpy.ops.buckwright.remove_results()
    assert [one.name for one in scene.objects] == ["Mine"] and len(copy.data.polygons) > 100
    assert "Sculpt" not in bpy.data.objects or not bpy.data.objects["Sculpt"].users


def test_results_stay_results_over_a_save_a_new_name_and_another_collection(
    addon, scene, solid, fast, tmp_path
):
    import bpy

    solid()
    bpy.ops.buckwright.look()
    inspection = addon.scene.results.inspection(scene)
    inspection.name = "Renamed"
    scene.collection.objects.link(inspection)
    scene.buckwright_results.collection.objects.unlink(inspection)
    path = str(tmp_path / "file.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    scene = bpy.context.scene
    assert addon.scene.results.inspection(scene).name == "Renamed"
    bpy.ops.buckwright.remove_results()
    assert [one.name for one in scene.objects] == ["Sculpt"]


def test_a_full_copy_of_a_scene_has_results_of_its_own(addon, scene, solid, fast):
    import bpy

    solid()
    bpy.ops.buckwright.look()
    first, inspection = scene.name, addon.scene.results.inspection(scene).name
    bpy.ops.scene.new(type="FULL_COPY")
    copy = next(one for one in bpy.data.scenes if one.name != first)
    assert addon.scene.results.inspection(copy).name != inspection
    with bpy.context.temp_override(scene=copy, view_layer=copy.view_layers[0]):
        bpy.ops.buckwright.remove_results()
    assert addon.scene.results.inspection(bpy.data.scenes[first]).name == inspection


@pytest.fixture
def looked(scene, solid, fast):
    """A sculpt that was looked at, with undo steps before and after."""
    import bpy

    one = solid()
    bpy.ops.ed.undo_push(message="sculpt")
    bpy.ops.buckwright.look("EXEC_DEFAULT", True)
    return one


def test_out_of_date_is_what_differs_now(addon, scene, looked, fast, tmp_path):
    import bpy

    why = addon.scene.staleness.why
    assert why(scene) == ""
    fast.base.auto_riser_mm = False
    fast.draft.auto_wanted_deg = False
    assert why(scene) == "Wanted Draft has changed", "a look makes no riser"
    fast.draft.auto_wanted_deg = True
    assert why(scene) == ""
    before = looked.data.vertices[0].co.z
    looked.data.vertices[0].co.z += 0.001
    looked.data.update()
    bpy.context.view_layer.update()
    assert why(scene) == "The sculpt has changed"
    path = str(tmp_path / "file.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    scene = bpy.context.scene
    looked = scene.objects["Sculpt"]
    assert why(scene) == "The sculpt has changed", "also in a file that was opened again"
    looked.data.vertices[0].co.z = before
    looked.data.update()
    bpy.context.view_layer.update()
    assert why(scene) == ""
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    assert why(bpy.context.scene) == ""
    bpy.context.scene.unit_settings.scale_length = 0.5
    assert why(bpy.context.scene) == "The sculpt has changed"


def test_undo_and_redo_leave_no_false_alarm(addon, scene, looked):
    import bpy

    why = addon.scene.staleness.why
    bpy.context.scene.objects["Sculpt"].location.x += 0.01
    bpy.context.view_layer.update()
    bpy.ops.ed.undo_push(message="moved")
    assert why(bpy.context.scene) == "The sculpt has changed"
    bpy.ops.ed.undo()
    bpy.context.view_layer.update()
    assert why(bpy.context.scene) == ""
    bpy.ops.ed.redo()
    bpy.context.view_layer.update()
    assert why(bpy.context.scene) == "The sculpt has changed"


def test_settings_that_change_during_a_run_are_not_those_of_its_result(addon, scene, solid, fast):
    import bpy

    solid()
    work = addon.scene.running.Work(bpy.context, "look")
    fast.draft.auto_wanted_deg, fast.draft.wanted_angle = False, 0.1
    while not work.poll():
        time.sleep(0.02)
    addon.scene.write_results.write(scene, work.result(bpy.context))
    work.close()
    assert addon.scene.staleness.why(scene) == "Wanted Draft has changed"
