"""Round sheets against the independent ring model (conftest), and what must hold on any sheet."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.interpolate import LinearNDInterpolator
from scipy.optimize import brentq
from scipy.spatial import cKDTree
from scipy.stats import spearmanr

from buckwright.forming.forecast.formed import FOLDED, LANDED, PREVIEW
from buckwright.forming.forecast.landing import landing_surface
from buckwright.forming.forecast.membrane import Law, reference
from buckwright.forming.forecast.sheet_grid import disc, rectangle, sheet_grid
from buckwright.forming.forecast.steps import form_sheet
from buckwright.forming.forecast.thickness import nodal_thickness

SLOPE = np.tan(np.pi / 3)


def formed(
    height, outline, *, nodes, start_mm=0.0, end_mm=0.0, pressure, turn_deg=0.0, pixels=12, **settings
):
    grid = sheet_grid(outline, nodes=nodes, turn_deg=turn_deg)
    bounds = np.array([grid.nodes.min(0), grid.nodes.max(0)])
    pixel = max(min(grid.cell_mm, settings.get("finest_mm", np.inf)) / pixels, 1e-3)
    ground = landing_surface(height, bounds_xy=bounds, pixel_mm=pixel, platen_mm=min(end_mm, -9.0))
    ref = reference(grid.nodes, grid.triangles)
    start = np.column_stack([grid.nodes, np.full(len(grid.nodes), start_mm)])
    result = form_sheet(
        grid, ref, ground, start=start, frame_to_mm=end_mm, pressure_per_mm=pressure, **settings
    )
    ref = reference(result.rest, result.grid.triangles)
    return grid, ref, result, nodal_thickness(result.points, ref)


def errors(rings, grid, result, thickness):
    """Relative errors of the landed nodes, and the rank correlation of the order of contact."""
    radius = np.hypot(*result.grid.nodes.T)
    exact = np.interp(radius, *rings.thickness())
    judged = (result.state == LANDED) & (radius < rings.radius - 1.5 * grid.cell_mm)
    place = np.full(rings.rings + 1, np.inf)
    place[rings.order] = np.arange(len(rings.order))
    order = np.interp(radius, rings.R[np.isfinite(place)], place[np.isfinite(place)])
    rank = spearmanr(order[judged], result.touched[judged]).statistic
    return (thickness / exact - 1.0)[judged], rank


def rms(e):
    return np.sqrt(np.mean(e**2))


def cone(press, rings=120, until=30.0):
    rings = press(1 / SLOPE, rings, lambda r, z: 0.5 * (z + 1 - r * SLOPE)).sunk().press(until=until)
    return rings, lambda q: np.hypot(*q.T) * SLOPE - 1, disc(1 / SLOPE), {}


def cylinder(press, rings=120, until=30.0):
    rings = press(1.0, rings, lambda r, z: np.minimum(1 - r, z + 1)).sunk().press(until=until)
    # the wall stands half a pixel outside the polygon of the frame, which delays its contact: fine pixels
    return rings, lambda q: np.where(np.hypot(*q.T) < 1, -1.0, 0.0), disc(1.0), {"pixels": 24}


def male(press, gap, top, height, rings, until):
    rings = press(1.0, rings, gap).hung(0.01).press(lowering=True, until=top)
    rings.z[-1] = -top
    assert rings.balance()
    rings.press(until=until)
    return rings, height, disc(1.0), {"start_mm": top + 1e-4}


def male_cone(press, rings=120, until=30.0):
    top = 0.5 * SLOPE
    return male(
        press,
        lambda r, z: np.minimum(0.5 * (z + r * SLOPE), z + top),
        top,
        lambda q: np.maximum(top - np.hypot(*q.T) * SLOPE, 0),
        rings,
        until,
    )


def hemisphere(press, rings=120, until=30.0):
    return male(
        press,
        lambda r, z: np.minimum(np.hypot(r, z + 0.5) - 0.5, z + 0.5),
        0.5,
        lambda q: np.sqrt(np.maximum(0.25 - (q**2).sum(1), 0)),
        rings,
        until,
    )


@pytest.mark.parametrize("case", [cone, cylinder, male_cone, hemisphere])
def test_thickness_and_order_of_contact_agree_with_the_ring_model(press, case):
    rings, height, outline, settings = case(press)
    grid, _, result, t = formed(height, outline, nodes=4000, pressure=rings.p, **settings)
    e, rank = errors(rings, grid, result, t)
    # at 4000 nodes; the goal of 1 % and 3 % at 20,000 is measured in benchmarks/bench_forecast.py
    assert rms(e) < 0.017
    assert np.percentile(np.abs(e), 95) < 0.03
    assert rank > 0.995
    assert not result.turned.any() and not result.forced and not result.stopped
    assert t.max() < 1.001


@pytest.mark.parametrize(
    ("case", "most_rms", "least_rank"),
    [(cone, 0.005, 0.999), (male_cone, 0.005, 0.999), (hemisphere, 0.005, 0.999), (cylinder, 0.012, 0.96)],
)
def test_at_full_vacuum_a_split_sheet_agrees_with_the_ring_model(press, case, most_rms, least_rank):
    # sharpest radius of 1 mm in a frame of 50 mm radius, as users run it; cells half as long where needed.
    # The cylinder misses 0.5 % in the fillet of its corner alone, where thickness falls by half within a cell
    rings, height, outline, settings = case(press, rings=600, until=100.0)
    settings = settings | {"pixels": 8}
    grid, _, result, t = formed(height, outline, nodes=10_000, pressure=rings.p, finest_mm=0.01, **settings)
    e, rank = errors(rings, grid, result, t)
    assert rms(e) < most_rms
    assert np.percentile(np.abs(e), 95) < 0.01
    assert rank > least_rank
    assert not result.turned.any() and not result.forced and not result.stopped
    assert len(result.points) > len(grid.nodes) or case is cone  # whose cells are short enough as they are


def test_the_order_on_an_upright_wall_does_not_wait_for_notches_of_its_raster(press):
    # heights at the middles of the pixels alone, a staircase for a wall, gave 0.87
    rings, height, outline, _ = cylinder(press)
    grid, _, result, t = formed(height, outline, nodes=8000, pressure=rings.p, pixels=12)
    assert errors(rings, grid, result, t)[1] > 0.985


def test_the_error_falls_with_the_cell(press):
    rings, height, outline, settings = hemisphere(press)

    def error(nodes, turn_deg):
        grid, _, result, t = formed(
            height, outline, nodes=nodes, pressure=rings.p, turn_deg=turn_deg, **settings
        )
        return rms(errors(rings, grid, result, t)[0])

    # the worst of three attitudes of the net against the middle one of the coarser
    few, many = ([error(nodes, turn) for turn in (0.0, 11.0, 22.0)] for nodes in (700, 5000))
    assert max(many) < 0.55 * np.median(few)
    assert max(many) < 0.006


def test_the_preview_is_coarser_but_near(press):
    rings, height, outline, settings = hemisphere(press)
    grid, _, result, t = formed(height, outline, nodes=2000, pressure=rings.p, care=PREVIEW, **settings)
    assert rms(errors(rings, grid, result, t)[0]) < 0.03


def test_mooney_rivlin_against_the_ring_model(press):
    rings = press(1.0, 120, lambda r, z: np.minimum(1 - r, z + 0.8), share=0.1).sunk().press(until=30.0)
    grid, _, result, t = formed(
        lambda q: np.where(np.hypot(*q.T) < 1, -0.8, 0.0),
        disc(1.0),
        nodes=3000,
        pressure=rings.p,
        law=Law(0.1),
        pixels=24,
    )
    assert rms(errors(rings, grid, result, t)[0]) < 0.02


def stem(press, nodes):
    """Errors on a ball of 10 mm, 30 mm high in a frame of 50 mm, lengths in frames; sharpest radius 0.9."""
    ball, top, pressure = 0.2, 0.6, 2.0 * 50.0 / 0.9

    def gap(r, z):
        wall = np.where(z > -ball, np.hypot(r, z + ball) - ball, r - ball)
        return np.minimum(wall, z + top)

    rings = press(1.0, 200, gap, relaxed=True).hung(0.01).press(lowering=True, until=top)
    rings.z[-1] = -top
    assert rings.balance()
    rings.press(until=pressure)

    def height(q):
        cap = top - ball + np.sqrt(np.maximum(ball**2 - (q**2).sum(1), 0.0))
        return np.where((q**2).sum(1) < ball**2, cap, 0.0)

    grid, _, result, t = formed(height, disc(1.0), nodes=nodes, pressure=pressure, start_mm=top + 1e-4)
    return errors(rings, grid, result, t)[0], result


@pytest.mark.parametrize("nodes", [2500, 5000, 10_000])
def test_a_ball_on_a_stem_wrinkles_without_folding(press, nodes):
    # At its foot the sheet is half as wide as it was: with a slack that folds, 12 % RMS at 5,000 nodes
    e, result = stem(press, nodes)
    # 2,500 nodes: 1.9 to 2.2 % in five attitudes of the net
    assert rms(e) < (0.022 if nodes == 2500 else 0.02)
    assert not result.turned.any() and (result.state != FOLDED).all()


def shot(pole, pressure):
    """Membrane equilibrium of an inflated neo-Hookean disc of radius 1 from its pole outwards."""

    def along(pull, hoop):
        stretch = np.maximum(1.0, pull + 0.5)
        for _ in range(50):
            stretch = stretch - (stretch - stretch**-3 * hoop**-2 - pull) / (1 + 3 * stretch**-4 * hoop**-2)
        return stretch

    def slope(R, y):
        r, _, level, upright = y
        pull, hoop = np.hypot(level, upright) / R, r / R
        stretch = along(pull, hoop)
        c, s = level / (R * pull), upright / (R * pull)
        around = hoop - hoop**-3 * stretch**-2
        return [
            stretch * c,
            -stretch * s,
            around - pressure * r * stretch * s,
            pressure * r * stretch * c,
        ]

    e = 1e-4
    start = [pole * e, 0, e * (pole - pole**-5), 0.5 * pressure * (pole * e) ** 2]
    return solve_ivp(slope, (e, 1.0), start, rtol=1e-8, atol=1e-10, dense_output=True)


def test_an_inflated_disc_against_shooting():
    pole = 1.5
    pressure = brentq(lambda p: shot(pole, p).y[0, -1] - 1, 1.0, 2.0)
    assert pressure == pytest.approx(1.643582, abs=2e-6)  # Adkins & Rivlin's problem, as in the notes
    exact = shot(pole, pressure)
    grid, _, result, t = formed(lambda q: np.full(len(q), -9.0), disc(1.0), nodes=6000, pressure=pressure)
    assert -result.points[:, 2].min() == pytest.approx(-exact.y[1, -1], rel=5e-4)
    R = np.hypot(*grid.nodes.T)
    inner = (R + 1.5 * grid.cell_mm < 1) & (R > 1e-3)
    r, _, level, upright = exact.sol(R[inner])
    pull, hoop = np.hypot(level, upright) / R[inner], r / R[inner]
    stretch = np.full(len(r), 2.0)
    for _ in range(50):
        stretch -= (stretch - stretch**-3 * hoop**-2 - pull) / (1 + 3 * stretch**-4 * hoop**-2)
    e = t[inner] * stretch * hoop - 1
    assert rms(e) < 0.004
    assert t[np.argmin(R)] == pytest.approx(pole**-2, rel=0.004)


def bowl(q):
    return (
        -0.5
        + 0.6 * (q[:, 0] ** 2 + 1.3 * q[:, 1] ** 2)
        + 0.1 * np.exp(-30 * ((q[:, 0] - 0.3) ** 2 + q[:, 1] ** 2))
    )


def test_turning_the_lattice_changes_little():
    thick = []
    for turn in (0.0, 15.0):
        grid, _, _, t = formed(bowl, disc(0.6), nodes=3000, pressure=10.0, turn_deg=turn)
        inner = np.hypot(*grid.nodes.T) < 0.55
        grid_xy = grid.nodes[inner]
        probe = 0.5 * np.stack(
            np.meshgrid(np.linspace(-0.9, 0.9, 12), np.linspace(-0.9, 0.9, 12)), -1
        ).reshape(-1, 2)
        probe = probe[np.hypot(*probe.T) < 0.5]
        thick.append(LinearNDInterpolator(grid_xy, t[inner])(probe))
    spread = np.ptp(thick, axis=0) / np.mean(thick, axis=0)
    assert np.percentile(spread, 95) < 0.02


def test_a_symmetric_case_comes_out_symmetric():
    ridge = lambda q: np.maximum(0.3 - np.abs(q[:, 0]) * 1.2, 0)  # noqa: E731
    grid, _, _, t = formed(ridge, rectangle(1.0, 0.8), nodes=3000, start_mm=0.3001, pressure=20.0)
    apart, twin = cKDTree(grid.nodes).query(grid.nodes * [-1, 1])
    same = apart < 1e-6
    assert same.mean() > 0.9
    e = (t[twin] / t - 1)[same]
    assert np.percentile(np.abs(e), 99) < 0.02


def test_volume_is_kept_exactly():
    _, ref, result, t = formed(bowl, disc(0.6), nodes=2000, pressure=10.0)
    x, tri = result.points, ref.triangles
    area = 0.5 * np.linalg.norm(np.cross(x[tri[:, 1]] - x[tri[:, 0]], x[tri[:, 2]] - x[tri[:, 0]]), axis=1)
    share = np.bincount(tri.ravel(), np.repeat(area / 3, 3))
    assert (share * t).sum() == pytest.approx(ref.area_mm2.sum(), rel=1e-12)


def test_a_run_that_may_not_go_on_says_so():
    _, _, result, _ = formed(bowl, disc(0.6), nodes=500, pressure=10.0, most_steps=12)
    assert "12 steps" in result.stopped
    assert len(result.pressure_per_mm) == 12


def test_progress_rises_and_can_stop_the_work():
    seen = []

    def tick(share):
        seen.append(share)
        if share > 0.8:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        formed(bowl, disc(0.6), nodes=500, pressure=10.0, tick=tick)
    assert np.all(np.diff(seen) >= 0) and seen[0] >= 0
