"""A mirrored sculpt and a female mould: drawn as they are made, upright, over a sculpt left as it was."""

import numpy as np
import pytest


def _points(one):
    return np.array([one.matrix_world @ vertex.co for vertex in one.data.vertices]) * 1000.0


def test_a_mirrored_female_mould_stands_upright_and_unmirrored(addon, scene, solid, fast):
    import bpy

    sculpt = solid()
    for vertex in sculpt.data.vertices:  # the side of +x leans further in: it is no mirror image of itself
        if vertex.co.z > 0.0 and vertex.co.x > 0.0:
            vertex.co.x *= 0.4
    before = [tuple(vertex.co) for vertex in sculpt.data.vertices]
    fast.vents.enabled = False
    fast.fill.mode = "NONE"
    fast.mould.form, fast.sculpt.mirror = "FEMALE", "X"
    assert bpy.ops.buckwright.make() == {"FINISHED"}
    assert [tuple(vertex.co) for vertex in sculpt.data.vertices] == before
    (buck,) = addon.scene.results.objects(scene, "BUCK")
    bpy.context.view_layer.update()
    assert buck.matrix_world.determinant() > 0.0
    points = _points(buck)
    low, high = points[:, 2].min(), points[:, 2].max()
    floor = points[(points[:, 2] > low + 4.0) & (points[:, 2] < low + 8.0)]
    assert high - low == pytest.approx(6.0 + 15.0 + 4.25, abs=0.2)  # floor, depth, riser
    middle = (points[:, 0].min() + points[:, 0].max()) / 2.0
    # the top of the sculpt lay towards -x; mirrored, turned over about x, the floor of the cavity is at +x
    assert floor[:, 0].mean() > middle + 1.0


def test_places_come_back_from_a_mirrored_and_turned_frame(addon):
    place = addon.scene.placement.Placement
    frame = np.diag([-1.02, 1.02, 1.02, 1.0])
    turned = np.diag([1.0, -1.0, -1.0, 1.0]) @ frame
    points = np.array([[3.0, 4.0, 5.0], [-7.0, 1.0, 2.0]])
    for matrix, over in ((frame, False), (turned, True)):
        one = place.over(matrix, points, 1000.0, turned=over)
        assert np.allclose(one.buck_to_sculpt(one.sculpt_to_buck(points)), points)
        assert np.allclose(one.to_buck(one.to_world(points)), points)
        assert np.linalg.det(one.matrix()[:3, :3]) == pytest.approx(1.0)
        assert one.matrix()[2, 2] == pytest.approx(1.0)  # up stays up
