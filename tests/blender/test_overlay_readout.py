"""The value under the mouse: the right face at a place, the right words for it."""

from importlib import import_module
from types import ModuleType, SimpleNamespace

import bpy
import numpy as np
import pytest
from mathutils import Matrix, Vector

pytestmark = pytest.mark.usefixtures("scene")


@pytest.fixture(scope="module")
def modules(addon: ModuleType) -> SimpleNamespace:
    names = (
        "view.readout",
        "view.shown_result",
        "view.mesh_faces",
        "view.legend",
        "view.ramps",
        "scene.results",
        "scene.staleness",
    )
    return SimpleNamespace(
        **{name.rpartition(".")[2]: import_module(f"{addon.__name__}.{name}") for name in names}
    )


def shown(modules: SimpleNamespace, **more: object) -> object:
    """What is shown of a sphere, in its own space, moved by 5 along x."""
    bpy.ops.mesh.primitive_uv_sphere_add(segments=24, ring_count=16)
    faces = modules.mesh_faces.read_faces(bpy.context.object.data)
    count = len(faces.faces)
    values = {
        "state": np.arange(count, dtype=np.int32) % 3,
        "draft_deg": np.linspace(-90.0, 90.0, count).astype(np.float32),
        "undercut_mm": np.zeros(count, np.float32),
        "vent_reach_mm": np.full(count, np.nan, np.float32),
        "region": np.where(np.arange(count) % 3 == 2, 4, -1).astype(np.int32),
    }
    given = {
        "scene": bpy.context.scene.session_uid,
        "key": None,
        "live": False,
        "faces": faces,
        "values": values,
        "anchor": 0,
        "follow": Matrix.Translation((5.0, 0.0, 0.0)),
        "quantity": modules.ramps.QUANTITIES["STATE"],
        "wanted_deg": 3.0,
    }
    return modules.shown_result.Shown(**given | more)


def test_every_face_is_found_at_its_middle(modules: SimpleNamespace) -> None:
    one = shown(modules)
    finder = modules.readout.Finder(one.faces.vertices, one.faces.faces)
    middles = one.faces.vertices[one.faces.faces].mean(axis=1)
    found = [finder.find(Vector(middle)) for middle in middles]
    assert found == list(range(len(middles)))


def test_beside_the_sculpt_nothing_is_found(modules: SimpleNamespace) -> None:
    one = shown(modules)
    finder = modules.readout.Finder(one.faces.vertices, one.faces.faces)
    assert finder.find(Vector((0.0, 0.0, 1.1))) == -1
    empty = modules.readout.Finder(np.empty((0, 3), np.float32), np.empty((0, 3), np.int32))
    assert empty.find(Vector((0.0, 0.0, 0.0))) == -1


def test_places_are_in_the_world(modules: SimpleNamespace) -> None:
    one = shown(modules)
    finder = modules.readout.Finder(one.faces.vertices, one.faces.faces)
    middle = Vector(one.faces.vertices[one.faces.faces[7]].mean(axis=0))
    scene = bpy.context.scene
    assert modules.readout.face_at(scene, one, finder, middle + Vector((5.0, 0.0, 0.0))) == 7
    assert modules.readout.face_at(scene, one, finder, middle) == -1


def test_words_tell_what_is_known_and_nothing_else(modules: SimpleNamespace) -> None:
    one = shown(modules)
    one.values["undercut_mm"][2] = 1.25
    scene = bpy.context.scene
    scene.unit_settings.length_unit = "MILLIMETERS"
    last = len(one.faces.faces) - 1
    one.values["state"][last] = 0
    one.values["region"][last] = -1
    assert modules.readout.words_at(scene, one, last) == ["Free", "Draft Angle: 90°"]
    trapped = modules.readout.words_at(scene, one, 2)
    assert trapped[0] == "Trapped"
    assert "Undercut Depth: 1.25 mm" in trapped
    assert trapped[-1] == "Trapped Region 5"
    one.values["state"][0] = 3
    assert modules.readout.words_at(scene, one, 0)[0] == "Not judged"


def test_lengths_follow_the_units_of_the_scene(modules: SimpleNamespace) -> None:
    scene = bpy.context.scene
    scene.unit_settings.system = "IMPERIAL"
    quantity = modules.ramps.QUANTITIES["POCKET_MM"]
    assert modules.legend.value_words(scene, quantity, 12.7) == "0.5 in"
    assert modules.legend.value_words(scene, modules.ramps.QUANTITIES["DRAFT_DEG"], -6.0) == "−6°"
    assert modules.legend.value_words(scene, modules.ramps.QUANTITIES["CONTACT_ORDER"], 0.5) == "0.5"


def test_colours_say_when_they_are_out_of_date(
    modules: SimpleNamespace, monkeypatch: pytest.MonkeyPatch
) -> None:
    scene = bpy.context.scene
    one = shown(modules)
    monkeypatch.setattr(modules.staleness, "seen", lambda _scene: "")
    assert modules.legend.stale_words(scene, one) == []
    monkeypatch.setattr(modules.staleness, "seen", lambda _scene: "The sculpt has changed")
    assert modules.legend.stale_words(scene, one) == ["Out of date: look again"]
    live = shown(modules, live=True)
    assert "overhangs" in " ".join(modules.legend.stale_words(scene, live))
    live.changed = True
    assert modules.legend.stale_words(scene, live)[-1] == "Out of date"
