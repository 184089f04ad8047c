"""A sheet that slides: the rope over a cylinder, no friction at all, and so much that it sticks."""

import numpy as np
import pytest

from buckwright.errors import InputError
from buckwright.forming.forecast import sliding
from buckwright.forming.forecast.findings import about_sheet
from buckwright.forming.forecast.forecast_sheet import forecast_sheet
from buckwright.forming.forecast.formed import FREE, LANDED
from buckwright.forming.forecast.friction import Friction
from buckwright.forming.forecast.landing import landing_surface
from buckwright.forming.forecast.membrane import reference
from buckwright.forming.forecast.sheet_grid import disc, rectangle, sheet_grid
from buckwright.forming.forecast.steps import form_sheet
from buckwright.forming.forecast.thickness import nodal_thickness

RADIUS = 0.5


def pulled_over_cylinder(friction, *, nodes=600, down_to_mm=-1.0):
    """A strip in plane strain, pulled down on both sides of half a cylinder: angles and thickness."""
    grid = sheet_grid(rectangle(2.4, 0.36), nodes=nodes, mirror_sides="y")
    ground = landing_surface(
        lambda q: np.where(
            np.abs(q[:, 0]) < RADIUS, np.sqrt(np.maximum(RADIUS**2 - q[:, 0] ** 2, 0.0)), -5.0
        ),
        bounds_xy=np.array([grid.nodes.min(0), grid.nodes.max(0)]),
        pixel_mm=grid.cell_mm / 8,
        platen_mm=-9.0,
    )
    ref = reference(grid.nodes, grid.triangles)
    start = np.column_stack([grid.nodes, np.full(len(grid.nodes), RADIUS + 1e-4)])
    result = form_sheet(
        grid, ref, ground, start=start, frame_to_mm=down_to_mm, pressure_per_mm=1e-6, friction=friction
    )
    assert result.stopped == ""
    angle = np.arctan2(np.abs(result.points[:, 0]), result.points[:, 2])
    return angle, nodal_thickness(result.points, ref), result


@pytest.mark.parametrize("friction", [0.1, 0.3, 0.5])
def test_pull_over_a_cylinder_grows_as_of_a_rope_on_a_bollard(friction):
    # L. Euler, Mém. Acad. Berlin 18 (1769); J. A. Eytelwein, Handbuch der Statik (1808): T ~ exp(mu angle).
    angle, thickness, result = pulled_over_cylinder(friction)
    lies = (result.state == LANDED) & (angle > 0.2) & (angle < 0.85 * angle[result.state == LANDED].max())
    # neo-Hookean in plane strain: stretch 1 / thickness, pull s - s^-3
    pull = 1.0 / thickness[lies] - thickness[lies] ** 3
    slope, _ = np.polyfit(angle[lies], np.log(pull), 1)
    assert slope == pytest.approx(friction, rel=0.15)


def test_without_friction_the_sheet_is_as_thick_everywhere():
    _, thickness, result = pulled_over_cylinder(0.0)
    inside = result.state != 1
    assert np.ptp(thickness[inside]) < 0.02 * thickness[inside].mean()


def test_much_friction_is_sticking():
    angle, sliding, slid = pulled_over_cylinder(50.0)
    _, sticking, stuck = pulled_over_cylinder(None)
    both = (
        (slid.state == LANDED) & (stuck.state == LANDED) & (angle < 0.9 * angle[stuck.state == LANDED].max())
    )
    assert both.sum() > 50
    assert np.abs(sliding[both] / sticking[both] - 1.0).mean() < 0.01


def test_the_top_of_a_dome_is_the_thinner_the_less_it_rubs():
    grid = sheet_grid(disc(1.0), nodes=800)
    ground = landing_surface(
        lambda q: np.sqrt(np.maximum(RADIUS**2 - (q**2).sum(1), 0.0)),
        bounds_xy=np.array([grid.nodes.min(0), grid.nodes.max(0)]),
        pixel_mm=grid.cell_mm / 8,
    )
    ref = reference(grid.nodes, grid.triangles)
    start = np.column_stack([grid.nodes, np.full(len(grid.nodes), RADIUS + 1e-4)])
    tops = []
    for friction in (None, 1.0, 0.5, 0.2, 0.1):
        result = form_sheet(
            grid, ref, ground, start=start, frame_to_mm=0.0, pressure_per_mm=20.0, friction=friction
        )
        assert result.stopped == ""
        assert (result.state == LANDED).sum() > 0.9 * (len(grid.nodes) - grid.clamped.sum())
        high = (result.state == LANDED) & (np.hypot(*result.points[:, :2].T) < 0.1)
        tops.append(nodal_thickness(result.points, ref)[high].mean())
    assert (np.diff(tops) < -0.02).all()


def test_a_node_is_held_up_to_the_cone_and_slides_by_what_is_beyond():
    plane = landing_surface(lambda q: 0.0 * q[:, 0], bounds_xy=np.array([[-1, -1], [1, 1]]), pixel_mm=0.1)
    friction = Friction(0.5, plane)
    force = np.array([[0.4, 0.0, -1.0], [0.0, 0.8, -1.0], [0.3, 0.0, 0.1]])
    up = np.tile([0.0, 0.0, 1.0], (3, 1))
    grown = np.array([1.0, 1.0, 1.0])
    assert friction.excess(force, up, grown) == pytest.approx(np.array([[0, 0, 0], [0, 0.3, 0], [0.3, 0, 0]]))
    assert friction.used(force, up, grown)[:2] == pytest.approx([0.8, 1.6])
    assert friction.used(force, up, 2.0 * grown)[:2] == pytest.approx([0.4, 0.8])


