"""A body that is picked in the scene: what is read of it, told, coloured; that it stays as it is."""

import tomllib

import numpy as np
import pytest


@pytest.fixture
def dressed(scene, solid, fast):
    """A frustum of 40 mm, and within it a drum of 24 mm whose top lies 5 mm below that of the frustum."""
    import bpy

    bpy.ops.mesh.primitive_cylinder_add(vertices=48, radius=0.012, depth=0.016, location=(0.0, 0.0, 0.002))
    drum = bpy.context.object
    drum.name = "Head"
    sculpt = solid(sides=48)
    scene.buckwright.body_object = drum
    scene.buckwright.fit.auto_shrinkage = False
    scene.buckwright.fit.shrinkage = 0.0
    return sculpt, drum


def clearance(scene):
    return next(one for one in scene.buckwright_results.findings if one.slug.startswith("body-"))


def test_the_room_over_a_picked_body_is_told_and_coloured(addon, scene, dressed):
    import bpy

    _, drum = dressed
    before = [vertex.co.copy() for one in dressed for vertex in one.data.vertices]
    drum.hide_set(True)
    assert bpy.ops.buckwright.make() == {"FINISHED"}
    assert "stays at least 5.0 mm off the body" in clearance(scene).words
    assert drum.hide_get()
    assert [vertex.co for one in dressed for vertex in one.data.vertices] == before
    copy = addon.scene.results.inspection(scene)
    values = np.array([one.value for one in copy.data.attributes["buckwright_clearance_mm"].data])
    tops = np.array([face.normal.z > 0.99 for face in copy.data.polygons])
    assert values[tops].min() == pytest.approx(5.0, abs=0.05) and np.isfinite(values[tops]).all()
    view = scene.buckwright_view
    view.quantity = "CLEARANCE_MM"
    low, high = addon.view.ramps.limits(addon.view.ramps.CLEARANCE, values, wanted_deg=3.0, sheet_mm=0.75)
    assert low == 0.0 and high >= 5.0


def test_moving_the_body_makes_the_result_old(addon, scene, dressed):
    import bpy

    _, drum = dressed
    bpy.ops.buckwright.make()
    assert addon.scene.staleness.why(scene, "buck_from") == ""
    drum.location.z += 0.003
    bpy.context.view_layer.update()
    assert addon.scene.staleness.why(scene, "buck_from") == "The sculpt or its body has changed"
    scene.buckwright.body.grow = "ALL"
    scene.buckwright.body.clearance_mm = 4.0
    bpy.ops.buckwright.make()
    grown = [one.words for one in scene.buckwright_results.findings if one.slug == "grown-to-clearance"]
    assert "is 4.0 mm instead of 2.0" in grown[0]
    assert "stays at least 4.0 mm" in clearance(scene).words


def test_a_body_is_no_sculpt_and_goes_with_the_job_file(addon, scene, dressed, tmp_path):
    import bpy

    sculpt, drum = dressed
    drum.select_set(True)
    bpy.context.view_layer.objects.active = drum
    assert addon.scene.snapshot.chosen(bpy.context) == [sculpt]
    path = tmp_path / "job.toml"
    assert bpy.ops.buckwright.save_job(filepath=str(path)) == {"FINISHED"}
    assert tomllib.loads(path.read_text(encoding="utf-8"))["body"]["file"] == "body_Head.npz"
    with np.load(tmp_path / "body_Head.npz") as kept:
        assert np.ptp(kept["vertices"], axis=0) == pytest.approx([24.0, 24.0, 16.0], abs=1e-4)
    scene.buckwright.body_object = None
    assert bpy.ops.buckwright.open_job(filepath=str(path)) == {"FINISHED"}
    tables = addon.scene.job_tables.of(scene)
    assert tables["body"]["file"] == str(tmp_path / "body_Head.npz")
    assert not addon.scene.results.owned()
