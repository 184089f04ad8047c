"""Signs at the places of a forecast: as large on the screen whatever the view, and in nobody's way."""

from importlib import import_module

import bpy
import numpy as np
import pytest


@pytest.fixture(scope="module")
def signs(addon):
    return import_module(f"{addon.__name__}.view.spot_signs")


@pytest.mark.parametrize(("kind", "wide"), [("POCKET", 14.0), ("WEAKEST", 18.0)])
def test_a_point_is_drawn_around_and_not_over(signs, kind, wide):
    place = np.array([[100.0, 60.0]])
    lines = signs.strokes_of(kind, place, scale=1.0, hidden=False)
    assert np.ptp(lines, axis=0) == pytest.approx((wide, wide), rel=0.02)
    assert np.linalg.norm(lines - place, axis=1).min() > 0.35 * wide, "its middle stays free"
    twice = signs.strokes_of(kind, place, scale=2.0, hidden=False)
    assert np.ptp(twice, axis=0) == pytest.approx((2.0 * wide, 2.0 * wide), rel=0.02)


def test_a_web_is_drawn_from_end_to_end(signs):
    ends = np.array([[10.0, 10.0], [10.0, 90.0]])
    lines = signs.strokes_of("WEB", ends, scale=1.0, hidden=False)
    assert lines[:2].tolist() == ends.tolist()
    for end, tick in zip(ends, lines[2:].reshape(2, 2, 2), strict=True):
        assert tick.mean(axis=0) == pytest.approx(end) and tick[:, 1] == pytest.approx(end[1])
    point = signs.strokes_of("WEB", np.array([[5.0, 5.0], [5.0, 5.0]]), scale=1.0, hidden=False)
    assert np.isfinite(point).all(), "a web that is seen along itself"


def test_what_is_hidden_is_a_dot(signs):
    for ends in ([[50.0, 50.0]], [[10.0, 50.0], [90.0, 50.0]]):
        dot = signs.strokes_of("WEB", np.array(ends), scale=1.0, hidden=True)
        assert dot.mean(axis=0) == pytest.approx((50.0, 50.0)) and np.ptp(dot, axis=0).max() < 6.0


def test_the_mouse_is_near_a_web_anywhere_along_it(signs):
    ends = np.array([[10.0, 10.0], [90.0, 10.0]])
    assert signs.away_from(ends, (50.0, 13.0)) == pytest.approx(3.0)
    assert signs.away_from(ends, (94.0, 13.0)) == pytest.approx(5.0)
    assert signs.away_from(ends[:1], (13.0, 14.0)) == pytest.approx(5.0)


def test_markers_have_no_body(addon, scene):
    markers = addon.scene.forecast_markers
    spot = markers.Spot
    spots = [
        spot("WEAKEST", "Weakest, 0.30 mm", "", (0.0, 0.0, 5.0), 0.0),
        spot("WEB", "Web, 20 mm", "", (0.0, 0.0, 8.0), 20.0, ((-10.0, 0.0, 8.0), (10.0, 0.0, 8.0))),
        spot("POCKET", "Air, 0.10 cm³", "", (10.0, 10.0, 5.0), 6.0),
    ]
    addon.scene.result_objects.collection_of(scene, "Results")
    placement = addon.scene.placement.Placement.of(scene)
    markers.put(scene, spots, placement, seen=True)
    bpy.context.view_layer.update()
    depsgraph = bpy.context.evaluated_depsgraph_get()
    for one, row in zip(spots, scene.buckwright_results.spots, strict=True):
        above = [one.place_mm[0] / 1000.0, one.place_mm[1] / 1000.0, 1.0]
        assert not scene.ray_cast(depsgraph, above, (0.0, 0.0, -1.0))[0], "it hides what it marks"
        ends = np.array(markers.ends_of(row)) * 1000.0
        assert np.allclose(ends, one.ends_mm or [one.place_mm], atol=1e-4)
    markers.remove_all(scene)
    assert not bpy.data.objects and not bpy.data.curves


def test_a_group_shows_signs_only_with_a_forecast(addon, scene, signs):
    assert not signs.BUCKWRIGHT_GGT_spots.poll(bpy.context)
    assert bpy.types.GizmoGroup.bl_rna_get_subclass_py("BUCKWRIGHT_GGT_spots") is signs.BUCKWRIGHT_GGT_spots
