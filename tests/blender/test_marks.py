"""What stands on the buck can be taken hold of: the outline, the vents, the buck itself."""

from types import SimpleNamespace

import numpy as np
import pytest


def _distances(addon, outline):
    """How far a fitted curve is from a closed line, by dense points of both, mm."""
    from scipy.spatial import cKDTree

    places, lefts, rights, _corner = addon.scene.outline_curve.fitted(outline)
    t = np.linspace(0.0, 1.0, 60)[:, None]
    curve = np.concatenate(
        [
            (1 - t) ** 3 * places[k - 1]
            + 3 * t * (1 - t) ** 2 * rights[k - 1]
            + 3 * t**2 * (1 - t) * lefts[k]
            + t**3 * places[k]
            for k in range(len(places))
        ]
    )
    along = np.linspace(0.0, 1.0, 200)[:, None, None]
    line = ((1 - along) * outline + along * np.roll(outline, -1, axis=0)).reshape(-1, 3)
    return len(places), cKDTree(line).query(curve)[0], cKDTree(curve).query(line)[0]


def _flat(xy):
    return np.column_stack([xy, np.zeros(len(xy))])


def test_a_curve_of_few_points_lies_along_the_line(addon):
    turn = np.linspace(0.0, 2.0 * np.pi, 400, endpoint=False)
    circle = _flat(30.0 * np.column_stack([np.cos(turn), np.sin(turn)]))
    lobed = circle * (1.0 + 0.2 * np.cos(3.0 * turn))[:, None]
    for line, most in ((circle, 6), (lobed, 16)):
        count, off, missed = _distances(addon, line)
        assert 4 <= count <= most and off.max() < 0.5 and missed.max() < 0.5
    # A square whose sides are cut into many pieces: its four corners are found and stay corners.
    side = np.linspace(-20.0, 20.0, 80, endpoint=False)
    edges = [(side, -20.0), (20.0, side), (-side, 20.0), (-20.0, -side)]
    square = _flat(np.concatenate([np.column_stack(np.broadcast_arrays(*edge)) for edge in edges]))
    count, off, missed = _distances(addon, np.roll(square, 33, axis=0))
    assert count <= 8 and max(off.max(), missed.max()) < 0.5
    corner = addon.scene.outline_curve.fitted(square)[3]
    assert corner.sum() == 4


def test_an_outline_of_few_corners_stays_straight(addon, scene):
    import bpy

    curve = bpy.data.curves.new("Line", "CURVE")
    addon.scene.outline_curve.add_spline(curve, _flat([[0.0, 0.0], [40.0, 0.0], [0.0, 30.0]]), mm=1000.0)
    (spline,) = curve.splines
    assert spline.type == "POLY" and len(spline.points) == 3 and spline.use_cyclic_u
    corners = np.array([point.co[:2] for point in spline.points])
    assert np.allclose(corners, [[0.0, 0.0], [0.04, 0.0], [0.0, 0.03]])


@pytest.fixture
def made(scene, solid, fast):
    """A buck of a frustum, 15 mm tall."""
    import bpy

    solid()
    bpy.ops.buckwright.make()
    bpy.context.view_layer.update()
    return fast


def test_the_outline_has_a_dozen_points_and_is_exact_until_it_is_moved(addon, scene, made):
    (curve,) = addon.scene.results.objects(scene, "OUTLINE")
    (spline,) = curve.data.splines
    assert spline.type == "BEZIER" and 4 <= len(spline.bezier_points) <= 16
    made.outline_by_hand = True
    exact = np.array(addon.scene.job_tables.outline_mm(scene))
    point = max(spline.bezier_points, key=lambda one: one.co.x)
    for part in (point.co, point.handle_left, point.handle_right):
        part.x += 0.005
    moved = np.array(addon.scene.job_tables.outline_mm(scene))
    assert len(exact) > 40 and np.ptp(moved[:, 0]) > np.ptp(exact[:, 0]) + 4.0
    # The far side, which was not touched, stays where it was.
    assert moved[:, 0].min() == pytest.approx(exact[:, 0].min(), abs=0.5)


