"""The heat of the sheet: its map, the cold rim, and what they do to a sheet."""

import numpy as np
import pytest

from buckwright.errors import InputError, JobError
from buckwright.forming.forecast.forecast_sheet import forecast_sheet
from buckwright.forming.forecast.heat import HALVES_C, RISE_C, colder_c, rim_colder_of, stiff_from
from buckwright.forming.forecast.heat_map import rows_of
from buckwright.forming.forecast.landing import landing_surface
from buckwright.forming.forecast.membrane import Law, forces, reference
from buckwright.forming.forecast.settings import ForecastSettings
from buckwright.forming.forecast.sheet_grid import disc, rectangle, sheet_grid
from buckwright.forming.forecast.steps import form_sheet
from buckwright.forming.forecast.thickness import nodal_thickness


def test_the_rim_cools_with_the_square_of_the_radius_in_a_round_frame():
    grid = sheet_grid(disc(50.0), nodes=1500)
    colder = colder_c(grid, rim_colder_c=20.0)
    exact = 20.0 * (np.hypot(*grid.nodes.T) / 50.0) ** 2
    assert np.abs(colder - exact).max() < 0.2


def test_a_map_is_linear_between_its_values_and_its_first_row_lies_behind():
    grid = sheet_grid(rectangle(80.0, 40.0), nodes=500)
    colder = colder_c(grid, heat_map="0.9 1.1; 0.9, 1.1")
    across = grid.nodes[:, 0] / 40.0
    assert colder == pytest.approx(-0.1 * RISE_C * across, abs=1e-9)
    behind = colder_c(grid, heat_map="0.8; 1")
    assert behind == pytest.approx(0.1 * RISE_C * (1.0 + grid.nodes[:, 1] / 20.0), abs=1e-9)


def test_colder_by_so_many_degrees_is_twice_as_stiff():
    grid = sheet_grid(rectangle(1.0, 1.0), nodes=400)
    stiff = stiff_from(np.full(len(grid.nodes), HALVES_C), grid.triangles)
    assert stiff == pytest.approx(2.0)
    ref, twice = reference(grid.nodes, grid.triangles), reference(grid.nodes, grid.triangles, stiff=stiff)
    x = np.pad(grid.nodes * [1.4, 1.2], ((0, 0), (0, 1)))
    pressed = np.ones(len(grid.triangles), np.bool_)
    (pull, push), (pulls, pushes) = (forces(x, one, Law(), pressed) for one in (ref, twice))
    assert pulls == pytest.approx(2.0 * pull) and pushes == pytest.approx(push)


def test_a_strip_half_as_stiff_stretches_as_its_closed_form():
    # plane strain: equal pull s - s^-3 over stiffness in both halves, and the stretches add up
    grid = sheet_grid(rectangle(2.0, 0.3), nodes=700, mirror_sides="y")

    ridge = landing_surface(
        lambda q: np.where(np.abs(q[:, 0]) < 0.01, 1.0, -9.0),
        bounds_xy=np.array([grid.nodes.min(0), grid.nodes.max(0)]),
        pixel_mm=grid.cell_mm / 8,
        platen_mm=-9.0,
    )
    middle = grid.nodes[grid.triangles].mean(1)
    outer = np.abs(middle[:, 0]) > 0.5
    ref = reference(grid.nodes, grid.triangles, stiff=np.where(outer, 2.0, 1.0))
    start = np.pad(grid.nodes, ((0, 0), (0, 1)), constant_values=1.0001)
    result = form_sheet(grid, ref, ridge, start=start, frame_to_mm=0.0, pressure_per_mm=1e-6)
    thick = nodal_thickness(result.points, ref)
    along = np.abs(grid.nodes[:, 0])
    soft = 1.0 / thick[(along > 0.15) & (along < 0.4)].mean()
    hard = 1.0 / thick[(along > 0.6) & (along < 0.85)].mean()
    assert soft - soft**-3 == pytest.approx(2.0 * (hard - hard**-3), rel=0.03)
    assert 0.5 * (soft + hard) == pytest.approx(np.sqrt(2.0), rel=0.01)


def test_the_sheet_keeps_its_heat_where_it_is_split():
    def cone(q):
        return np.maximum(20.0 - np.hypot(*q.T), 0.0)

    runs = [
        forecast_sheet(
            cone,
            frame_mm=disc(50),
            sheet_mm=1.0,
            nodes=800,
            sharpest_radius_mm=2.0,
            finest_mm=finest,
            rim_colder_c=20.0,
            quality="preview",
        )
        for finest in (np.inf, 2.0)
    ]
    assert runs[1].settings.nodes > 1.5 * runs[0].settings.nodes
    wall = [one.thickness_at(np.array([[8.0, 0.0, 12.0], [0.0, 12.0, 8.0]]))[0] for one in runs]
    assert wall[1] == pytest.approx(wall[0], rel=0.05)


@pytest.mark.parametrize("words", ["0.9 1; 1", "warm", "0.5", "1.3 1", "nan", "; 1", "1 1;"])
def test_what_is_no_map_is_refused(words):
    with pytest.raises(JobError, match="heat"):
        rows_of(words)
    with pytest.raises(JobError, match="heat"):
        ForecastSettings(heat_map=words)


def test_heat_is_refused_out_of_range_and_by_the_geometric_model():
    def block(q):
        return np.where(np.abs(q).max(1) < 5, 5.0, 0.0)

    with pytest.raises(InputError, match="colder by 0 to 30"):
        forecast_sheet(block, frame_mm=(40, 40), sheet_mm=1, rim_colder_c=31.0)
    with pytest.raises(InputError, match="knows no heat"):
        forecast_sheet(block, frame_mm=(40, 40), sheet_mm=1, rim_colder_c=5.0, model="geometric")
    with pytest.raises(JobError, match="knows no heat"):
        ForecastSettings(model="geometric", heat_map="1 0.9")


def test_the_usual_rim_is_cold_unless_a_map_says_all():
    assert rim_colder_of(None, heat_map="", model="membrane") == 20.0
    assert rim_colder_of(None, heat_map="1 0.9", model="membrane") == 0.0
    assert rim_colder_of(None, heat_map="", model="geometric") == 0.0
    assert rim_colder_of(7.0, heat_map="1 0.9", model="membrane") == 7.0
