"""A buck that is larger than the bed comes in pieces, which are objects of their own."""

import numpy as np
import pytest


def pieces(addon, scene):
    return addon.scene.results.objects(scene, "PIECE")


def test_a_large_buck_comes_in_pieces_that_make_it_up(addon, scene, solid, fast):
    import bpy

    sculpt = solid()
    before = sculpt.data.vertices[0].co.copy()
    fast.printer.auto_bed_mm = False
    fast.printer.bed_mm = (60.0, 48.0)
    assert bpy.ops.buckwright.make() == {"FINISHED"}
    found = pieces(addon, scene)
    assert len(found) >= 2 and all(one.hide_get() for one in found)
    assert {one.name.split(".")[0] for one in found} >= {"Piece A", "Piece B"}
    assert all(one.users_collection[0].name.startswith("Pieces of") for one in found)
    buck = addon.scene.results.objects(scene, "BUCK")[0]
    bpy.context.view_layer.update()

    def corners(one):
        return np.array([one.matrix_world @ vertex.co for vertex in one.data.vertices])

    whole = corners(buck)
    together = np.concatenate([corners(one) for one in found])
    np.testing.assert_allclose(together.min(axis=0), whole.min(axis=0), atol=1e-5)
    np.testing.assert_allclose(together.max(axis=0), whole.max(axis=0), atol=1e-5)
    assert bpy.ops.buckwright.show_pieces() == {"FINISHED"}
    assert buck.hide_get() and not any(one.hide_get() for one in found) and sculpt.hide_get()
    bpy.ops.buckwright.show_pieces()
    assert not buck.hide_get() and all(one.hide_get() for one in found)
    bpy.ops.buckwright.show_pieces()
    bpy.ops.buckwright.show_buck()
    bpy.ops.buckwright.show_buck()
    assert all(one.hide_get() for one in pieces(addon, scene))
    assert sculpt.data.vertices[0].co == before


def test_pieces_go_with_the_next_buck_and_with_the_results(addon, scene, solid, fast):
    import bpy

    solid()
    fast.printer.auto_bed_mm = False
    fast.printer.bed_mm = (60.0, 48.0)
    bpy.ops.buckwright.make()
    count = len(pieces(addon, scene))
    bpy.ops.buckwright.make()
    assert len(pieces(addon, scene)) == count
    fast.printer.auto_bed_mm = True
    bpy.ops.buckwright.make()
    assert not pieces(addon, scene)
    assert not [one for one in bpy.data.collections if one.name.startswith("Pieces")]
    assert not bpy.ops.buckwright.show_pieces.poll()
    fast.printer.auto_bed_mm = False
    bpy.ops.buckwright.make()
    bpy.ops.buckwright.remove_results()
    assert not [one for one in bpy.data.objects if one.name.startswith("Piece")]


def test_a_split_plane_is_moved_by_hand_and_stays_until_it_is_let_go(addon, scene, solid, fast):
    import bpy

    solid()
    fast.printer.auto_bed_mm = False
    fast.printer.bed_mm = (70.0, 60.0)
    assert bpy.ops.buckwright.make() == {"FINISHED"}

    def cuts():
        return addon.scene.results.objects(scene, "CUT")

    def planes():
        return addon.scene.job_tables.planes_mm(scene)

    assert cuts() and all(one.hide_get() for one in cuts())
    assert planes() is None and not scene.buckwright.planes_by_hand
    bpy.ops.buckwright.show_pieces()
    assert not any(one.hide_get() for one in cuts())
    one = cuts()[0]
    bpy.context.view_layer.update()
    across = one.matrix_world.col[2].to_3d().normalized()
    one.location += across * 0.004
    across = np.array(across)
    bpy.context.view_layer.update()
    assert scene.buckwright.planes_by_hand
    own = planes()
    assert addon.scene.staleness.why(scene, "buck_from") == "Planes have changed"
    assert bpy.ops.buckwright.make() == {"FINISHED"}
    assert scene.buckwright.planes_by_hand and planes() == [pytest.approx(plane, abs=1e-5) for plane in own]
    assert addon.scene.staleness.why(scene, "buck_from") == ""
    bpy.context.view_layer.update()
    place = np.array(cuts()[0].matrix_world.translation)
    sides = [
        np.array([piece.matrix_world @ v.co for v in piece.data.vertices]) for piece in pieces(addon, scene)
    ]
    ends = [(corners - place) @ np.array(across) for corners in sides]
    assert all(end.min() > -1e-6 or end.max() < 1e-6 for end in ends)
    assert bpy.ops.buckwright.planes_by_rule() == {"FINISHED"}
    assert not cuts() and not scene.buckwright.planes_by_hand
