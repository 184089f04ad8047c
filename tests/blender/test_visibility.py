"""Buck and sculpt share surfaces: one of both is seen at a time, and the sculpt itself stays as it is."""


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


def test_a_buck_of_another_size_stands_beside_and_hides_nothing(addon, scene, solid, fast):
    import bpy

    one = solid()
    scene.buckwright.sculpt.auto_width_mm, scene.buckwright.sculpt.width_mm = False, 60.0
    bpy.ops.buckwright.make()
    assert not one.hide_get() and _seen(addon, scene) == [True]


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
