"""What stands round the buck, the job sheet, and the log of pulls."""

import numpy as np
import pytest


def things(addon, scene):
    found = addon.scene.results
    roles = addon.scene.workshop.ROLES
    return {one.name.split(".")[0]: one for role in roles for one in found.objects(scene, role)}


def sizes_mm(one, scene):
    """Width and depth of an object in the world, mm."""
    import bpy

    bpy.context.view_layer.update()
    corners = np.array([one.matrix_world @ point for point in _points(one)])
    return np.ptp(corners, axis=0)[:2] * 1000.0 * scene.unit_settings.scale_length


def _points(one):
    if one.type == "MESH":
        return [vertex.co for vertex in one.data.vertices]
    return [point.co.to_3d() for point in one.data.splines[0].points]


@pytest.mark.parametrize("scale", [1.0, 0.001])
def test_opening_frame_and_blank_are_objects_of_their_own(addon, scene, solid, fast, scale):
    import bpy

    scene.unit_settings.scale_length = scale
    sculpt = solid()
    before = sculpt.data.vertices[0].co.copy()
    fast.machine.profile = "SHOP_600"
    fast.rig.reducing = True
    assert bpy.ops.buckwright.make() == {"FINISHED"}
    found = things(addon, scene)
    assert set(found) == {"Platen", "Machine Opening", "Frame Opening", "Sheet Blank", "Clamp Frame"}
    assert all(one.hide_get() and one.hide_render for one in found.values())
    (folder,) = {one.users_collection[0].name for one in found.values()}
    assert folder.startswith("Workshop of")
    assert sizes_mm(found["Platen"], scene) == pytest.approx([600.0, 600.0], rel=1e-4)
    opening, blank = sizes_mm(found["Frame Opening"], scene), sizes_mm(found["Sheet Blank"], scene)
    assert (blank > opening).all() and blank.max() < 300.0
    told = addon.scene.results.facts(scene)["workshop"]
    assert f"Opening {opening[0]:.0f} x {opening[1]:.0f} mm" in told[0]
    buck = addon.scene.results.objects(scene, "BUCK")[0]
    middle = [
        sum((one.matrix_world @ point for point in _points(one)), one.location * 0) / len(_points(one))
        for one in (buck, found["Sheet Blank"])
    ]
    assert np.hypot(*(middle[0] - middle[1])[:2]) * 1000.0 * scale < 5.0
    assert bpy.ops.buckwright.show_workshop() == {"FINISHED"}
    assert not any(one.hide_get() for one in things(addon, scene).values()) and not buck.hide_get()
    bpy.ops.buckwright.make()
    assert not any(one.hide_get() for one in things(addon, scene).values()), "what is seen stays so"
    fast.rig.reducing = False
    bpy.ops.buckwright.make()
    assert "Clamp Frame" not in things(addon, scene)
    bpy.ops.buckwright.remove_results()
    assert not things(addon, scene) and not bpy.ops.buckwright.show_workshop.poll()
    assert not [one for one in bpy.data.collections if one.name.startswith("Workshop")]
    assert sculpt.data.vertices[0].co == before


def test_several_bucks_share_one_mesh_and_stand_apart(addon, scene, solid, fast):
    import bpy

    solid()
    fast.machine.profile = "SHOP_600"
    fast.group.copies = 4
    bpy.ops.buckwright.make()
    copies = addon.scene.results.objects(scene, "COPY")
    (buck,) = addon.scene.results.objects(scene, "BUCK")
    assert len(copies) == 3 and all(one.data == buck.data for one in copies)
    bpy.context.view_layer.update()
    places = [one.matrix_world.translation for one in (buck, *copies)]
    apart = [(a - b).length for n, a in enumerate(places) for b in places[:n]]
    assert min(apart) * 1000.0 * scene.unit_settings.scale_length > 40.0
    bpy.ops.buckwright.make()
    assert len(addon.scene.results.objects(scene, "COPY")) == 3
    fast.group.copies = 1
    bpy.ops.buckwright.make()
    assert not addon.scene.results.objects(scene, "COPY")
    assert buck.data is not None


