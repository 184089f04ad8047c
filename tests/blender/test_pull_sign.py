"""The pull at the sculpt: where arrow and platen are drawn, and that colours follow it."""

from importlib import import_module

import bpy
import numpy as np
import pytest


@pytest.fixture(scope="module")
def view(addon):
    return {name: import_module(f"{addon.__name__}.view.{name}") for name in ("pull_sign", "live_draft")}


def test_an_arrow_ends_at_its_tip(view):
    lines = view["pull_sign"].arrow(np.array([1.0, 2.0, 3.0]), np.array([1.0, 2.0, 8.0])).reshape(-1, 2, 3)
    assert lines[:, :, 2].max() == 8.0 and lines[:, :, 2].min() == 3.0
    # The head is round about the shaft, and wider than it.
    away = np.hypot(lines[1:, :, 0] - 1.0, lines[1:, :, 1] - 2.0)
    wide = np.unique(np.round(away, 6)).tolist()
    assert len(wide) == 2 and wide[0] == 0.0 and 0.3 < wide[1] < 1.0


def test_a_grid_fills_its_rectangle(view):
    lines = view["pull_sign"].grid(np.array([0.0, 1.0]), np.array([4.0, 3.0]), 7.0)
    assert lines.min(axis=0).tolist() == [0.0, 1.0, 7.0] and lines.max(axis=0).tolist() == [4.0, 3.0, 7.0]


def test_the_words_stand_past_the_tip_and_never_on_the_arrow(view):
    beyond, room, size = view["pull_sign"].beyond, (0.0, 0.0, 1000.0, 600.0), (80.0, 30.0)
    assert beyond((300.0, 300.0), (200.0, 280.0), size, room, off=10.0) == (310.0, 300.0)
    assert beyond((300.0, 300.0), (400.0, 280.0), size, room, off=10.0) == (210.0, 300.0)
    assert beyond((300.0, 300.0), (300.0, 400.0), size, room, off=10.0) == (310.0, 270.0)
    # At the edge of the view there is no room beside it.
    assert beyond((980.0, 300.0), (900.0, 200.0), size, room, off=10.0) == (920.0, 310.0)
    assert beyond((980.0, 300.0), (900.0, 400.0), size, room, off=10.0) == (920.0, 260.0)
    assert beyond((300.0, 595.0), (290.0, 500.0), size, room, off=10.0) == (310.0, 570.0)
    assert beyond((1100.0, 300.0), (900.0, 300.0), size, room, off=10.0) == (920.0, 310.0)
    assert beyond((500.0, 700.0), (500.0, 500.0), size, room, off=10.0) is None
    assert beyond((500.0, 300.0), (500.0, 200.0), (1200.0, 30.0), room, off=10.0) is None


def test_there_is_no_sign_before_a_look(view, scene, solid):
    solid()
    assert view["pull_sign"].sign_of(scene) is None


def test_the_found_pull_is_shown_with_the_platen_under_the_sculpt(view, scene, solid, fast):
    solid()
    bpy.ops.buckwright.look()
    sign = view["pull_sign"].sign_of(scene)
    assert sign.words == "Pull +Z"
    # The frustum of 15 mm stands on the platen; what the part will shrink is added around its middle.
    assert np.ptp(sign.plane[:, 2]) < 1e-6 and sign.plane[0, 2] * 1000.0 == pytest.approx(0.0, abs=0.2)
    assert np.abs(sign.plane[:, :2]).min(axis=0).max() < 0.03 and np.ptp(sign.plane[:, 0]) > 0.04
    assert sign.arrow[:, 2].min() > 0.015 and sign.tip[2] == sign.arrow[:, 2].max()
    assert np.allclose(sign.tip[:2], 0.0, atol=1e-4)


def test_the_sign_follows_own_numbers(view, scene, solid, fast):
    solid()
    bpy.ops.buckwright.look()
    fast.pull.direction = "VECTOR"
    fast.pull.direction_vector = (3.0, 0.0, 4.0)
    sign = view["pull_sign"].sign_of(scene)
    assert sign.words == "Pull (0.60, 0.00, 0.80)"
    way = np.array([0.6, 0.0, 0.8])
    assert np.ptp(sign.plane @ way) < 1e-6
    # The plane touches the sculpt from below.
    bottom = np.array([(x, 0.0, 0.0) for x in (-0.02, 0.02)]) @ way
    assert sign.plane[0] @ way == pytest.approx(bottom.min(), abs=5e-4)
    assert sign.tip @ way > 0.015
    fast.pull.direction_vector = (0.0, 0.0, 0.0)
    assert view["pull_sign"].sign_of(scene) is None


