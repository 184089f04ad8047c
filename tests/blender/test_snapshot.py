"""What of a scene goes to the library: sizes in every unit, every kind of object, refusals in words."""

import math

import numpy as np
import pytest

from buckwright.mesh.textures import read_texture


def _box(points):
    return points.max(axis=0) - points.min(axis=0)


def _volume(snap):
    a, b, c = np.moveaxis(snap.vertices[snap.faces], 1, 0)
    return float(np.einsum("fk,fk->", a, np.cross(b, c)) / 6.0)


@pytest.fixture
def take(addon, scene):
    import bpy

    def run():
        assert not addon.scene.snapshot.why_not(bpy.context)
        return addon.scene.snapshot.take(bpy.context, addon.scene.snapshot.chosen(bpy.context))

    return run


@pytest.fixture
def cube(scene):
    """Maker of cubes with an edge in Blender units."""
    import bpy

    def make(size=1.0, name="Cube", at=(0.0, 0.0, 0.0)):
        bpy.ops.mesh.primitive_cube_add(size=size, location=at)
        bpy.context.object.name = name
        return bpy.context.object

    return make


@pytest.mark.parametrize(
    ("system", "scale", "edge", "mm"),
    [
        ("METRIC", 1.0, 0.05, 50.0),
        ("METRIC", 0.01, 5.0, 50.0),
        ("METRIC", 0.001, 50.0, 50.0),
        ("IMPERIAL", 0.0254, 2.0, 50.8),
        ("IMPERIAL", 0.3048, 1.0, 304.8),
        ("NONE", 0.001, 50.0, 50.0),
    ],
)
def test_sizes_are_right_in_every_unit(scene, cube, take, system, scale, edge, mm):
    scene.unit_settings.system = system
    scene.unit_settings.scale_length = scale
    cube(edge)
    assert _box(take().vertices) == pytest.approx([mm] * 3, rel=1e-6)


def test_modifiers_count(cube, take):
    cube(0.02).modifiers.new("Array", "ARRAY").count = 3
    assert _box(take().vertices) == pytest.approx([60.0, 20.0, 20.0], rel=1e-5)


def test_a_mirrored_object_keeps_its_outside_outside(cube, take):
    cube(0.02).scale = (-1.0, 2.0, 1.0)
    assert _volume(take()) == pytest.approx(2 * 20.0**3, rel=1e-5)


def test_parents_and_shears_count(cube, take):
    import bpy

    parent = bpy.data.objects.new("Parent", None)
    bpy.context.collection.objects.link(parent)
    parent.scale, parent.location = (1.0, 1.0, 3.0), (0.0, 0.0, 1.0)
    child = cube(0.02)
    child.parent, child.rotation_euler = parent, (math.radians(30.0), 0.0, 0.0)
    snap = take()
    assert _volume(snap) == pytest.approx(3 * 20.0**3, rel=1e-5)
    assert (snap.vertices[:, 2].max() + snap.vertices[:, 2].min()) / 2 == pytest.approx(1000.0)


def test_several_objects_are_one_sculpt(cube, take):
    first = cube(0.02, "One")
    cube(0.02, "Two", at=(0.05, 0.0, 0.0))
    first.select_set(True)
    snap = take()
    assert sorted(snap.names) == ["One", "Two"]
    assert _box(snap.vertices) == pytest.approx([70.0, 20.0, 20.0], rel=1e-5)
    assert len(snap.faces) == 24


def test_collection_instances_are_taken(cube, take):
    import bpy

    inner = bpy.data.collections.new("Inner")
    inner.objects.link(cube(0.02))
    empty = bpy.data.objects.new("Shows", None)
    empty.instance_type, empty.instance_collection = "COLLECTION", inner
    empty.location.x = 0.3
    bpy.context.collection.objects.link(empty)
    bpy.ops.object.select_all(action="DESELECT")
    empty.select_set(True)
    snap = take()
    assert len(snap.faces) == 12 and snap.vertices[:, 0].min() == pytest.approx(290.0)