def test_the_trim_line_is_that_of_the_edge(addon, scene, solid, fast):
    import bpy

    solid()
    fast.forecast.quality = "PREVIEW"
    fast.forecast.nodes = 4000
    bpy.ops.buckwright.make()
    (line,) = addon.scene.results.objects(scene, "TRIM")
    told = addon.scene.results.facts(scene)["workshop"]
    points = np.array(_points(line))
    length = np.linalg.norm(points - np.roll(points, -1, axis=0), axis=1).sum()
    length *= 1000.0 * scene.unit_settings.scale_length
    assert f"Trim line {length:.0f} mm long" in told[-1]


def test_the_job_sheet_is_written_and_its_place_is_told(addon, scene, solid, fast):
    from pathlib import Path

    import bpy

    solid("Cup")
    assert bpy.ops.buckwright.job_sheet() == {"FINISHED"}
    page = Path(addon.scene.results.of(scene).job_sheet)
    text = page.read_text(encoding="utf-8")
    assert page.name == "Cup_job_sheet.html" and 'id="solid-data"' in text and "<img" in text
    assert addon.scene.results.objects(scene, "BUCK")


def test_a_pull_is_noted_beside_the_file_and_the_next_is_suggested(addon, scene, solid, fast, tmp_path):
    import bpy

    from buckwright.workshop.log.book import read_pulls

    solid("Cup")
    assert not bpy.ops.buckwright.note_pull.poll()
    with pytest.raises(RuntimeError, match="poll"):
        bpy.ops.buckwright.read_log()
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "cup.blend"))
    scene = bpy.context.scene
    assert bpy.ops.buckwright.read_log() == {"FINISHED"}
    told = addon.scene.pull_log.told(scene)
    assert told["pulls"] == 0 and told["next"].startswith("Next: Heat ")
    for heat, web in (("20", "0"), ("30.5", "3")):
        done = bpy.ops.buckwright.note_pull(
            heat_s=heat, sag_s="18", stiff_s="9", fill="2", web=web, next="less"
        )
        assert done == {"FINISHED"}
    pulls = read_pulls(tmp_path / "Cup.pulls.toml")
    assert [one.heat_s for one in pulls] == [20.0, 30.5] and pulls[1].next == "less"
    assert pulls[0].material == "HIPS" and pulls[0].date
    assert bpy.ops.buckwright.read_log() == {"FINISHED"}
    told = addon.scene.pull_log.told(scene)
    assert told["pulls"] == 2 and "Best so far: pull 1" in told["lines"][0]
    assert "heat_s from 20 to 30.5" in " ".join(told["lines"]) and "Hold" in " ".join(told["lines"])
    assert "webs" in told["next"].lower()
    assert addon.scene.running.now() is None


def test_a_pull_that_cannot_be_is_refused_and_the_log_stays(addon, scene, solid, fast, tmp_path):
    import bpy

    solid("Cup")
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "cup.blend"))
    bpy.ops.buckwright.note_pull(fill="1")
    before = (tmp_path / "Cup.pulls.toml").read_bytes()
    for values, words in (({"fill": "7"}, "between 0 and 3"), ({"heat_s": "long"}, "must be a number")):
        with pytest.raises(RuntimeError, match=words):
            bpy.ops.buckwright.note_pull(**values)
    assert (tmp_path / "Cup.pulls.toml").read_bytes() == before


