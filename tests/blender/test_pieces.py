"""A buck that is larger than the bed comes in pieces, which are objects of their own."""

import numpy as np


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
