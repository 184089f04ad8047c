"""The colours over the viewport: what is drawn, what hides it, and that nothing of the user's changes."""

from importlib import import_module
from types import ModuleType, SimpleNamespace
from typing import Any

import bpy
import gpu
import numpy as np
import pytest
from mathutils import Matrix, Vector
from numpy.typing import NDArray

pytestmark = pytest.mark.usefixtures("scene")
SIDE = 64


@pytest.fixture(scope="module")
def modules(addon: ModuleType) -> SimpleNamespace:
    names = (
        "view.overlay",
        "view.overlay_gpu",
        "view.mesh_faces",
        "scene.results",
        "scene.pull",
        "view.view_settings",
        "view.ramps",
        "view.go_to_place",
        "view.gizmo",
    )
    return SimpleNamespace(
        **{name.rpartition(".")[2]: import_module(f"{addon.__name__}.{name}") for name in names}
    )


def mesh_of(vertices: Any, faces: Any, name: str = "mesh") -> bpy.types.Mesh:
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata(vertices, [], faces)
    return mesh


def result(
    modules: SimpleNamespace, mesh: bpy.types.Mesh, state: list[int], **values: Any
) -> bpy.types.Object:
    """A sculpt with a look's results, as delivering leaves them. Returns the sculpt."""
    scene = bpy.context.scene
    sculpt = bpy.data.objects.new("Sculpt", mesh.copy())
    scene.collection.objects.link(sculpt)
    for name, numbers in {"state": np.array(state, np.int32), **values}.items():
        kind = "INT" if numbers.dtype == np.int32 else "FLOAT"
        mesh.attributes.new(f"buckwright_{name}", kind, "FACE").data.foreach_set("value", numbers)
    inspection = bpy.data.objects.new("Inspection", mesh)
    collection = bpy.data.collections.new("Results")
    scene.collection.children.link(collection)
    collection.objects.link(inspection)
    modules.results.claim(scene, inspection, "INSPECTION")
    kept = modules.results.of(scene)
    kept.collection, kept.made, kept.fingerprint = collection, "LOOK", "one"
    kept.sculpts.add().object = sculpt
    return sculpt


SQUARES = (
    [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (2, 0, 0), (2, 1, 0)],
    [(0, 1, 2), (0, 2, 3), (1, 4, 5), (1, 5, 2)],
)


def drawn(draw: Any, *, behind: float | None = None) -> NDArray[np.uint8]:
    """Pixels (SIDE, SIDE, 4) of a draw seen from +Z; the square 0..2 fills the lower half, x to the right."""
    gpu.init()
    screen = gpu.types.GPUOffScreen(SIDE, SIDE)
    with screen.bind():
        buffer = gpu.state.active_framebuffer_get()
        buffer.clear(color=(0.0, 0.0, 0.0, 1.0), depth=1.0 if behind is None else behind)
        with gpu.matrix.push_pop(), gpu.matrix.push_pop_projection():
            gpu.matrix.load_matrix(Matrix.Identity(4))
            gpu.matrix.load_projection_matrix(
                Matrix(((1, 0, 0, -1), (0, 1, 0, -1), (0, 0, -0.1, 0), (0, 0, 0, 1)))
            )
            draw()
        pixels = buffer.read_color(0, 0, SIDE, SIDE, 4, 0, "UBYTE")
    pixels.dimensions = SIDE * SIDE * 4
    found = np.array(pixels, np.uint8).reshape(SIDE, SIDE, 4)
    screen.free()
    return found


def view(**more: Any) -> SimpleNamespace:
    return SimpleNamespace(**{"use_clip_planes": False, "view_distance": 2.0, "clip_planes": []} | more)


def batch(modules: SimpleNamespace, colours: Any, faces: Any = SQUARES[1]) -> Any:
    gpu.init()
    places = np.array(SQUARES[0], np.float32)
    return modules.overlay_gpu.face_batch(places, np.array(faces, np.int32), np.array(colours, np.uint8))


RED, BLUE = (200, 10, 10, 255), (10, 10, 200, 255)


def test_each_face_is_drawn_in_its_own_colour(modules: SimpleNamespace) -> None:
    faces = batch(modules, [RED, RED, BLUE, BLUE])
    pixels = drawn(lambda: modules.overlay_gpu.draw_faces(faces, Matrix.Identity(4), view()))
    assert np.abs(pixels[16, 16].astype(int) - RED).max() <= 1
    assert np.abs(pixels[16, 48].astype(int) - BLUE).max() <= 1
    assert (pixels[48:, :, :3] == 0).all()