def test_holes_are_marked_by_empties_that_stay(addon, scene, solid, fast, tmp_path):
    import bpy

    sculpt = solid()
    before = [vertex.co.copy() for vertex in sculpt.data.vertices]
    assert bpy.ops.buckwright.add_hole(kind="RIVET", place=(0.004, 0.003, 0.015)) == {"FINISHED"}
    assert bpy.ops.buckwright.add_hole(kind="FAN", place=(0.0, 0.0, 0.015)) == {"FINISHED"}
    (rivet,) = addon.scene.hole_markers.markers(scene, "rivet")
    assert bpy.context.view_layer.objects.active != rivet  # the one that was marked last is
    told = addon.scene.job_tables.of(scene)["edge"]
    mm = 1000.0 * scene.unit_settings.scale_length
    assert told["rivets_mm"] == [pytest.approx([0.004 * mm, 0.003 * mm, 0.015 * mm], abs=1e-4)]
    assert len(told["fans_mm"]) == 1 and "slots_mm" not in told
    assert bpy.ops.buckwright.make() == {"FINISHED"}
    report = addon.scene.results.of(scene)
    assert report.collection is not None and addon.scene.staleness.why(scene) == ""
    assert addon.scene.job_tables.of(scene)["edge"]["rivets_mm"] == told["rivets_mm"], "to the last digit"
    (buck,) = addon.scene.results.objects(scene, "BUCK")
    near = [
        vertex.co
        for vertex in buck.data.vertices
        if np.hypot(vertex.co.x - 0.004, vertex.co.y - 0.003) < 2e-3
    ]
    assert len(near) > 10, "a pip stands there"
    rivet.location.x += 0.002
    bpy.context.view_layer.update()
    assert "changed" in addon.scene.staleness.why(scene)
    twin = rivet.copy()
    scene.collection.objects.link(twin)
    twin.location.y -= 0.005
    bpy.context.view_layer.update()
    moved = addon.scene.job_tables.of(scene)["edge"]["rivets_mm"]
    assert len(moved) == 2 and moved[0][0] - told["rivets_mm"][0][0] == pytest.approx(0.002 * mm, rel=0.02)
    bpy.ops.buckwright.remove_results()
    assert len(addon.scene.hole_markers.markers(scene, "rivet")) == 2, "they are the user's own"
    assert [vertex.co for vertex in sculpt.data.vertices] == before
    path = tmp_path / "job.toml"
    assert bpy.ops.buckwright.save_job(filepath=str(path)) == {"FINISHED"}
    assert bpy.ops.buckwright.open_job(filepath=str(path)) == {"FINISHED"}
    again = addon.scene.job_tables.of(scene)["edge"]
    assert len(addon.scene.hole_markers.markers(scene, "rivet")) == 2
    assert again["rivets_mm"] == [pytest.approx(place, abs=1e-9) for place in moved]
    assert again["fans_mm"] == [pytest.approx(told["fans_mm"][0], abs=1e-9)]
    for one in addon.scene.hole_markers.markers(scene, "fan"):
        bpy.data.objects.remove(one)
    assert "fans_mm" not in addon.scene.job_tables.of(scene)["edge"]


def test_a_buck_of_another_job_stands_beside(addon, scene, solid, fast, tmp_path):
    import bpy
    from manifold3d import Manifold

    from buckwright.mesh.triangles import Mesh
    from buckwright.output.stl import stl_bytes

    data = Manifold.cylinder(12.0, 20.0, 16.0, 24).to_mesh()
    mesh = Mesh.from_arrays(data.vert_properties[:, :3], data.tri_verts)
    (tmp_path / "lid.stl").write_bytes(stl_bytes(mesh, title="lid"))
    solid()
    fast.machine.profile = "SHOP_600"
    fast.group.others = f"{tmp_path / 'lid.stl'}: 2"
    assert bpy.ops.buckwright.make() == {"FINISHED"}
    beside = addon.scene.results.objects(scene, "COPY")
    assert len(beside) == 2 and {one.name.split(".")[0] for one in beside} == {"Other Buck"}
    assert all(one.hide_get() for one in beside)
    assert sizes_mm(beside[0], scene) == pytest.approx([40.0, 40.0], abs=0.5)
    fast.group.others = ""
    bpy.ops.buckwright.make()
    assert not addon.scene.results.objects(scene, "COPY")
