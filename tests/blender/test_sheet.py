"""The forecast sheet: an object over the buck, values over the sculpt, places to go to."""

import numpy as np
import pytest


def _values(mesh, name):
    values = np.empty(len(mesh.vertices), np.float32)
    mesh.attributes[f"buckwright_{name}"].data.foreach_get("value", values)
    return values


def _world(one):
    places = np.empty((len(one.data.vertices), 3), np.float32)
    one.data.vertices.foreach_get("co", places.reshape(-1))
    matrix = np.array(one.matrix_world)
    return places @ matrix[:3, :3].T + matrix[:3, 3]


def test_a_forecast_alone(addon, scene, quick):
    import bpy

    assert bpy.ops.buckwright.forecast() == {"FINISHED"}
    kept = scene.buckwright_results
    assert kept.made == "FORECAST" and not addon.scene.results.objects(scene, "BUCK")
    assert addon.scene.staleness.why(scene) == ""
    (sheet,) = addon.scene.results.objects(scene, "SHEET")
    thick, contact = _values(sheet.data, "thickness_mm"), _values(sheet.data, "contact_order")
    assert 0.0 < thick.min() < 0.9 * quick.sheet.thickness_mm
    # In a fold the flat sheet hangs over, so that its mean may be more than the sheet itself.
    assert np.median(thick) <= quick.sheet.thickness_mm * 1.001
    assert np.nanmax(contact) <= 1.0 and sheet.hide_get()
    # The sheet lies over the sculpt, top on top: 15 mm, larger by the shrinkage, and no more.
    top = _world(sheet)[:, 2].max() * 1000.0
    assert top == pytest.approx(15.0 * addon.scene.placement.Placement.of(scene).frame[0, 0], abs=0.4)
    # The top is touched first and stays the thickest; the wall under it thins towards the foot.
    inspection = addon.scene.results.inspection(scene).data
    over = np.empty(len(inspection.polygons), np.float32)
    inspection.attributes["buckwright_thickness_mm"].data.foreach_get("value", over)
    first = np.empty(len(inspection.polygons), np.float32)
    inspection.attributes["buckwright_contact_order"].data.foreach_get("value", first)
    normals = np.array([polygon.normal[:] for polygon in inspection.polygons])
    up, wall = normals[:, 2] > 0.9, np.abs(normals[:, 2]) < 0.5
    assert np.nanmean(over[up]) > np.nanmean(over[wall]) and np.nanmean(first[up]) < np.nanmean(first[wall])
    assert scene.buckwright_view.quantity == "THICKNESS_MM"
    assert "mm at its weakest spot" in kept.sheet and kept.spots[0].kind == "WEAKEST"
    # Painted by its thickness, once: thinner is darker.
    (colour,) = sheet.data.color_attributes
    painted = np.empty((len(thick), 4), np.float32)
    colour.data.foreach_get("color_srgb", painted.reshape(-1))
    light = painted[:, :3].mean(axis=1)
    low, high = np.percentile(thick, (10, 90))
    assert colour.name == addon.view.sheet_colours.COLOUR
    assert light[thick <= low].max() < light[thick >= high].min()


def test_places_stand_on_the_sheet(addon, scene, quick):
    import bpy
    from scipy.spatial import cKDTree

    bpy.context.object.rotation_euler = (0.0, np.radians(90.0), 0.0)
    quick.pull.direction = "X"
    bpy.ops.buckwright.make()
    kept = scene.buckwright_results
    (sheet,) = addon.scene.results.objects(scene, "SHEET")
    tree = cKDTree(_world(sheet) * 1000.0)
    spots = np.array([spot.centre[:] for spot in kept.spots]) * 1000.0
    assert tree.query(spots[:1])[0].max() < 2.0, "the weakest spot is on the sheet"
    # The axis of the sculpt lies along x, and so does the way of the sheet.
    assert np.ptp(_world(sheet), axis=0)[0] < np.ptp(_world(sheet), axis=0)[1:].min()
    assert bpy.ops.buckwright.show_spot(index=0) == {"FINISHED"}


def test_a_kept_forecast_tells_the_same_as_a_fresh_one(addon, scene, quick):
    import bpy

    told = []
    for _ in range(2):
        bpy.ops.buckwright.forecast()
        facts = addon.scene.results.facts(scene)
        facts.pop("times_s")
        (sheet,) = addon.scene.results.objects(scene, "SHEET")
        told.append((facts, _world(sheet).tobytes(), scene.buckwright_results.frame))
    assert told[0] == told[1]


def test_the_thick_sheet_follows_the_next_forecast(addon, scene, quick):
    import bpy

    bpy.ops.buckwright.forecast()
    (sheet,) = addon.scene.results.objects(scene, "SHEET")
    bpy.ops.buckwright.show_sheet()
    assert not sheet.hide_get()
    assert bpy.ops.buckwright.thicken_sheet() == {"FINISHED"}
    thick = _values(sheet.data, "thickness_mm")
    flat = len(sheet.data.vertices)
    depsgraph = bpy.context.evaluated_depsgraph_get()
    formed = sheet.evaluated_get(depsgraph).data
    places = np.array([vertex.co[:] for vertex in formed.vertices]) * 1000.0
    assert len(places) == 2 * flat
    between = np.linalg.norm(places[:flat] - places[flat:], axis=1)
    assert between == pytest.approx(thick, abs=0.012)
    # It grows away from the buck: over the top it is as much higher as it is thick, and nothing goes lower.
    heights = np.array([vertex.co.z for vertex in sheet.data.vertices]) * 1000.0
    top = thick[heights > heights.max() - 0.1]
    assert top.min() - 0.02 <= places[:, 2].max() - heights.max() <= top.max() + 0.02
    assert places[:, 2].min() > heights.min() - 0.05

    quick.sheet.thickness_mm = 2.0
    bpy.ops.buckwright.forecast()
    (again,) = addon.scene.results.objects(scene, "SHEET")
    assert again == sheet and len(again.vertex_groups) == 1 and not again.hide_get()
    modifier = again.modifiers[0]
    assert modifier.thickness * 1000.0 == pytest.approx(_values(again.data, "thickness_mm").max(), rel=1e-5)
    bpy.ops.buckwright.thicken_sheet()
    assert not again.modifiers and not again.vertex_groups


