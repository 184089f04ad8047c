"""Buck and sculpt share surfaces: one of both is seen at a time, and the sculpt itself stays as it is."""

import re


def _seen(addon, scene, role="BUCK"):
    return [not one.hide_get() for one in addon.scene.results.objects(scene, role)]


def test_the_buck_takes_the_place_of_the_sculpt_in_the_view(addon, scene, solid, fast):
    import bpy

    one = solid()
    bpy.ops.buckwright.make()
    assert one.hide_get() and not one.hide_viewport and not one.hide_render
    assert _seen(addon, scene) == [True] and all(_seen(addon, scene, "TRIM"))
    assert addon.scene.snapshot.why_not(bpy.context) == ""
    assert addon.scene.snapshot.chosen(bpy.context) == [one]
    assert bpy.ops.buckwright.show_buck() == {"FINISHED"}
    assert not one.hide_get() and one.select_get() and bpy.context.view_layer.objects.active == one
    assert not any(_seen(addon, scene, role)[0] for role in ("BUCK", "TRIM", "OUTLINE", "FOOT_VENT"))
    bpy.context.view_layer.update()
    assert addon.scene.staleness.why(scene) == "", "to be shown is no change"
    bpy.ops.buckwright.show_buck()
    assert one.hide_get() and _seen(addon, scene) == [True]


def test_a_sculpt_that_is_aside_can_be_looked_at_and_made_again(addon, scene, solid, fast):
    import bpy

    one = solid()
    bpy.ops.buckwright.make()
    marker = addon.scene.results.objects(scene, "OUTLINE")[0]
    marker.select_set(True)
    fast.base.auto_riser_mm, fast.base.riser_mm = False, 14.0
    assert bpy.ops.buckwright.make() == {"FINISHED"}
    assert one.hide_get() and marker.select_get() and addon.scene.staleness.why(scene) == ""
    # What a look finds is painted on the sculpt, so that is what is seen then.
    assert bpy.ops.buckwright.look() == {"FINISHED"}
    assert not one.hide_get() and _seen(addon, scene) == [False]
    # The look is newer than the buck: each is out of date by what it was made from.
    fast.base.riser_mm = 15.0
    assert addon.scene.staleness.why(scene) == ""
    assert addon.scene.staleness.why(scene, "buck_from") == "Riser has changed"


def test_a_change_of_the_hidden_sculpt_still_counts(addon, scene, solid, fast):
    import bpy

    one = solid()
    bpy.ops.buckwright.make()
    one.data.vertices[0].co.z += 0.001
    one.data.update()
    bpy.context.view_layer.update()
    assert "has changed" in addon.scene.staleness.why(scene)


def test_the_sculpt_comes_back_when_its_buck_goes(addon, scene, solid, fast):
    import bpy

    one = solid()
    bpy.ops.buckwright.make()
    bpy.ops.buckwright.remove_results()
    assert not one.hide_get()
    bpy.ops.buckwright.make()
    bpy.data.objects.remove(addon.scene.results.objects(scene, "BUCK")[0])
    assert one.hide_get() and bpy.ops.buckwright.show_buck() == {"FINISHED"}
    assert not one.hide_get()


def test_the_buck_of_another_sculpt_gives_the_first_one_back(addon, scene, solid, fast):
    import bpy

    first = solid("First")
    bpy.ops.buckwright.make()
    second = solid("Second", at_mm=(100.0, 0.0, 0.0))
    bpy.ops.buckwright.make()
    assert not first.hide_get() and second.hide_get()