def test_results_stand_in_named_collections_that_go_with_them(addon, scene, made):
    import bpy

    kept = scene.buckwright_results
    names = {one.name for one in kept.collection.children}
    assert names == {"Vents of Sculpt", "Lines of Sculpt", "Workshop of Sculpt"}
    results = addon.scene.results
    vents = [*results.objects(scene, "VENT"), *results.objects(scene, "FOOT_VENT")]
    assert vents and set(kept.vents.objects) == set(vents)
    assert {one.name for one in kept.lines.objects} == {"Trim Line", "Base Outline"}
    assert {one.name for one in kept.collection.objects} == {"Buck", "Inspection"}
    bpy.ops.buckwright.make()
    assert {one.name for one in kept.collection.children} == names
    # One that the user takes out of the view layer is no hindrance.
    layer = bpy.context.view_layer.layer_collection.children[kept.collection.name]
    layer.exclude = True
    assert bpy.ops.buckwright.make() == {"FINISHED"}
    bpy.ops.buckwright.remove_results()
    assert not [one.name for one in bpy.data.collections if "Sculpt" in one.name]


def test_the_buck_is_active_when_it_is_made(addon, scene, made):
    import bpy

    (buck,) = addon.scene.results.objects(scene, "BUCK")
    assert bpy.context.view_layer.objects.active == buck and buck.select_get()
    assert addon.scene.snapshot.why_not(bpy.context) == "", "the sculpt can be looked at again"


@pytest.mark.parametrize("pull", [(0.0, 0.0, 1.0), (0.3, -0.5, 0.8)])
def test_a_vent_is_a_circle_seen_down_the_pull(addon, scene, solid, fast, pull):
    import bpy
    from mathutils import Vector

    solid()
    fast.pull.direction, fast.pull.direction_vector = "VECTOR", pull
    bpy.ops.buckwright.make()
    bpy.context.view_layer.update()
    vents = addon.scene.results.objects(scene, "FOOT_VENT") + addon.scene.results.objects(scene, "VENT")
    for marker in vents:
        assert marker.empty_display_type == "CONE"  # a circle across its own Y, and a tip along it
        tip = marker.matrix_world.to_3x3() @ Vector((0.0, 1.0, 0.0))
        assert tip.angle(-Vector(pull)) < 1e-3
        assert 0.001 <= marker.empty_display_size <= 0.003


def test_a_vent_is_placed_where_the_mouse_points(addon, scene, made, monkeypatch):
    import bpy
    from bpy_extras import view3d_utils
    from mathutils import Vector

    (buck,) = addon.scene.results.objects(scene, "BUCK")
    buck_under = addon.view.pointing.buck_under
    region = SimpleNamespace(data=None)
    monkeypatch.setattr(
        view3d_utils, "region_2d_to_origin_3d", lambda _r, _d, at: Vector((at[0], at[1], 1.0))
    )
    monkeypatch.setattr(view3d_utils, "region_2d_to_vector_3d", lambda *_: Vector((0.0, 0.0, -1.0)))
    top = max((buck.matrix_world @ vertex.co).z for vertex in buck.data.vertices)
    found = buck_under(bpy.context, region, (0.004, 0.003))
    assert found[:] == pytest.approx((0.004, 0.003, top), abs=1e-5)
    assert buck_under(bpy.context, region, (1.0, 0.0)) is None
    assert bpy.ops.buckwright.add_vent(place=found) == {"FINISHED"}
    marker = bpy.context.view_layer.objects.active
    assert marker.location[:] == pytest.approx(found[:]) and made.vents_by_hand
    assert marker in addon.scene.hand_marks.vent_objects(scene)
    buck.hide_set(True)
    assert buck_under(bpy.context, region, (0.004, 0.003)) is None, "what is hidden is not pointed at"