def test_a_node_that_slides_over_an_edge_leaves_the_ground():
    step = landing_surface(
        lambda q: np.where(q[:, 0] < 0.0, 1.0, 0.0), bounds_xy=np.array([[-2, -2], [2, 2]]), pixel_mm=0.1
    )
    x = np.array([[-1.0, 0.0, 1.0], [-0.3, 0.0, 1.0]])
    up = np.tile([0.0, 0.0, 1.0], (2, 1))
    left = Friction(0.1, step).slide(x, np.array([0, 1]), np.tile([0.6, 0.0, 0.0], (2, 1)), up)
    assert left.tolist() == [False, True]
    assert x[0] == pytest.approx([-0.4, 0.0, 1.0], abs=1e-4)
    assert x[1, 2] > 0.5


@pytest.mark.parametrize("friction", [-0.1, 2.1, np.nan])
def test_friction_out_of_range_is_refused(friction):
    with pytest.raises(InputError, match="friction must be between 0 and 2"):
        forecast_sheet(
            lambda q: np.where(np.hypot(*q.T) < 5, 5.0, 0.0), frame_mm=(40, 40), sheet_mm=1, friction=friction
        )


def test_the_geometric_model_knows_no_friction():
    with pytest.raises(InputError, match="does not support sag, vents or friction"):
        forecast_sheet(
            lambda q: np.where(np.hypot(*q.T) < 5, 5.0, 0.0),
            frame_mm=(40, 40),
            sheet_mm=1,
            model="geometric",
            friction=0.2,
        )


def test_a_sharp_box_keeps_its_walls():
    # A triangle that cuts off a sharp corner was driven on by the air, down to a hundredth of the sheet.
    def box(q):
        return np.where((np.abs(q[:, 0]) < 30) & (np.abs(q[:, 1]) < 20), 25.0, 0.0)

    def found(friction):
        result = forecast_sheet(box, frame_mm=(120, 100), sheet_mm=1.0, nodes=1500, friction=friction)
        top = result.on_buck & (result.points[:, 2] > 20) & (np.hypot(*result.points[:, :2].T) < 8)
        return result, result.thickness_mm[top].mean()

    (stuck, thick), (slid, thin) = found(None), found(0.2)
    assert slid.settings.friction == 0.2 and slid.formed.stopped == ""
    assert "friction" in slid.trust and "sticking" in stuck.trust
    assert thin < 0.9 * thick
    assert slid.figures.weakest_mm > 0.6 * stuck.figures.weakest_mm
    assert np.abs(slid.points[slid.formed.state == LANDED, 2]).max() <= 25.0 + 1e-6


def blunt_cone(q):
    """Radius of 30 mm on top, 40 mm high, 15 degrees."""
    return np.clip((30.0 + 40.0 * TAN15 - np.hypot(*q.T)) / TAN15, 0.0, 40.0)


TAN15 = np.tan(np.radians(15.0))


@pytest.fixture(scope="module")
def on_blunt_cone():
    """The sheet on a cone with a gap of 30 mm, sticking, and sliding until it has chilled."""
    side = 2.0 * (30.0 + 40.0 * TAN15) + 60.0
    settings = {"frame_mm": (side, side), "sheet_mm": 1.5, "nodes": 900, "quality": "preview"}
    settings |= {"finest_mm": np.inf}
    slips = {None: {}, 0.0: {"friction": 0.2}, 0.3: {"friction": 0.2, "sticks_after": 0.3}}
    return {name: forecast_sheet(blunt_cone, **settings, **slip) for name, slip in slips.items()}


def test_the_sooner_a_sheet_chills_the_more_of_a_broad_top_it_keeps(on_blunt_cone):
    top = {
        name: run.thickness_at(np.array([[0.0, 0.0, 40.0], [9.0, 0.0, 40.0]]))[0].mean()
        for name, run in on_blunt_cone.items()
    }
    assert top[0.0] < 0.95 * top[0.3] < 0.99 * top[None]


def test_no_sliding_run_ends_with_the_frame_still_up(on_blunt_cone):
    for run in on_blunt_cone.values():
        assert run.formed.stopped == "" and run.formed.frame_mm[-1] == pytest.approx(0.0, abs=1e-9)
        reached = run.formed.pressure_per_mm[-1] == pytest.approx(run.settings.pressure_per_mm)
        assert reached or not (run.formed.state == FREE).any()


def test_what_slides_too_long_sticks_and_says_what_to_change(monkeypatch):
    monkeypatch.setattr(sliding, "_SLIDE_STEPS", 0.05)
    side = 2.0 * (30.0 + 40.0 * TAN15) + 60.0
    run = forecast_sheet(
        blunt_cone,
        frame_mm=(side, side),
        sheet_mm=1.5,
        nodes=500,
        quality="preview",
        finest_mm=np.inf,
        friction=0.2,
    )
    assert run.formed.slid_to_mm > 0.0 and run.formed.frame_mm[-1] == pytest.approx(0.0, abs=1e-9)
    found = [one for one in about_sheet(run) if one.slug == "unfinished-forecast"]
    assert any("Raise the friction" in one.advice for one in found)


def test_a_slip_that_ends_needs_a_slip():
    with pytest.raises(InputError, match="give friction"):
        forecast_sheet(blunt_cone, frame_mm=(150, 150), sheet_mm=1, sticks_after=1.0)
    with pytest.raises(InputError, match="above 0"):
        forecast_sheet(blunt_cone, frame_mm=(150, 150), sheet_mm=1, friction=0.2, sticks_after=0.0)