def test_instances_of_faces_are_taken(cube, take):
    import bpy

    bpy.ops.mesh.primitive_plane_add(size=0.1)
    plane = bpy.context.object
    plane.instance_type, plane.show_instancer_for_viewport = "VERTS", False
    small = cube(0.01)
    small.parent = plane
    bpy.ops.object.select_all(action="DESELECT")
    plane.select_set(True)
    assert len(take().faces) == 4 * 12


def test_multires_below_its_level_is_told(cube, take):
    import bpy

    one = cube(0.02)
    modifier = one.modifiers.new("Multires", "MULTIRES")
    for _ in range(3):
        bpy.ops.object.multires_subdivide(modifier=modifier.name, mode="SIMPLE")
    modifier.levels = 3
    whole = take()
    assert len(whole.faces) == 12 * 4**3 and not whole.notes
    modifier.levels = 1
    low = take()
    assert len(low.faces) == 12 * 4
    assert "level 1 of 3" in low.notes[0]


@pytest.mark.parametrize("mode", ["EDIT", "SCULPT"])
def test_other_modes_are_refused_with_the_way_out(addon, cube, mode):
    import bpy

    cube(0.02)
    bpy.ops.object.mode_set(mode=mode)
    assert "go to Object Mode" in addon.scene.snapshot.why_not(bpy.context)
    with pytest.raises(RuntimeError, match="go to Object Mode"):
        bpy.ops.buckwright.look()
    bpy.ops.buckwright.object_mode()
    assert addon.scene.snapshot.why_not(bpy.context) == ""


def test_dyntopo_is_taken_after_the_way_out(addon, cube, take):
    import bpy

    cube(0.02)
    bpy.ops.object.mode_set(mode="SCULPT")
    bpy.ops.sculpt.dynamic_topology_toggle()
    assert "Sculpt Mode" in addon.scene.snapshot.why_not(bpy.context)
    bpy.ops.buckwright.object_mode()
    assert len(take().faces) == 12


def test_nothing_selected(addon, scene):
    import bpy

    assert addon.scene.snapshot.why_not(bpy.context) == "Select the sculpt: one mesh object or several"


def test_no_mesh(addon, scene):
    import bpy

    bpy.ops.object.light_add()
    bpy.context.object.name = "Lamp"
    assert "'Lamp' is not a mesh (light)" in addon.scene.snapshot.why_not(bpy.context)


def test_an_empty_mesh(addon, scene):
    import bpy

    one = bpy.data.objects.new("Bare", bpy.data.meshes.new("Bare"))
    bpy.context.collection.objects.link(one)
    one.select_set(True)
    with pytest.raises(RuntimeError, match="'Bare' has no faces"):
        bpy.ops.buckwright.look()


def test_hidden_objects(addon, scene, cube):
    import bpy

    one = cube(0.02)
    addon.scene.results.of(scene).sculpts.add().object = one
    one.hide_set(True)
    assert "'Cube' is hidden" in addon.scene.snapshot.why_not(bpy.context)


def test_scaled_to_nothing(cube):
    import bpy

    cube(0.02).scale = (1.0, 1.0, 0.0)
    with pytest.raises(RuntimeError, match="scaled to zero"):
        bpy.ops.buckwright.look()


def test_places_that_are_no_numbers(cube):
    import bpy

    cube(0.02).data.vertices[0].co.x = float("nan")
    with pytest.raises(RuntimeError, match="not finite"):
        bpy.ops.buckwright.look()