def test_a_buck_without_a_forecast_takes_the_sheet_away(addon, scene, quick):
    import bpy

    bpy.ops.buckwright.make()
    assert addon.scene.results.objects(scene, "SHEET") and scene.buckwright_results.sheet
    quick.forecast.quality = "OFF"
    bpy.ops.buckwright.make()
    assert not addon.scene.results.objects(scene, "SHEET") and not scene.buckwright_results.spots
    with pytest.raises(RuntimeError, match="Forecast the sheet first"):
        bpy.ops.buckwright.show_sheet()


def test_a_forecast_does_not_acquit_a_locked_part(addon, scene, quick):
    import bpy

    bpy.context.object.scale.z = -1.0
    bpy.context.view_layer.update()
    bpy.ops.buckwright.look()
    kept = scene.buckwright_results
    before = kept.releases, len(kept.regions)
    bpy.ops.buckwright.forecast()
    assert (kept.releases, len(kept.regions)) == before and before[1] > 0


@pytest.fixture
def towers(scene):
    """Two close towers with a bowl between them: a web in the valley, and air under the sheet."""
    import bpy

    own = scene.buckwright
    own.pull.direction = "Z"
    own.underside.fixing, own.underside.engrave, own.forecast.nodes = "NONE", False, 8000
    for x in (-0.016, 0.016):
        bpy.ops.mesh.primitive_cube_add(size=0.02, location=(x, 0.0, 0.02), scale=(1.0, 1.0, 2.0))
    for one in scene.objects:
        one.select_set(True)
    return own


def test_webs_and_pockets_are_objects_that_can_be_selected(addon, scene, towers):
    import bpy
    from scipy.spatial import cKDTree

    bpy.ops.buckwright.forecast()
    kept = scene.buckwright_results
    kinds = [spot.kind for spot in kept.spots]
    assert kinds.count("WEAKEST") == 1 and "WEB" in kinds and "POCKET" in kinds
    assert kept.places.name in kept.collection.children
    assert {one.name for one in kept.places.objects} == {spot.object.name for spot in kept.spots}
    (sheet,) = addon.scene.results.objects(scene, "SHEET")
    bpy.context.view_layer.update()
    tree = cKDTree(_world(sheet) * 1000.0)
    for spot in kept.spots:
        marker = spot.object
        assert marker in addon.scene.results.objects(scene, spot.kind)
        assert marker.visible_get() and not marker.hide_select and marker.hide_render
        if spot.kind == "WEB":
            line = np.array([point.co[:3] for point in marker.data.splines[0].points])
            ends = (line + np.array(marker.matrix_world.translation)) * 1000.0
            assert tree.query(ends)[0].max() < 0.05, "a web ends on nodes of the sheet"
            length = np.linalg.norm(ends[0] - ends[1])
            assert spot.words == f"Web, {length:.0f} mm"
        else:
            assert np.allclose(marker.matrix_world.translation, spot.centre, atol=1e-6)
    for one in bpy.context.selected_objects:
        one.select_set(False)
    number = kinds.index("WEB")
    assert bpy.ops.buckwright.show_spot(index=number) == {"FINISHED"}
    assert bpy.context.selected_objects == [kept.spots[number].object]
    assert addon.scene.snapshot.why_not(bpy.context) == "", "a marker is no sculpt"


def test_markers_hide_come_back_and_go(addon, scene, towers):
    import bpy

    bpy.ops.buckwright.forecast()
    kept = scene.buckwright_results
    first, names = kept.places.name, sorted(one.name for one in kept.places.objects)
    bpy.ops.buckwright.mark_spots()
    assert all(one.hide_get() for one in kept.places.objects)
    bpy.ops.buckwright.mark_spots()
    assert not any(one.hide_get() for one in kept.places.objects)
    bpy.ops.buckwright.forecast()  # the same again, and nothing of the first is left
    assert kept.places.name == first and sorted(one.name for one in kept.places.objects) == names
    assert [one.name for one in kept.collection.children] == [first]
    bpy.ops.buckwright.mark_spots()
    bpy.ops.buckwright.make()  # hidden ones stay hidden
    assert all(one.hide_get() for one in kept.places.objects)
    towers.forecast.quality = "OFF"
    bpy.ops.buckwright.make()
    assert not addon.scene.forecast_markers.objects(scene) and not kept.spots and kept.places is None
    bpy.ops.buckwright.remove_results()
    for kind in (bpy.data.collections, bpy.data.materials, bpy.data.meshes):
        assert not [one for one in kind if one.name.startswith(("Buckwright", "Air", "Weakest"))]