def test_new_colours_keep_the_places(modules: SimpleNamespace) -> None:
    faces = modules.overlay_gpu.recoloured(batch(modules, [RED] * 4), np.array([BLUE] * 4, np.uint8))
    pixels = drawn(lambda: modules.overlay_gpu.draw_faces(faces, Matrix.Identity(4), view()))
    assert np.abs(pixels[16, 16].astype(int) - BLUE).max() <= 1


def test_what_hides_the_sculpt_hides_the_colours(modules: SimpleNamespace) -> None:
    faces = batch(modules, [RED] * 4)
    pixels = drawn(lambda: modules.overlay_gpu.draw_faces(faces, Matrix.Identity(4), view()), behind=0.45)
    assert (pixels[..., :3] == 0).all()


def test_colours_win_over_the_sculpt_itself(modules: SimpleNamespace) -> None:
    # The square lies at depth 0.5 exactly; the sculpt has drawn the same depth before.
    faces = batch(modules, [RED] * 4)
    pixels = drawn(lambda: modules.overlay_gpu.draw_faces(faces, Matrix.Identity(4), view()), behind=0.5)
    assert (pixels[2:30, 2:62, 0] > 190).all()


def test_backs_of_faces_stay_plain(modules: SimpleNamespace) -> None:
    turned = batch(modules, [RED] * 4, [face[::-1] for face in SQUARES[1]])
    pixels = drawn(lambda: modules.overlay_gpu.draw_faces(turned, Matrix.Identity(4), view()))
    assert (pixels[..., :3] == 0).all()


def test_a_mirrored_object_shows_its_fronts(modules: SimpleNamespace) -> None:
    faces = batch(modules, [RED] * 4)
    mirrored = Matrix.Translation((2.0, 0.0, 0.0)) @ Matrix.Diagonal((-1.0, 1.0, 1.0, 1.0))
    pixels = drawn(lambda: modules.overlay_gpu.draw_faces(faces, mirrored, view()))
    assert (pixels[2:30, 2:62, 0] > 190).all()


def test_the_clipping_border_cuts_the_colours(modules: SimpleNamespace) -> None:
    faces = batch(modules, [RED] * 4)
    planes = [(-1.0, 0.0, 0.0, 1.0)] + [(0.0, 0.0, 0.0, 1.0)] * 5
    cut = view(use_clip_planes=True, clip_planes=planes)
    for moved in (Matrix.Identity(4), Matrix.Translation((-2.0, 0.0, 0.0)) @ Matrix.Scale(2.0, 4)):
        pixels = drawn(lambda: modules.overlay_gpu.draw_faces(faces, moved, cut))  # noqa: B023 (called at once)
        assert pixels[16, 16, 0] > 190
        assert pixels[16, 48, 0] == 0


def test_lines_are_seen_on_light_and_on_dark(modules: SimpleNamespace) -> None:
    for colour in ((250, 250, 250, 255), (5, 5, 5, 255)):
        faces = batch(modules, [colour] * 4)
        ends = np.array([[0.1, 0.5, 0.0], [1.9, 0.5, 0.0]], np.float32)
        lines = modules.overlay_gpu.line_batch(ends)

        def both(faces: Any = faces, lines: Any = lines) -> None:
            modules.overlay_gpu.draw_faces(faces, Matrix.Identity(4), view())
            modules.overlay_gpu.draw_lines(lines, Matrix.Identity(4), view(), width=2.0)

        column = drawn(both)[8:24, 32, 0].astype(int)
        assert column.max() - column.min() > 180
    assert modules.overlay_gpu.line_batch(np.empty((0, 3), np.float32)) is None


def test_the_state_of_the_graphics_card_is_set_back(modules: SimpleNamespace) -> None:
    faces = batch(modules, [RED] * 4)
    seen = {}

    def draw() -> None:
        gpu.state.blend_set("ADDITIVE")
        gpu.state.depth_test_set("GREATER")
        gpu.state.depth_mask_set(False)
        projection = gpu.matrix.get_projection_matrix()
        modules.overlay_gpu.draw_faces(faces, Matrix.Scale(2.0, 4), view())
        seen["state"] = gpu.state.blend_get(), gpu.state.depth_test_get(), gpu.state.depth_mask_get()
        seen["matrices"] = (
            gpu.matrix.get_projection_matrix() == projection,
            gpu.matrix.get_model_view_matrix(),
        )
        gpu.state.blend_set("NONE")
        gpu.state.depth_test_set("NONE")

    drawn(draw)
    assert seen["state"] == ("ADDITIVE", "GREATER", False)
    assert seen["matrices"] == (True, Matrix.Identity(4))


