"""Take-up blocks in the scene: added, moved, scaled and deleted by hand, and then made just as they stand."""

from importlib import import_module

import numpy as np
import pytest


def markers(addon, scene):
    return addon.scene.hand_marks.block_objects(scene)


def switches(addon, scene):
    return [one.switch for one in import_module(f"{addon.__name__}.ui.hand_rows").rows(scene)]


def tops_of(addon, scene):
    """Highest places of the buck near the markers, mm over its foot on the platen."""
    (buck,) = addon.scene.results.objects(scene, "BUCK")
    placement = addon.scene.placement.Placement.of(scene)
    points = placement.to_buck(np.array([buck.matrix_world @ one.co for one in buck.data.vertices]))
    at = placement.to_buck(np.array([one.location[:] for one in markers(addon, scene)]))
    return at, [points[np.hypot(*(points - one)[:, :2].T) < 5.6][:, 2].max() for one in at]


def test_blocks_are_made_as_they_stand(addon, scene, solid, fast):
    import bpy

    solid()
    fast.take_up.below_trim_mm = 2.0
    assert not bpy.ops.buckwright.add_block.poll() and not switches(addon, scene)
    bpy.ops.buckwright.make()
    assert switches(addon, scene) == ["vents_by_hand", "outline_by_hand"]
    fast.take_up.enabled = True
    assert "blocks_by_hand" in switches(addon, scene)
    fast.take_up.enabled = False
    assert not markers(addon, scene) and addon.scene.job_tables.blocks_at_mm(scene) is None
    (trim,) = addon.scene.results.objects(scene, "TRIM")
    assert bpy.ops.buckwright.add_block(place=(0.028, 0.0, 0.0)) == {"FINISHED"}
    assert fast.blocks_by_hand
    assert switches(addon, scene) == ["vents_by_hand", "blocks_by_hand", "outline_by_hand"]
    (first,) = markers(addon, scene)
    assert bpy.context.view_layer.objects.active == first and "Block" in first.name
    assert addon.scene.staleness.why(scene, "buck_from") == "Blocks have changed"
    level = trim.data.splines[0].points[0].co[2] * 1000.0
    other = first.copy()
    other.location.x, other.scale = -0.03, (1.25, 1.25, 1.25)
    first.users_collection[0].objects.link(other)
    bpy.ops.buckwright.make()
    at, tops = tops_of(addon, scene)
    assert sorted(at[:, 0]) == pytest.approx([-30.0, 28.0], abs=1e-3)
    assert tops == pytest.approx([level - 2.0] * 2, abs=1e-3)
    radii = [round(row[3], 3) for row in addon.scene.job_tables.blocks_at_mm(scene)]
    assert sorted(radii) == [4.0, 5.0] and fast.blocks_by_hand
    assert addon.scene.staleness.why(scene, "buck_from") == ""
    assert bpy.ops.buckwright.blocks_by_rule() == {"FINISHED"}
    assert not markers(addon, scene) and not fast.blocks_by_hand
    assert addon.scene.job_tables.blocks_at_mm(scene) is None


@pytest.mark.parametrize(("given", "shown_mm"), [(None, 4.0), (7.5, 7.5)])
def test_a_block_whose_radius_nobody_says_is_shown_as_it_is_made(addon, scene, fast, given, shown_mm):
    if given is not None:
        fast.take_up.auto_radius_mm, fast.take_up.radius_mm = False, given
    tables = {"take_up": {"at_mm": [[0.0, 31.0, -4.0, 0.0]]}}
    addon.scene.write_results.place_by_hand(scene, tables)
    (block,) = markers(addon, scene)
    assert block.empty_display_size == pytest.approx(shown_mm / 1000.0)


def test_an_opened_job_brings_its_blocks(addon, scene, solid, fast):
    addon.scene.write_results.place_by_hand(
        scene, {"take_up": {"at_mm": [[30.0, 0.0, -3.0, 3.5], [0.0, 31.0, -4.0, 0.0]]}}
    )
    first, second = markers(addon, scene)
    assert first.location[:] == pytest.approx(
        (0.03, 0.0, -0.003)
    ) and first.empty_display_size == pytest.approx(0.0035)
    assert second.location[:] == pytest.approx((0.0, 0.031, -0.004))
    assert fast.blocks_by_hand
    rows = addon.scene.job_tables.blocks_at_mm(scene)
    assert rows == [[30.0, 0.0, -3.0, 3.5], [0.0, 31.0, -4.0, 0.0]], "untouched, they are what the job says"
    # moved, scaled and copied
    second.location.z, second.scale = -0.002, (1.5, 1.5, 1.5)
    other = second.copy()
    other.location.x = 0.01
    second.users_collection[0].objects.link(other)
    rows = addon.scene.job_tables.blocks_at_mm(scene)
    assert rows[0] == [30.0, 0.0, -3.0, 3.5]
    assert rows[1:] == [pytest.approx([0.0, 31.0, -2.0, 6.0]), pytest.approx([10.0, 31.0, -2.0, 6.0])]
    first.scale.x = 2.0
    assert addon.scene.job_tables.blocks_at_mm(scene)[0][3] == pytest.approx(7.0)
    addon.scene.write_results.remove(scene)
    assert not markers(addon, scene)
