"""Heat that is painted over the frame stands for the heat map of the settings."""

import numpy as np
import pytest

USUAL = 0.5


@pytest.fixture
def forecast(addon, scene, quick):
    import bpy

    bpy.ops.buckwright.forecast()
    return scene


def _paint(grid, weight_at):
    """Set the weights by places of the grid's own mesh."""
    group = grid.vertex_groups["Heat"]
    for number, vertex in enumerate(grid.data.vertices):
        group.add([number], weight_at(*vertex.co), "REPLACE")


def test_without_a_forecast_there_is_no_frame_to_paint_over(addon, scene, quick):
    import bpy

    assert not bpy.ops.buckwright.paint_heat.poll() and not bpy.ops.buckwright.remove_heat.poll()


def test_the_grid_lies_over_the_frame_and_is_painted_at_once(addon, forecast):
    import bpy

    assert bpy.ops.buckwright.paint_heat() == {"FINISHED"}
    assert bpy.context.mode == "PAINT_WEIGHT"
    grid = addon.scene.heat_painting.painted(forecast)
    (sheet,) = addon.scene.results.objects(forecast, "SHEET")
    ours, theirs = ([np.array(one.matrix_world @ v.co) for v in one.data.vertices] for one in (grid, sheet))
    np.testing.assert_allclose(np.ptp(ours, axis=0)[:2], np.ptp(theirs, axis=0)[:2], rtol=1e-5)
    assert np.min(ours, axis=0)[2] > np.max(theirs, axis=0)[2]
    bpy.ops.object.mode_set(mode="OBJECT")
    # it is no sculpt: what was forecast stays chosen
    assert [one.name for one in addon.scene.snapshot.chosen(bpy.context)] == [
        one.name for one in addon.scene.results.sculpts(forecast)
    ]


def test_what_is_painted_is_the_heat_map(addon, forecast):
    import bpy

    tables, why = addon.scene.settings.read_tables, addon.scene.staleness.why
    assert why(forecast) == ""
    bpy.ops.buckwright.paint_heat()
    bpy.ops.object.mode_set(mode="OBJECT")
    grid = addon.scene.heat_painting.painted(forecast)
    assert tables(forecast)["forecast"]["heat_map"] == "" and why(forecast) == ""
    left, right = min(v.co.x for v in grid.data.vertices), max(v.co.x for v in grid.data.vertices)
    front = min(v.co.y for v in grid.data.vertices)
    # colder on the left, and the middle of the front at its hottest
    _paint(grid, lambda x, y, _z: 1.0 if y == front else USUAL * (x - left) / (right - left))
    rows = addon.bridge.library.heat_rows(tables(forecast)["forecast"]["heat_map"])
    assert set(rows[0]) == {1.2}
    np.testing.assert_allclose(rows[-1], np.linspace(0.8, 1.0, len(rows[-1])), atol=6e-4)
    assert why(forecast) != ""
    bpy.ops.buckwright.forecast()
    assert why(forecast) == ""
    bpy.ops.buckwright.remove_heat()
    assert tables(forecast)["forecast"].get("heat_map", "") == "" and why(forecast) != ""


def test_a_map_in_words_is_what_painting_begins_with(addon, forecast, tmp_path):
    import bpy

    forecast.buckwright.forecast.heat_map = "0.9 1 0.9; 1 1.1 1"
    bpy.ops.buckwright.paint_heat()
    rows = np.array(addon.bridge.library.heat_rows(addon.scene.heat_painting.words(forecast)))
    half = len(rows) // 2
    np.testing.assert_allclose(rows[0, [0, half, -1]], [1.0, 1.1, 1.0], atol=1e-6)
    np.testing.assert_allclose(rows[-1, [0, half, -1]], [0.9, 1.0, 0.9], atol=1e-6)
    np.testing.assert_allclose(rows[half, half], 1.05, atol=1e-6)

    # of a grid that was made finer, what lies nearest counts
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.mesh.subdivide()
    bpy.ops.object.mode_set(mode="OBJECT")
    finer = np.array(addon.bridge.library.heat_rows(addon.scene.heat_painting.words(forecast)))
    np.testing.assert_allclose(finer, rows, atol=1e-3)
    # a job that is opened has its own map
    (tmp_path / "job.toml").write_text('[forecast]\nheat_map = "0.9 1 0.9"\n', encoding="utf-8")
    addon.scene.job_file.open_job(forecast, tmp_path / "job.toml")
    assert addon.scene.heat_painting.painted(forecast) is None
    assert addon.scene.settings.read_tables(forecast)["forecast"]["heat_map"] == "0.9 1 0.9"