@pytest.mark.parametrize("sees_depth", [True, False])
def test_nearer_moves_nothing_on_the_screen(modules: SimpleNamespace, sees_depth: bool) -> None:
    perspective = Matrix(((1.5, 0, 0.1, 0), (0, 2, 0, 0), (0, 0, -1.02, -0.2), (0, 0, -1, 0)))
    flat = Matrix(((0.5, 0, 0, 0.1), (0, 0.7, 0, 0), (0, 0, -0.02, 0.1), (0, 0, 0, 1)))
    projection = perspective if sees_depth else flat
    moved = modules.overlay_gpu.nearer(projection, 1e-3, 5.0)
    for place in ((0.3, -0.2, -1.0, 1.0), (2.0, 1.0, -8.0, 1.0)):
        before, after = (one @ Vector(place) for one in (projection, moved))
        assert after.x / after.w == pytest.approx(before.x / before.w, abs=1e-6)
        assert after.y / after.w == pytest.approx(before.y / before.w, abs=1e-6)
        assert after.z / after.w < before.z / before.w


def test_shares_are_those_of_the_area(modules: SimpleNamespace) -> None:
    vertices, faces = SQUARES
    vertices = [
        (x * (3 if x > 1 else 1), y, z) for x, y, z in vertices
    ]  # the right square is five times as wide
    result(modules, mesh_of(vertices, faces), [0, 1, 2, 3])
    one = modules.overlay.paint(bpy.context.scene)
    # areas 0.5 free, 0.5 tight, 2.5 trapped; the base is not judged
    assert one.shares == pytest.approx((1 / 7, 1 / 7, 5 / 7))
    assert not one.missing
    assert modules.overlay.shown(bpy.context.scene) is one


def test_a_quantity_that_was_not_measured_is_missing(modules: SimpleNamespace) -> None:
    result(modules, mesh_of(*SQUARES), [0, 1, 2, 2])
    modules.view_settings.of(bpy.context.scene).quantity = "VENT_REACH_MM"
    assert modules.overlay.paint(bpy.context.scene).missing


def test_painting_changes_nothing_of_the_users(modules: SimpleNamespace) -> None:
    sculpt = result(modules, mesh_of(*SQUARES), [0, 1, 2, 2])
    sculpt.data.materials.append(bpy.data.materials.new("Skin"))
    sculpt.data.color_attributes.new("Paint", "BYTE_COLOR", "CORNER")

    def all_of_it() -> Any:
        mesh = sculpt.data
        return (
            sorted((a.name, a.domain, a.data_type) for a in mesh.attributes),
            [m.name for m in mesh.materials],
            mesh.color_attributes.active_color_name,
            [tuple(v.co) for v in mesh.vertices],
            sorted(o.name for o in bpy.data.objects),
        )

    before = all_of_it()
    modules.overlay.paint(bpy.context.scene)
    modules.view_settings.of(bpy.context.scene).quantity = "DRAFT_DEG"
    modules.overlay.paint(bpy.context.scene)
    modules.overlay.clear()
    assert all_of_it() == before


def test_a_new_result_replaces_the_old_and_no_result_clears(modules: SimpleNamespace) -> None:
    scene = bpy.context.scene
    result(modules, mesh_of(*SQUARES), [0, 0, 0, 0])
    first = modules.overlay.paint(scene)
    assert modules.overlay.paint(scene) is first
    modules.results.inspection(scene).data.attributes["buckwright_state"].data.foreach_set("value", [2] * 4)
    modules.results.of(scene).fingerprint = "two"
    second = modules.overlay.paint(scene)
    assert second is not first
    assert second.shares == (0.0, 0.0, 1.0)
    bpy.data.objects.remove(modules.results.inspection(scene))
    assert modules.overlay.paint(scene) is None
    assert modules.overlay.shown(scene) is None


def test_switched_off_nothing_is_kept(modules: SimpleNamespace) -> None:
    scene = bpy.context.scene
    result(modules, mesh_of(*SQUARES), [0, 0, 0, 0])
    modules.overlay.paint(scene)
    modules.view_settings.of(scene).show = False
    assert modules.overlay.paint(scene) is None
    assert modules.overlay.shown(scene) is None


def test_opening_another_file_ends_the_painting(modules: SimpleNamespace) -> None:
    result(modules, mesh_of(*SQUARES), [0, 0, 0, 0])
    modules.overlay.paint(bpy.context.scene)
    bpy.ops.wm.read_homefile(use_factory_startup=True)
    assert modules.overlay.shown(bpy.context.scene) is None


