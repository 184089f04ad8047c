"""Values that follow from others are told, and are what setting them by hand starts from."""

import numpy as np


def _buck(addon, scene):
    """Corners and faces of the buck."""
    mesh = addon.scene.results.objects(scene, "BUCK")[0].data
    places, corners = np.empty(3 * len(mesh.vertices), np.float32), np.empty(len(mesh.loops), np.int32)
    mesh.vertices.foreach_get("co", places)
    mesh.loops.foreach_get("vertex_index", corners)
    return places.tobytes(), corners.tobytes()


def test_an_automatic_value_is_told_and_is_what_setting_it_by_hand_starts_from(addon, scene, solid, fast):
    import bpy

    solid()
    words, field = addon.scene.automatic.words, addon.scene.fields.field_of
    flange, riser, height = (
        field("base", "flange_mm"),
        field("base", "riser_mm"),
        field("sculpt", "height_mm"),
    )
    assert (words(scene, flange), words(scene, height)) == ("Automatic", "Original")
    bpy.ops.buckwright.make()
    told = addon.scene.results.facts(scene)["automatic"]
    assert words(scene, flange) == f"Auto: {told['base.flange_mm']:.4g} mm"
    assert words(scene, height) == "As is: 15 mm"
    before = _buck(addon, scene)
    bpy.ops.buckwright.look()  # tells less, of the same sculpt and job: what is known stays known
    assert addon.scene.results.facts(scene)["automatic"] == told

    fast.base.auto_flange_mm = fast.base.auto_riser_mm = False
    tables = addon.scene.settings.read_tables(scene)["base"]
    assert (tables["flange_mm"], tables["riser_mm"]) == (told["base.flange_mm"], told["base.riser_mm"])
    bpy.ops.buckwright.make()
    assert _buck(addon, scene) == before
    assert "base.flange_mm" not in addon.scene.results.facts(scene)["automatic"]
    assert words(scene, riser) == "Automatic"
