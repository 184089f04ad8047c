"""Draft alone, in Blender: the same angles as the library's, however the object is placed."""

import json
from importlib import import_module
from types import ModuleType, SimpleNamespace

import bpy
import numpy as np
import pytest
from mathutils import Euler, Matrix, Vector

from buckwright.mesh.triangles import Mesh
from buckwright.survey.draft import draft_deg

pytestmark = pytest.mark.usefixtures("scene")


@pytest.fixture(scope="module")
def modules(addon: ModuleType) -> SimpleNamespace:
    names = (
        "view.live_draft",
        "view.overlay",
        "view.mesh_faces",
        "scene.wanted_draft",
        "scene.results",
        "scene.pull",
    )
    return SimpleNamespace(
        **{name.rpartition(".")[2]: import_module(f"{addon.__name__}.{name}") for name in names}
    )


def monkey(matrix: Matrix) -> bpy.types.Object:
    """Suzanne in triangles, so that its faces are flat."""
    bpy.ops.mesh.primitive_monkey_add()
    obj = bpy.context.object
    obj.modifiers.new("cut", "TRIANGULATE")
    bpy.ops.object.modifier_apply(modifier="cut")
    obj.matrix_world = matrix
    bpy.context.view_layer.update()
    return obj


def by_the_library(obj: bpy.types.Object, pull: Vector) -> np.ndarray:
    """Drafts by the library's kernel, from the world's coordinates turned so that the pull is +Z."""
    turn = pull.rotation_difference(Vector((0.0, 0.0, 1.0))).to_matrix().to_4x4()
    whole = np.array(turn @ obj.matrix_world, np.float64)
    places = np.array([vertex.co for vertex in obj.data.vertices], np.float64)
    faces = np.array([polygon.vertices for polygon in obj.data.polygons], np.int32)
    if obj.matrix_world.determinant() < 0.0:
        faces = faces[:, ::-1]
    return draft_deg(Mesh.from_arrays(places @ whole[:3, :3].T + whole[:3, 3], faces))


TURNED = Euler((0.4, -0.9, 2.0)).to_matrix().to_4x4()
PLACES = {
    "plain": Matrix.Identity(4),
    "turned": Matrix.Translation((3, 4, 5)) @ TURNED @ Matrix.Scale(0.02, 4),
    "mirrored": TURNED @ Matrix.Diagonal((-1, 1, 1, 1)),
    "stretched": TURNED @ Matrix.Diagonal((0.5, 1, 3, 1)),
    "stretched and mirrored": TURNED @ Matrix.Diagonal((0.5, -1, 3, 1)) @ TURNED,
}


@pytest.mark.parametrize("place", PLACES)
def test_drafts_are_those_of_the_library(modules: SimpleNamespace, place: str) -> None:
    obj = monkey(PLACES[place])
    pull = Vector((0.2, -0.5, 0.8)).normalized()
    scene = bpy.context.scene
    scene.buckwright.pull.direction = "VECTOR"
    scene.buckwright.pull.direction_vector = pull
    shown = modules.live_draft.measure(bpy.context, obj)
    ours, theirs = shown.values["draft_deg"], by_the_library(obj, pull)
    # float32 against float64: half a thousandth of a degree, more only near 90 (docstring of `drafts`)
    flat = np.abs(theirs) < 80.0
    assert np.abs(ours - theirs)[flat].max() < 2e-3
    assert np.abs(ours - theirs).max() < 0.05
    state = shown.values["state"]
    assert (state[theirs < -0.01] == 2).all()
    assert (state[(theirs > 0.01) & (theirs < shown.wanted_deg - 0.01)] == 1).all()
    assert (state[theirs > shown.wanted_deg + 0.01] == 0).all()
    assert shown.live


def test_modifiers_count(modules: SimpleNamespace) -> None:
    bpy.ops.mesh.primitive_cube_add()
    obj = bpy.context.object
    obj.modifiers.new("smooth", "SUBSURF").levels = 3
    before = len(obj.data.polygons)
    shown = modules.live_draft.measure(bpy.context, obj)
    assert len(shown.faces.faces) == 2 * 6 * 4**3
    assert len(obj.data.polygons) == before


@pytest.mark.parametrize(
    ("word", "direction"),
    [("X", (1, 0, 0)), ("MINUS_Y", (0, -1, 0)), ("MINUS_Z", (0, 0, -1)), ("SEARCH", (0, 0, 1))],
)
def test_the_pull_is_the_one_that_is_set(
    modules: SimpleNamespace, word: str, direction: tuple[int, int, int]
) -> None:
    bpy.context.scene.buckwright.pull.direction = word
    assert tuple(modules.pull.pull_in(bpy.context.scene)) == direction