def test_a_buck_along_another_pull_does_not_turn_the_platen(view, scene, solid, fast):
    solid()
    bpy.ops.buckwright.make()
    fast.pull.direction = "X"
    bpy.ops.buckwright.look()
    sign = view["pull_sign"].sign_of(scene)
    assert sign.words == "Pull +X" and np.ptp(sign.plane[:, 0]) < 1e-6


def test_turning_the_pull_is_told(addon, scene):
    told = []
    turned = addon.scene.settings.pull_turned
    turned.listen(told.append)
    try:
        scene.buckwright.pull.direction = "X"
        scene.buckwright.pull.direction_vector[1] = 0.5
        scene.buckwright.fill.mode = scene.buckwright.fill.mode
    finally:
        turned.ignore(told.append)
    assert told == [scene, scene]


def test_turning_the_pull_recolours_the_draft(addon, view, scene, solid, fast):
    one = solid()
    live, overlay = view["live_draft"], addon.view.overlay
    live.measure(bpy.context, one)
    fast.pull.direction, fast.pull.direction_vector = "VECTOR", (1.0, 0.0, 1.0)
    live.follow_pull(bpy.context)
    shown = overlay.shown(scene)
    wanted = np.degrees(np.arcsin(shown.faces.normals @ np.array([1.0, 0.0, 1.0]) / np.sqrt(2.0)))
    assert shown.live and np.allclose(shown.values["draft_deg"], wanted, atol=0.05)
    # By one number alone, and on a shape that was changed meanwhile.
    one.data.transform(((2, 0, 0, 0), (0, 1, 0, 0), (0, 0, 1, 0), (0, 0, 0, 1)))
    shown.changed = True
    fast.pull.direction_vector[0] = 0.0
    live.follow_pull(bpy.context)
    again = overlay.shown(scene)
    assert again.values["draft_deg"].max() == pytest.approx(90.0, abs=0.05)
    assert np.ptp(again.faces.vertices, axis=0)[0] == pytest.approx(
        2.0 * np.ptp(shown.faces.vertices, axis=0)[0]
    )


def test_the_colours_of_a_look_come_back_with_its_pull(addon, view, scene, solid, fast):
    solid()
    bpy.ops.buckwright.look()
    live, overlay = view["live_draft"], addon.view.overlay
    overlay.paint(scene)
    live.follow_pull(bpy.context)
    assert not overlay.shown(scene).live, "nothing was turned"
    fast.pull.direction, fast.pull.direction_vector = "VECTOR", (0.0, 0.3, 1.0)
    live.follow_pull(bpy.context)
    assert overlay.shown(scene).live
    fast.pull.direction_vector = (0.0, 0.0, 2.0)
    live.follow_pull(bpy.context)
    assert not overlay.shown(scene).live


def test_a_pull_without_direction_changes_no_colours(addon, view, scene, solid, fast):
    live = view["live_draft"]
    shown = live.measure(bpy.context, solid())
    fast.pull.direction, fast.pull.direction_vector = "VECTOR", (0.0, 0.0, 0.0)
    live.follow_pull(bpy.context)
    assert addon.view.overlay.shown(scene) is shown


def test_an_own_direction_has_numbers(addon, scene):
    """A layout that notes what is drawn into it."""
    drawn = []

    class Layout:
        def row(self, **_more):
            return self

        column = row

        def prop(self, group, name, index=-1, **_more):
            drawn.append((name, index))

    scene.buckwright.pull.direction = "VECTOR"
    addon.ui.panels_of_settings.draw_field(Layout(), scene, "pull", "direction")
    assert [one for one in drawn if one[0] == "direction_vector"] == [
        ("direction_vector", -1), *(("direction_vector", k) for k in range(3))
    ]  # fmt: skip