def test_colours_follow_a_sculpt_that_is_moved(modules: SimpleNamespace) -> None:
    sculpt = result(modules, mesh_of(*SQUARES), [0, 0, 0, 0])
    sculpt.location = (0.0, 0.0, 1.0)
    bpy.context.view_layer.update()
    one = modules.overlay.paint(bpy.context.scene)
    sculpt.location = (5.0, 0.0, 1.0)
    bpy.context.view_layer.update()
    place = sculpt.matrix_world @ one.follow @ Vector((1.0, 1.0, 0.0))
    assert tuple(place) == pytest.approx((6.0, 1.0, 0.0))


@pytest.mark.parametrize("kind", ["triangles", "quads", "mixed"])
def test_faces_are_read_as_blender_draws_them(modules: SimpleNamespace, kind: str) -> None:
    if kind == "mixed":
        bpy.ops.mesh.primitive_cylinder_add(vertices=7)
    else:
        bpy.ops.mesh.primitive_monkey_add()
        if kind == "triangles":
            bpy.context.object.modifiers.new("cut", "TRIANGULATE")
            bpy.ops.object.modifier_apply(modifier="cut")
        else:
            bpy.context.object.modifiers.new("smooth", "SUBSURF")
            bpy.ops.object.modifier_apply(modifier="smooth")
    mesh = bpy.context.object.data
    faces = modules.mesh_faces.read_faces(mesh)
    polygon = np.arange(len(mesh.polygons)) if faces.polygon is None else faces.polygon
    corners = faces.vertices[faces.faces].astype(np.float64)
    twice = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert np.abs(faces.areas - np.linalg.norm(twice, axis=1) / 2).max() < 1e-6
    per_polygon = np.zeros((len(mesh.polygons), 3))
    np.add.at(per_polygon, polygon, twice / 2)
    theirs = np.array([np.array(one.normal) for one in mesh.polygons])
    ours = per_polygon / np.linalg.norm(per_polygon, axis=1)[:, None]
    assert np.abs(ours - theirs).max() < 1e-4
    assert np.abs(faces.normals - theirs[polygon]).max() < 1e-4


def test_an_empty_mesh_has_no_faces(modules: SimpleNamespace) -> None:
    faces = modules.mesh_faces.read_faces(bpy.data.meshes.new("empty"))
    assert len(faces.faces) == len(faces.areas) == len(faces.normals) == 0


def test_values_of_polygons_reach_their_triangles(modules: SimpleNamespace) -> None:
    mesh = mesh_of([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (2, 0, 0)], [(0, 1, 2, 3), (1, 4, 2)])
    mesh.attributes.new("buckwright_draft_deg", "FLOAT", "FACE").data.foreach_set("value", [7.0, 9.0])
    mesh.attributes.new("buckwright_words", "STRING", "FACE")
    faces = modules.mesh_faces.read_faces(mesh)
    values = modules.mesh_faces.face_values(mesh, "buckwright_draft_deg", faces)
    assert sorted(values.tolist()) == [7.0, 7.0, 9.0]
    assert modules.mesh_faces.face_values(mesh, "buckwright_words", faces) is None
    assert modules.mesh_faces.face_values(mesh, "nothing", faces) is None


def test_view_turns_to_a_place(modules: SimpleNamespace) -> None:
    for way in ((1, 0, 0), (0, -1, 0.5), (0, 0, 1), (0, 0, -1)):
        turn = modules.go_to_place.facing(Vector(way))
        assert tuple(turn @ Vector((0, 0, 1))) == pytest.approx(tuple(Vector(way).normalized()), abs=1e-6)
        assert (turn @ Vector((0, 1, 0))).z >= -1e-6


def test_the_tip_of_the_pull_stays_on_its_sphere(modules: SimpleNamespace) -> None:
    on_sphere = modules.gizmo.on_sphere
    hit = on_sphere(Vector((0.6, 0, 9)), Vector((0, 0, -1)), Vector(), 1.0)
    assert tuple(hit) == pytest.approx((0.6, 0.0, 0.8))
    assert tuple(on_sphere(Vector((3, 0, 9)), Vector((0, 0, -1)), Vector(), 1.0)) == pytest.approx((1, 0, 0))
    assert tuple(modules.gizmo.snapped(Vector((0.02, 0.0, 1.0)))) == pytest.approx((0, 0, 1))
    turned = modules.gizmo.snapped(Vector((0.30, 0.02, 1.0)))
    assert np.degrees(np.arccos(turned.z)) == pytest.approx(15.0, abs=1e-4)
    scene = bpy.context.scene
    modules.pull.set_pull(scene, np.array([0.0, 3.0, 4.0]))
    pull = scene.buckwright.pull
    assert pull.direction == "VECTOR"
    assert tuple(pull.direction_vector) == pytest.approx((0, 0.6, 0.8))