def test_a_searched_pull_is_that_of_the_last_look(modules: SimpleNamespace) -> None:
    scene = bpy.context.scene
    scene.buckwright.pull.direction = "SEARCH"
    modules.results.of(scene).facts = json.dumps({"pull": [0.0, -0.6, 0.8]})
    assert modules.pull.pull_in(scene) == pytest.approx([0.0, -0.6, 0.8])


def test_the_wanted_draft_follows_the_sheet_and_the_texture(modules: SimpleNamespace) -> None:
    from buckwright.forming.sheets.materials import sheet
    from buckwright.survey.draft import wanted_draft_deg

    scene = bpy.context.scene
    settings = scene.buckwright
    settings.draft.auto_wanted_deg = True
    settings.draft.texture_depth_mm = 0.05
    for name in ("HIPS", "HDPE"):
        settings.sheet.material = name
        expected = wanted_draft_deg(sheet(name).male_draft_deg.value, 0.05)
        assert modules.wanted_draft.of_settings(scene) == pytest.approx(expected, rel=1e-6)
    settings.draft.auto_wanted_deg = False
    settings.draft.wanted_angle = np.radians(4.0)
    assert modules.wanted_draft.of_settings(scene) == pytest.approx(4.0, rel=1e-6)


def test_what_cannot_be_measured_is_refused_with_the_way_out(modules: SimpleNamespace) -> None:
    why_not = modules.live_draft.why_not
    assert "Select a mesh" in why_not(None)
    bpy.ops.object.camera_add()
    assert "Select a mesh" in why_not(bpy.context.object)
    bpy.ops.mesh.primitive_cube_add()
    obj = bpy.context.object
    assert why_not(obj) == ""
    bpy.ops.object.mode_set(mode="EDIT")
    assert "Leave Edit Mode" in why_not(obj)
    bpy.ops.object.mode_set(mode="SCULPT")
    assert why_not(obj) == ""
    obj.modifiers.new("levels", "MULTIRES")
    assert "leave Sculpt Mode" in why_not(obj)
    bpy.ops.object.mode_set(mode="OBJECT")
    with pytest.raises(RuntimeError, match="no faces"):
        _measure_empty()


def _measure_empty() -> None:
    bpy.ops.object.add(type="MESH")
    bpy.ops.buckwright.live_draft()


def test_degenerate_faces_are_not_judged(modules: SimpleNamespace) -> None:
    mesh = bpy.data.meshes.new("thin")
    mesh.from_pydata([(0, 0, 0), (1, 0, 0), (2, 0, 0), (0, 1, 0)], [], [(0, 1, 2), (0, 1, 3)])
    obj = bpy.data.objects.new("thin", mesh)
    bpy.context.scene.collection.objects.link(obj)
    shown = modules.live_draft.measure(bpy.context, obj)
    assert np.isnan(shown.values["draft_deg"]).tolist() == [True, False]
    assert shown.values["state"].tolist() == [3, 0]
    assert shown.shares == (1.0, 0.0, 0.0)


def test_the_operator_tells_the_shares(modules: SimpleNamespace) -> None:
    bpy.ops.mesh.primitive_cube_add()
    assert bpy.ops.buckwright.live_draft() == {"FINISHED"}
    shown = modules.overlay.shown(bpy.context.scene)
    # top free, four walls tight (upright, 3 degrees wanted), bottom leaning under
    assert shown.shares == pytest.approx((1 / 6, 4 / 6, 1 / 6))


def test_the_first_look_has_draft_colours_at_once(addon, modules, solid, fast):
    """Before the child has found anything, which takes long the first time; then its own take their place."""
    import sys
    import time

    scene = bpy.context.scene
    sculpt = solid()
    assert modules.overlay.shown(scene) is None
    begin = sys.modules[f"{addon.__name__}.ui.run_operator"].RunOperator.begin
    began = time.perf_counter()
    work = begin(SimpleNamespace(command="look"), bpy.context)
    shown = modules.overlay.shown(scene)
    assert time.perf_counter() - began < 5.0 and not work.poll()
    assert shown.live and shown.anchor == sculpt.session_uid
    words = addon.view.legend.stale_words(scene, shown)
    assert words == ["Draft along the pull so far:", "the rest follows"]
    while not work.poll():
        time.sleep(0.02)
    addon.scene.write_results.write(scene, work.result(bpy.context))
    work.close()
    assert not modules.overlay.paint(scene).live  # as a timer does in a window
    # What a look has found is not covered by the next one's beginning.
    work = begin(SimpleNamespace(command="look"), bpy.context)
    assert not modules.overlay.shown(scene).live
    work.close()
