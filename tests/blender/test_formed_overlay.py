"""What a forecast paints: the buck under the sheet and the sheet itself, in the sheet's own range."""

import bpy
import numpy as np
import pytest


def _points(mesh, name):
    values = np.empty(len(mesh.vertices), np.float32)
    mesh.attributes[f"buckwright_{name}"].data.foreach_get("value", values)
    return values


def test_the_coat_covers_sculpt_fill_and_foot(addon, scene, quick):
    from scipy.spatial import cKDTree

    bpy.ops.buckwright.make()
    (coat,) = addon.scene.results.objects(scene, "COAT")
    (buck,) = addon.scene.results.objects(scene, "BUCK")
    (sheet,) = addon.scene.results.objects(scene, "SHEET")
    assert not coat.visible_get() and coat.hide_render
    places = np.array([vertex.co[:] for vertex in coat.data.vertices]) * 1000.0
    top, foot = places[:, 2].max(), places[:, 2].min()
    heights = np.array([vertex.co.z for vertex in buck.data.vertices]) * 1000.0
    # From the top of the buck down to where the sheet meets the platen beside it.
    assert top == pytest.approx(heights.max(), abs=1e-3) and foot < 0.3 * heights.max()
    # The base is larger than the sculpt, and the coat reaches out to it.
    assert np.abs(places[:, :2]).max() > 20.5
    # Its values are those of the sheet beside it.
    tree = cKDTree(np.array([vertex.co[:] for vertex in sheet.data.vertices]) * 1000.0)
    far, near = tree.query(places)
    assert far.max() < 6.0, "a few cells of a coarse sheet"
    off = np.abs(_points(coat.data, "thickness_mm") - _points(sheet.data, "thickness_mm")[near])
    assert np.median(off) < 0.03
    # It is the foot of the wall that is thin, not the top.
    thick = _points(coat.data, "thickness_mm")
    assert np.median(thick[places[:, 2] > 0.95 * top]) > 1.2 * np.median(thick[places[:, 2] < 0.3 * top])


def test_a_forecast_is_painted_up_to_the_sheets_own_thickness(addon, scene, quick):
    bpy.ops.buckwright.forecast()
    one = addon.view.overlay.paint(scene)
    assert one.is_formed and not one.missing and [skin.role for skin in one.skins] == ["COAT", "SHEET"]
    assert one.highest == pytest.approx(quick.sheet.thickness_mm)
    thick = _points(addon.scene.results.objects(scene, "COAT")[0].data, "thickness_mm")
    assert one.lowest <= np.percentile(thick, 1.0) + 1e-3 and one.lowest < 0.8 * one.highest
    marks = addon.view.ramps.ticks(
        one.quantity, one.lowest, one.highest, wanted_deg=3.0, sheet_mm=one.sheet_mm
    )
    assert marks[-1] == (one.highest, "unformed")


def test_a_look_after_a_forecast_shows_its_own_colours(addon, scene, quick):
    view = scene.buckwright_view
    view.quantity = "DRAFT_DEG"
    bpy.ops.buckwright.forecast()
    bpy.ops.buckwright.forecast()
    assert view.quantity == "THICKNESS_MM"
    bpy.ops.buckwright.show_sheet()
    quick.draft.wanted_deg = np.radians(4.0)
    bpy.ops.buckwright.look()
    assert view.quantity == "DRAFT_DEG"
    (sheet,) = addon.scene.results.objects(scene, "SHEET")
    markers = addon.scene.forecast_markers.objects(scene)
    assert markers and all(one.hide_get() for one in (sheet, *markers)), "they would cover the colours"
    one = addon.view.overlay.paint(scene)
    assert not one.missing and not one.is_formed and addon.view.legend.stale_words(scene, one) == []
    # The forecast can still be shown, and is said to be old once what it hangs on has changed.
    view.quantity = "THICKNESS_MM"
    one = addon.view.overlay.paint(scene)
    assert not one.missing and one.skins and one.values.get("thickness_mm") is None
    quick.sheet.thickness_mm = 2.0
    assert addon.view.legend.stale_words(scene, one) == ["Out of date: forecast again"]


def test_a_forecast_leaves_the_buck_in_view_that_it_is_of(addon, scene, quick):
    (sculpt,) = (one for one in scene.objects if one.type == "MESH")
    bpy.ops.buckwright.forecast()
    assert not sculpt.hide_get()
    bpy.ops.buckwright.make()
    bpy.ops.buckwright.forecast()
    (buck,) = addon.scene.results.objects(scene, "BUCK")
    assert sculpt.hide_get() and not buck.hide_get()
    bpy.ops.buckwright.show_buck()
    bpy.ops.buckwright.forecast()
    assert buck.hide_get() and not sculpt.hide_get(), "it was the sculpt that was in view"
    bpy.ops.buckwright.show_buck()
    quick.pull.direction = "X"
    bpy.ops.buckwright.forecast()
    assert buck.hide_get() and not sculpt.hide_get(), "the sheet is pulled another way than the buck"


def test_without_results_the_colours_are_those_of_before(addon, scene, quick):
    bpy.ops.buckwright.forecast()
    bpy.ops.buckwright.remove_results()
    assert not addon.view.view_settings.is_formed(scene)
    assert scene.buckwright_results.sheet_mm == 0.0
    assert not addon.scene.results.objects(scene, "COAT")


def test_the_sheet_is_read_again_when_it_is_shown_otherwise(addon, scene, quick):
    bpy.ops.buckwright.forecast()
    formed = addon.view.formed_overlay
    hidden = formed.skins_of(scene)
    assert formed.is_current(scene, hidden)
    bpy.ops.buckwright.show_sheet()
    assert not formed.is_current(scene, hidden)
    bpy.ops.buckwright.thicken_sheet()
    thick = formed.skins_of(scene)[1]
    # Both of its sides are coloured, each place of the second as the place under it.
    flat = len(hidden[1].vertices)
    assert len(thick.vertices) == 2 * flat
    values = thick.values["thickness_mm"]
    assert values[flat:] == pytest.approx(values[:flat], abs=1e-6)


def test_roles_of_older_files_keep_their_places(addon):
    """A file holds the number of a role, not its word."""
    known = [one[0] for one in addon.scene.results.ROLES]
    older = [
        "BUCK",
        "VENT",
        "FOOT_VENT",
        "TRIM",
        "OUTLINE",
        "SHEET",
        "WEAKEST",
        "WEB",
        "POCKET",
        "INSPECTION",
    ]
    assert known[: len(older)] == older
