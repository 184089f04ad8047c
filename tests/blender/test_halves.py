"""A sculpt in two halves: where they stand, by which plane, and that they are the user's."""

import numpy as np
import pytest


@pytest.fixture
def ring(scene):
    """A ring that lies in the plane x = 0, 60 mm across; alone selected."""
    import bpy

    bpy.ops.mesh.primitive_torus_add(
        major_radius=0.024, minor_radius=0.006, rotation=(0.0, np.pi / 2.0, 0.0), location=(0.01, 0.0, 0.0)
    )
    return bpy.context.object


def halves():
    import bpy

    collection = next(one for one in bpy.data.collections if one.name.endswith("Halves"))
    return sorted(collection.objects, key=lambda one: one.name)


def corners(one):
    import bpy

    bpy.context.view_layer.update()
    return np.array([one.matrix_world @ vertex.co for vertex in one.data.vertices])


def test_halves_stand_beside_the_sculpt_and_are_the_users(addon, scene, ring):
    import bpy

    before = [vertex.co.copy() for vertex in ring.data.vertices]
    held = addon.scene.settings.of(scene)
    held.halves.overlap_mm = 0.0
    assert bpy.ops.buckwright.halve() == {"FINISHED"}
    first, second = halves()
    assert first.name == "Torus Half A"
    assert second.name == "Torus Half B"
    assert [vertex.co for vertex in ring.data.vertices] == before
    for one in (first, second):
        places = corners(one)
        # the ring in its own plane: 60 x 60 mm, half of 12 mm high
        np.testing.assert_allclose(np.ptp(places, axis=0), [0.06, 0.06, 0.006], rtol=0.02)
        assert places[:, 2].min() == pytest.approx(0.0, abs=1e-6)
    assert corners(ring)[:, 0].max() < corners(first)[:, 0].min()
    assert corners(first)[:, 0].max() < corners(second)[:, 0].min()
    assert bpy.context.view_layer.objects.active == first
    assert held.pull.direction == "Z"
    assert held.base.sink_mm == 0.0
    assert not {one.session_uid for one in (first, second)} & addon.scene.results.owned()
    assert bpy.ops.buckwright.look() == {"FINISHED"}
    assert addon.scene.results.of(scene).releases
    bpy.ops.buckwright.remove_results()
    assert len(halves()) == 2


def test_figures_of_a_large_sculpt_are_written_out(addon, scene):
    plane = {"height_mm": (400.0, 380.0), "fill_volume_mm3": 4_321_000.0, "trapped_area_mm2": 123_456.0}
    plane |= {"hidden_share": 0.2, "seam_share": 0.01, "symmetrical": False}
    lines = addon.scene.plane_choices._more(plane).splitlines()
    assert lines[1:3] == ["fill 4320 cm³", "trapped 1230 cm²"]


def test_what_is_of_the_whole_goes_from_the_job_of_its_halves(addon, scene, ring):
    """A size by a measurement would scale a half, and the axis of a mirror may run along its pull."""
    held, kept = addon.scene.settings.of(scene), addon.scene.results.of(scene)
    held.size.measure, held.sculpt.mirror, held.artwork.file = "GIRTH", "Z", "//wings.png"
    held.body_object = ring
    kept.halved.add().object = ring
    kept.halved_size = '{"sides": {"height_mm": 80.0}, "measure": "GIRTH"}'
    addon.scene.halves._set_job(scene)
    assert (held.size.measure, held.sculpt.mirror, held.artwork.file) == ("NONE", "X", "")
    assert held.body_object is None
    addon.scene.halves.select_again(scene)
    assert held.size.measure == "GIRTH"
    assert (held.sculpt.auto_height_mm, held.sculpt.height_mm) == (False, 80.0)


def test_a_selected_empty_gives_the_plane_at_the_size_that_is_wanted(addon, scene, ring):
    import bpy

    held = addon.scene.settings.of(scene)
    held.sculpt.auto_height_mm = False
    held.sculpt.height_mm = 120.0  # twice as large as it is drawn
    held.halves.overlap_mm = 0.0
    bpy.ops.object.empty_add(location=(0.0, 0.0, 0.012))
    ring.select_set(True)
    assert bpy.ops.buckwright.halve() == {"FINISHED"}
    assert tuple(held.halves.normal_vector) == pytest.approx((0.0, 0.0, 1.0))
    assert held.halves.offset_mm == pytest.approx(24.0, rel=1e-5)
    # across its axis: the cap above 24 of 60 mm, and the rest
    heights = [np.ptp(corners(one)[:, 2]) for one in halves()]
    assert heights == pytest.approx([0.036, 0.084], rel=0.02)
    assert held.sculpt.auto_height_mm


def test_planes_stand_in_a_list_and_the_plane_can_be_moved_by_hand(addon, scene, ring):
    import bpy

    held, kept = addon.scene.settings.of(scene), addon.scene.results.of(scene)
    held.halves.overlap_mm = 0.0
    assert bpy.ops.buckwright.halve() == {"FINISHED"}
    assert len(kept.planes) > 1
    assert [one.number for one in kept.planes] == list(range(1, len(kept.planes) + 1))
    assert all(one.picture is not None and max(one.picture.pixels) > 0.0 for one in kept.planes)
    choices = addon.scene.plane_choices
    assert choices.is_taken(scene, 1) and not choices.is_taken(scene, 2)
    (empty,) = addon.scene.results.objects(scene, "PLANE")
    bpy.context.view_layer.update()
    # the ring lies in the plane x = 10 mm
    across = empty.matrix_world.col[2].to_3d().normalized()
    assert abs(across.x) == pytest.approx(1.0, abs=1e-3)
    assert empty.matrix_world.translation.x == pytest.approx(0.01, abs=1e-4)
    assert choices.moved_plane(scene) is None
    assert bpy.ops.buckwright.take_plane(number=2) == {"FINISHED"}
    assert held.halves.plane == 2 and held.halves.normal == "SEARCH" and choices.is_taken(scene, 2)
    assert bpy.ops.buckwright.take_plane(number=1) == {"FINISHED"}
    empty.location.x += 0.003
    bpy.context.view_layer.update()
    assert not choices.is_taken(scene, 1)
    before = len(bpy.data.collections)
    # Whoever has moved the plane has it selected, and nothing else.
    bpy.ops.object.select_all(action="DESELECT")
    empty.select_set(True)
    bpy.context.view_layer.objects.active = empty
    held.halves.plane = 2  # it was in the second plane before
    assert bpy.ops.buckwright.halve(again=True) == {"FINISHED"}
    assert len(bpy.data.collections) == before + 1
    assert held.halves.normal == "VECTOR"
    assert abs(held.halves.offset_mm) == pytest.approx(13.0, abs=0.01)
    made = [one for one in bpy.data.objects if " Half " in one.name and one.name.endswith(".001")]
    heights = [np.ptp(corners(one)[:, 2]) for one in made]
    assert sorted(heights) == pytest.approx([0.003, 0.009], abs=2e-4)
    assert len(kept.planes) == 1 and choices.is_taken(scene, 1)
    bpy.ops.buckwright.remove_results()
    assert not kept.planes and "Halving Plane" not in bpy.data.objects
    assert not [one for one in bpy.data.images if one.name.startswith("Buckwright Plane")]
