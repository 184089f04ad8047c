"""Files of an export: called after the job, never over another's; the buck as it is in the scene."""

import pytest
import trimesh


def _names(folder):
    return {path.name for path in folder.iterdir()}


def test_an_edited_buck_is_exported_as_edited_and_nothing_is_replaced(addon, scene, solid, fast, tmp_path):
    import bmesh
    import bpy

    fast.vents.enabled = False
    sculpt = solid("Häron / 1")
    (tmp_path / "buck.stl").write_bytes(b"of another sculpt")
    bpy.ops.buckwright.export(directory=str(tmp_path))
    first = {"Häron _ 1_buck.stl", "Häron _ 1_buck.3mf", "Häron _ 1_report.json", "Häron _ 1_look.ply"}
    assert first <= _names(tmp_path) and (tmp_path / "buck.stl").read_bytes() == b"of another sculpt"
    assert not addon.scene.edited_buck.is_edited(scene)
    with pytest.raises(RuntimeError, match=r"Häron _ 1_buck.3mf and \d+ more are there already"):
        bpy.ops.buckwright.export(directory=str(tmp_path))

    # Edited by hand: the tip of the mesh is cut; what is exported is what is seen.
    buck = addon.scene.results.objects(scene, "BUCK")[0]
    made = trimesh.load_mesh(tmp_path / "Häron _ 1_buck.stl")
    buck.location.x += 1.0
    bpy.context.view_layer.update()
    assert not addon.scene.edited_buck.is_edited(scene), "to be moved is no change of the shape"
    highest = max(vertex.co.z for vertex in buck.data.vertices)
    for vertex in buck.data.vertices:
        if vertex.co.z > highest - 1e-5:
            vertex.co.z += 0.002
    buck.data.update()
    bpy.context.view_layer.update()
    assert addon.scene.edited_buck.is_edited(scene)
    shape = [tuple(vertex.co) for vertex in buck.data.vertices]
    bpy.data.objects.remove(sculpt)  # it is not needed for that
    fast.job.name = "Edited"
    assert bpy.ops.buckwright.export(directory=str(tmp_path)) == {"FINISHED"}
    written = trimesh.load_mesh(tmp_path / "Edited_buck.stl")
    assert written.is_watertight
    assert written.bounds[1][2] == pytest.approx(made.bounds[1][2] + 2.0, abs=1e-3)
    assert written.bounds[0] == pytest.approx(made.bounds[0], abs=1e-3), "set down as it was made"
    assert shape == [tuple(vertex.co) for vertex in buck.data.vertices], "the edited mesh is still there"
    assert "Edited_buck.3mf" in _names(tmp_path) and "Edited_report.json" not in _names(tmp_path)

    # One that no printer could print is refused, in words that the panel keeps.
    solid = bmesh.new()
    solid.from_mesh(buck.data)
    solid.faces.ensure_lookup_table()
    bmesh.ops.delete(solid, geom=[solid.faces[0]], context="FACES_ONLY")
    solid.to_mesh(buck.data)
    solid.free()
    bpy.context.view_layer.update()
    before = (tmp_path / "Edited_buck.stl").read_bytes()
    with pytest.raises(RuntimeError, match="edited buck cannot be exported: 3 open edges"):
        bpy.ops.buckwright.export(directory=str(tmp_path), replace=True)
    assert "3 open edges" in addon.scene.running.trouble()
    assert (tmp_path / "Edited_buck.stl").read_bytes() == before


def test_making_again_keeps_an_edited_buck(addon, scene, solid, fast):
    import bpy

    fast.vents.enabled = False
    solid()
    bpy.ops.buckwright.make()
    edited = addon.scene.results.objects(scene, "BUCK")[0]
    edited.data.vertices[0].co.x -= 0.001
    edited.data.update()
    bpy.context.view_layer.update()
    shape = [tuple(vertex.co) for vertex in edited.data.vertices]
    bpy.ops.buckwright.make()
    (buck,) = addon.scene.results.objects(scene, "BUCK")
    assert buck != edited and edited.name == "Buck Edited" and edited.hide_get()
    assert shape == [tuple(vertex.co) for vertex in edited.data.vertices]
    bpy.ops.buckwright.remove_results()
    assert {one.name for one in scene.objects} == {"Sculpt", "Buck Edited"}


def test_a_saved_job_leaves_the_sculpt_of_another_job_alone(addon, scene, solid, tmp_path):
    import bpy

    solid()
    (tmp_path / "Sculpt.npz").write_bytes(b"of another job")
    with pytest.raises(RuntimeError, match=r"Sculpt.npz is there already and belongs to another job"):
        bpy.ops.buckwright.save_job(filepath=str(tmp_path / "job.toml"))
    assert (tmp_path / "Sculpt.npz").read_bytes() == b"of another job"
    own = tmp_path / "own"
    own.mkdir()
    for _ in range(2):  # the job's own sculpt is written anew
        assert bpy.ops.buckwright.save_job(filepath=str(own / "job.toml")) == {"FINISHED"}