def test_linked_objects_can_be_taken(addon, scene, cube, tmp_path):
    import bpy

    cube(0.02, "Far")
    path = str(tmp_path / "library ü.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    with bpy.data.libraries.load(path, link=True) as (_, wanted):
        wanted.objects = ["Far"]
    bpy.context.collection.objects.link(wanted.objects[0])
    wanted.objects[0].select_set(True)
    snap = addon.scene.snapshot.take(bpy.context, addon.scene.snapshot.chosen(bpy.context))
    assert _box(snap.vertices) == pytest.approx([20.0] * 3, rel=1e-6)


def test_the_file_is_what_the_library_reads(cube, take, tmp_path):
    from buckwright.mesh.reading import read_sculpt

    cube(0.02)
    snap = take()
    snap.save(tmp_path / "sculpt.npz")
    mesh = read_sculpt(tmp_path / "sculpt.npz").mesh
    assert mesh.face_count == 12 and mesh.volume_mm3() == pytest.approx(8000.0, rel=1e-5)


def _moved(one):
    one.data.vertices[3].co.x += 1e-6


def _turned(one):
    one.rotation_euler.z += 0.001


def _inside_out(one):
    one.data.flip_normals()


def _smoothed(one):
    one.modifiers.new("Smooth", "SUBSURF")


def _scaled(one):
    one.users_scene[0].unit_settings.scale_length = 0.01


@pytest.mark.parametrize("change", [_moved, _turned, _inside_out, _smoothed, _scaled])
def test_every_change_moves_fingerprint_and_stamp(addon, cube, take, change):
    import bpy

    one = cube(0.02)
    before = take().fingerprint(), addon.scene.snapshot.stamp(bpy.context, [one])
    assert (take().fingerprint(), addon.scene.snapshot.stamp(bpy.context, [one])) == before
    change(one)
    one.data.update()
    after = take().fingerprint(), addon.scene.snapshot.stamp(bpy.context, [one])
    assert after[0] != before[0] and after[1] != before[1]


def test_the_active_uv_map_goes_along_where_it_is_asked_for(addon, scene, cube, tmp_path):
    """Corner by corner, also of a mirrored object, whose triangles are turned round."""
    import bpy

    one = cube()
    one.scale = (-1.0, 1.0, 1.0)
    layer = one.data.uv_layers.active
    for loop in one.data.loops:  # each corner lies where its vertex is, seen from above
        layer.uv[loop.index].vector = one.data.vertices[loop.vertex_index].co.xy - one.data.vertices[0].co.xy
    snapshot = addon.scene.snapshot
    assert snapshot.take(bpy.context, [one]).uv is None
    snap = snapshot.take(bpy.context, [one], texture=True)
    places = snap.vertices[snap.faces][..., :2] / 1000.0 * [-1.0, 1.0]
    start = np.array(one.data.vertices[0].co.xy)
    assert np.allclose(snap.uv, places - start, atol=1e-6)
    snap.save(tmp_path / "cube.npz")
    assert np.allclose(read_texture(tmp_path / "cube.npz"), snap.uv)
    one.data.uv_layers.remove(layer)
    one.data.update_tag()
    assert np.isnan(snapshot.take(bpy.context, [one], texture=True).uv).all()


def test_an_edited_uv_map_makes_old_what_a_picture_is_laid_by(addon, scene, cube):
    """The shape has not changed: a result that no picture is laid on stays."""
    import bpy

    one, snapshot, staleness = cube(), addon.scene.snapshot, addon.scene.staleness
    kept = scene.buckwright_results
    shape, texture = (snapshot.stamp(bpy.context, [one], texture=laid)[0] for laid in (False, True))
    kept.sculpts.add().object = one
    library = addon.bridge.library
    job = library.write_job(library.job_from(addon.scene.job_tables.of(scene)))
    for origin, command in ((kept.found_from, "look"), (kept.buck_from, "make"), (kept.sheet_from, "make")):
        origin.command, origin.job, origin.stamp, origin.texture = command, job, shape, texture
    kept.sheet_from.texture = ""
    parts = ("found_from", "buck_from", "sheet_from")
    assert [staleness.why(scene, part) for part in parts] == ["", "", ""]
    one.data.uv_layers.active.uv[0].vector.x += 0.25
    one.data.update_tag()
    bpy.context.view_layer.update()
    assert [staleness.why(scene, part) for part in parts] == ["", "The UV map has changed", ""]
    one.data.vertices[0].co.z += 0.001
    one.data.update()
    bpy.context.view_layer.update()
    assert [staleness.why(scene, part) for part in parts] == ["The sculpt has changed"] * 3


def test_uv_maps_are_taken_only_for_a_picture_laid_by_them(addon, scene):
    wants = addon.scene.job_tables.wants_texture
    assert not wants(scene)
    scene.buckwright.artwork.by = "UV"
    assert not wants(scene)
    scene.buckwright.artwork.file = "//wings.png"
    assert wants(scene)
