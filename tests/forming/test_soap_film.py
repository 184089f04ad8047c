"""The classical picture against its own closed forms (check_values 1.2 to 1.4 and 1.7 (a), derived there)."""

import numpy as np
import pytest

from buckwright.errors import InputError
from buckwright.forming.forecast.forecast_sheet import forecast_sheet
from buckwright.forming.forecast.formed import LANDED
from buckwright.forming.forecast.hull_drape import drape_by_hull
from buckwright.forming.forecast.landing import landing_surface
from buckwright.forming.forecast.sheet_grid import disc, sheet_grid
from buckwright.forming.forecast.soap_film import press_film
from buckwright.forming.forecast.thickness import formed_area_mm2, nodal_thickness

SLOPE = np.tan(np.pi / 3)


def pressed(height, *, nodes, pressure, pixels=12):
    grid = sheet_grid(disc(1.0), nodes=nodes)
    bounds = np.array([grid.nodes.min(0), grid.nodes.max(0)])
    ground = landing_surface(
        lambda q: height(np.hypot(*q.T)), bounds_xy=bounds, pixel_mm=grid.cell_mm / pixels, platen_mm=-9.0
    )
    result, ref = press_film(grid, ground, pressure_per_mm=pressure)
    return grid, result, ref, nodal_thickness(result.points, ref)


def rms(e):
    return np.sqrt(np.mean(e**2))


def test_female_cone_of_60_degrees_is_linear():
    # t/t0 = 0.75 (1 - z/H): the best single test of 1.2
    grid, result, ref, t = pressed(lambda r: r * SLOPE - SLOPE, nodes=3000, pressure=30.0)
    depth = -result.points[:, 2] / SLOPE
    judged = (result.state == LANDED) & (depth < 0.9) & (np.hypot(*grid.nodes.T) < 0.96)
    assert judged.sum() > 1000
    assert rms(t[judged] / (0.75 * (1 - depth[judged])) - 1) < 0.015
    assert (ref.area_mm2 * ref.weight).sum() == pytest.approx(grid.area_mm2.sum(), rel=1e-9)


def test_female_cylinder_thins_exponentially():
    # wall t/t0 = exp(-z/R) / 2 down to R over the floor, floor at its middle exp(-1) / 2
    _, result, _, t = pressed(lambda r: np.where(r < 1, -2.0, 0.0), nodes=3000, pressure=20.0, pixels=24)
    x = result.points
    r = np.hypot(x[:, 0], x[:, 1])
    wall = (result.state == LANDED) & (r > 0.99) & (x[:, 2] < -0.1) & (x[:, 2] > -1)
    assert wall.sum() > 300
    assert rms(t[wall] / (0.5 * np.exp(x[wall, 2])) - 1) < 0.035
    assert t[np.argmin(r)] == pytest.approx(0.5 * np.exp(-1), rel=0.04)


def test_cup_of_60_degrees():
    # 100 / 50 mm wide, 43.301 mm deep, row 3 of 1.4; here over a mouth of radius 1
    _, result, _, t = pressed(
        lambda r: np.where(r < 1, np.maximum((r - 1) * SLOPE, -0.86602), 0.0), nodes=3000, pressure=60.0
    )
    x = result.points
    assert t[np.argmin(np.hypot(x[:, 0], x[:, 1]))] == pytest.approx(0.5625, rel=0.01)
    for depth, exact in ((5, 0.706699), (10, 0.663397), (20, 0.576795), (30, 0.514330), (40, 0.426747)):
        near = (result.state == LANDED) & (np.abs(-50 * x[:, 2] - depth) < 1.0)
        assert t[near].mean() == pytest.approx(exact, rel=0.02)


def test_drape_over_a_dome_is_the_cosine_law_with_its_lift_off():
    # hemisphere of radius R, clamp 1.5 R at its base: lift-off at 41.81 degrees, t/t0 there .745356
    grid = sheet_grid(disc(0.75), nodes=3000)
    bounds = np.array([grid.nodes.min(0), grid.nodes.max(0)])
    ground = landing_surface(
        lambda q: np.sqrt(np.maximum(0.25 - (q**2).sum(1), 0)), bounds_xy=bounds, pixel_mm=grid.cell_mm / 12
    )
    draped = drape_by_hull(grid, ground)
    r = np.hypot(*grid.nodes.T)
    whole = draped.landed[grid.triangles].all(1)
    area = formed_area_mm2(draped.points, grid.triangles)
    share = draped.volume_mm3 / area
    assert share[~whole].mean() == pytest.approx(0.745356, rel=0.005)
    assert np.ptp(share[~whole]) < 1e-9
    assert r[draped.landed].max() == pytest.approx(0.5 * np.sin(np.radians(41.810)), abs=grid.cell_mm)
    middle = draped.points[grid.triangles[whole]].mean(1)
    cosine = np.sqrt(1 - (np.hypot(middle[:, 0], middle[:, 1]) / 0.5) ** 2)
    assert rms(share[whole] / cosine - 1) < 0.015
    assert draped.volume_mm3.sum() == pytest.approx(grid.area_mm2.sum(), rel=1e-12)


def test_a_second_opinion_behind_the_same_door():
    settings = {"frame_mm": (100.0, 100.0), "sheet_mm": 1.0, "nodes": 2000}
    cone = lambda q: np.maximum(25.0 - np.hypot(*q.T), 0.0)  # noqa: E731
    one, other = (forecast_sheet(cone, model=model, **settings) for model in ("membrane", "geometric"))
    assert abs(other.volume_error) <= 1e-9
    assert other.figures.mean_mm == pytest.approx(one.figures.mean_mm, rel=0.1)
    assert not other.webs
    assert other.to_dict()["settings"]["model"] == "geometric"


@pytest.mark.parametrize("setting", [{"model": "magic"}, {"sag_mm": 3.0}, {"vents_mm": [[0.0, 0.0]]}])
def test_refuses_what_it_cannot_answer(setting):
    settings = {"frame_mm": (100.0, 100.0), "sheet_mm": 1.0, "nodes": 500, "model": "geometric"} | setting
    with pytest.raises(InputError, match="model"):
        forecast_sheet(lambda q: np.maximum(25.0 - np.hypot(*q.T), 0.0), **settings)
