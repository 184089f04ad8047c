"""What is placed by hand on a buck of a wanted size: it is made where it stands, and a job file keeps it."""

import tomllib
from importlib import import_module

import numpy as np
import pytest


def stands(addon, scene):
    """Places of all that is marked, by its name."""
    marks = addon.scene.hand_marks
    marked = [*marks.vent_objects(scene), *marks.block_objects(scene)]
    return {one.name.split(" ")[0]: one.matrix_world.translation[:] for one in marked}


def test_vents_blocks_and_holes_stay_where_they_stand_at_a_wanted_size(addon, scene, solid, fast, tmp_path):
    import bpy

    sculpt = solid()
    fast.sculpt.auto_height_mm, fast.sculpt.height_mm = False, 7.5  # half of the frustum's
    fast.take_up.below_trim_mm = 2.0
    bpy.ops.buckwright.make()
    for vent in addon.scene.hand_marks.vent_objects(scene):
        bpy.data.objects.remove(vent)
    place = (0.003, -0.002, 0.015)
    bpy.ops.buckwright.add_vent(place=place)
    bpy.ops.buckwright.add_block(place=(0.03, 0.0, 0.0))
    bpy.ops.buckwright.add_hole(kind="RIVET", place=(-0.01, 0.005, 0.015))
    before = stands(addon, scene)
    tables = addon.scene.job_tables.of(scene)
    assert tables["vents"]["at_mm"] == [pytest.approx([1.5, -1.0, 7.5], abs=1e-4)]
    assert tables["edge"]["rivets_mm"] == [pytest.approx([-5.0, 2.5, 7.5], abs=1e-4)]
    assert tables["take_up"]["at_mm"][0][3] == 4.0
    path = tmp_path / "job.toml"
    bpy.ops.buckwright.make()
    after = stands(addon, scene)
    for name in ("Vent", "Take-Up"):
        assert after[name][:2] == pytest.approx(before[name][:2], abs=1e-6), name
    assert not addon.scene.staleness.why(scene, "buck_from")
    (buck,) = addon.scene.results.objects(scene, "BUCK")
    seen = np.array([buck.matrix_world @ one.co for one in buck.data.vertices])
    # The flange reaches as far under the block as it did without it, and no farther than its own width.
    assert seen[:, 0].max() < 0.055

    bpy.context.view_layer.objects.active = sculpt
    sculpt.hide_set(False)
    sculpt.select_set(True)
    bpy.ops.buckwright.save_job(filepath=str(path))
    assert tomllib.loads(path.read_text(encoding="utf-8"))["vents"]["at_mm"][0] == pytest.approx(
        [1.5, -1.0, 7.5], abs=1e-3
    )
    bpy.ops.buckwright.remove_results()
    bpy.ops.buckwright.open_job(filepath=str(path))
    opened = stands(addon, scene)
    assert opened["Vent"][:2] == pytest.approx(place[:2], abs=1e-5)
    again = import_module(f"{addon.__name__}.scene.job_tables").of(scene)
    assert again["vents"]["at_mm"][0] == pytest.approx([1.5, -1.0, 7.5], abs=1e-3)