def test_a_buck_of_another_size_is_drawn_at_the_size_of_its_sculpt(addon, scene, solid, fast, tmp_path):
    import bpy
    import numpy as np

    one = solid()  # 40 units wide in a scene of metres, as a mesh in millimetres is imported
    one.scale = (1000.0, 1000.0, 1000.0)
    one.location = (3.0, 0.0, 7.5)
    bpy.ops.object.transform_apply()
    fast.sculpt.auto_height_mm, fast.sculpt.height_mm = False, 15.0
    bpy.ops.buckwright.make()
    assert one.hide_get() and _seen(addon, scene) == [True]
    buck = addon.scene.results.objects(scene, "BUCK")[0]
    bpy.context.view_layer.update()
    corners = np.array([buck.matrix_world @ vertex.co for vertex in buck.data.vertices])
    # Flange and riser are part of it: the sculpt's 40 units lie within, and the buck is no larger than twice.
    low, high = corners.min(axis=0), corners.max(axis=0)
    assert (low[:2] < (-17.0, -20.0)).all() and (high[:2] > (23.0, 20.0)).all()
    assert high[2] == np.clip(high[2], 14.9, 15.2) and 40.0 < high[0] - low[0] < 80.0
    lines = addon.scene.results.facts(scene)["lines"]
    assert lines[0].startswith("Sculpt 40.0 x 40.0 x 15.0 mm")
    assert (
        lines[1] == "On the buck 40.3 x 40.3 x 15.1 mm, including 0.65 % for shrinkage"
    )  # HIPS: 1 / (1 - s)
    assert re.fullmatch(r"Shown at the sculpt's size, 99[34] times as large; exported at .*", lines[-1])
    # A marker that is moved by the scene's units comes back to the size that is wanted, 15 mm for 15 m.
    marker = addon.scene.results.objects(scene, "VENT")[0]
    marker.location.x += 1.0
    before = marker["buckwright_at_mm"]
    after = addon.scene.job_tables.of(scene)["vents"]["at_mm"][0]
    moved = np.subtract(np.multiply(after, 1000.0), before)
    assert np.allclose(moved, (1000.0, 0.0, 0.0), rtol=0.01, atol=5.0)


def test_a_sculpt_that_the_user_hid_is_still_refused(addon, scene, solid, fast):
    import bpy

    one = solid()
    bpy.ops.buckwright.look()
    one.hide_set(True)
    assert "is hidden" in addon.scene.snapshot.why_not(bpy.context)
    one.hide_set(False)
    bpy.ops.buckwright.make()
    one.hide_viewport = True
    assert "is hidden" in addon.scene.snapshot.why_not(bpy.context)
    assert not bpy.ops.buckwright.make.poll()


def test_undo_shows_the_sculpt_again(addon, scene, solid, fast):
    import bpy

    solid()
    bpy.ops.ed.undo_push(message="sculpt")
    bpy.ops.buckwright.make("EXEC_DEFAULT", True)
    assert bpy.context.scene.objects["Sculpt"].hide_get()
    bpy.ops.ed.undo()
    one = bpy.context.scene.objects["Sculpt"]
    assert not one.hide_get() and one.select_get()
    bpy.ops.ed.redo()
    assert bpy.context.scene.objects["Sculpt"].hide_get()


def test_the_size_of_a_sculpt_under_modifiers_stays_when_it_is_aside(addon, scene, solid, fast):
    import bpy

    one = solid()
    array = one.modifiers.new("Twice", "ARRAY")
    array.relative_offset_displace[0] = 0.5
    bpy.context.view_layer.update()
    size = addon.scene.first_size.words(addon.scene.first_size.size_mm(scene, [one]))
    assert size == "60 x 40 x 15 mm"
    bpy.ops.buckwright.make()
    assert one.hide_get()
    bpy.context.view_layer.update()
    assert addon.scene.first_size.words(addon.scene.first_size.size_mm(scene, [one])) == size


def test_the_size_of_a_subdivided_sculpt_is_that_of_what_is_seen(addon, scene):
    import bpy
    import numpy as np

    scene.unit_settings.scale_length = 0.001
    bpy.ops.mesh.primitive_monkey_add(size=170.0)
    one = bpy.context.object
    told = addon.scene.first_size
    assert told.words(told.size_mm(scene, [one])) == "232.4 x 144.8 x 167.3 mm"
    smooth = one.modifiers.new("Smooth", "SUBSURF")
    smooth.levels = 2
    bpy.context.view_layer.update()
    size = told.size_mm(scene, [one])
    taken = addon.scene.snapshot.take(bpy.context, [one])
    assert np.allclose(size, np.ptp(taken.vertices, axis=0), rtol=1e-5)
    assert told.words(size) == "225.8 x 136.1 x 162.4 mm"
    smooth.show_viewport = False
    bpy.context.view_layer.update()
    assert told.words(told.size_mm(scene, [one])) == "232.4 x 144.8 x 167.3 mm"
