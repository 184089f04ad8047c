"""Figures of the part: a mean over a disc by closed forms, on any net; bands; the gauge that is tried."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.spatial import Delaunay

from buckwright.forming.forecast import figures as module
from buckwright.forming.forecast.bands import band_of
from buckwright.forming.forecast.disc_means import may_be_least
from buckwright.forming.forecast.figures import Figures, figures_of, weakest_spot
from buckwright.forming.forecast.forecast_sheet import forecast_sheet
from buckwright.forming.forecast.gauges import better_gauge
from buckwright.forming.forecast.part import FOLD_CELLS, Part
from buckwright.forming.forecast.sheet_grid import rectangle, sheet_grid
from buckwright.forming.forecast.thickness import formed_area_mm2


def bowl(nodes, turn_deg=0.0, slope=0.02):
    """A flat part of 60 x 60 mm, thinnest at (7, -4): t = 0.2 + slope r."""
    grid = sheet_grid(rectangle(60.0, 60.0), nodes=nodes, turn_deg=turn_deg)
    points = np.column_stack([grid.nodes, np.zeros(len(grid.nodes))])
    thick = 0.2 + slope * np.hypot(*(grid.nodes - [7.0, -4.0]).T)
    return grid, points, thick, thick[grid.triangles].mean(1) * grid.area_mm2


@pytest.mark.parametrize("nodes", [150, 1000, 8000])
@pytest.mark.parametrize("turn_deg", [0.0, 17.0])
def test_the_weakest_spot_is_the_mean_over_a_disc_on_any_net(nodes, turn_deg):
    # the mean of r over a disc of radius 5 is two thirds of it
    grid, points, _, volume = bowl(nodes, turn_deg)
    found, where = weakest_spot(points[grid.triangles], volume)
    assert found == pytest.approx(0.2 + 0.02 * 10.0 / 3.0, rel=0.12 if nodes == 150 else 0.02)
    assert np.hypot(where[0] - 7.0, where[1] + 4.0) < (4.0 if nodes == 150 else 1.5)


def test_a_single_thin_triangle_does_not_make_a_weak_spot():
    grid, points, _, volume = bowl(2000, slope=0.0)
    volume[300] *= 0.1
    assert weakest_spot(points[grid.triangles], volume)[0] > 0.95 * 0.2


def test_only_what_is_known_enters_the_figures():
    grid, points, thick, volume = bowl(3000)
    area = formed_area_mm2(points, grid.triangles)
    whole = np.ones(len(volume), bool)
    far = np.hypot(*(points[grid.triangles].mean(1)[:, :2] - [7.0, -4.0]).T) > 10.0
    told = figures_of(points, grid.triangles, Part(whole, far), thick, area, volume, 1.0)
    assert told.weakest_mm > 0.4 and told.thin_mm > 0.4
    assert told.not_known_share == pytest.approx(np.pi * 100.0 / 3600.0, rel=0.05)
    assert told.areal_draw_ratio == pytest.approx(1.0 / told.mean_mm)
    every = figures_of(points, grid.triangles, Part(whole, whole), thick, area, volume, 1.0)
    # 5 % of the area lie within r = sqrt(0.05 x 3600 / pi)
    assert every.thin_mm == pytest.approx(0.2 + 0.02 * np.sqrt(180.0 / np.pi), rel=0.01)
    assert every.not_known_share == pytest.approx(0.0, abs=1e-12)


def figures(weakest, thin):
    return Figures(thin, weakest, (0.0, 0.0, 0.0), (thin,) * 5, 0.5, 2.0, 0.0)


def test_a_band_is_the_difference_of_two_levels_or_the_scatter():
    wide = band_of(figures(0.10, 0.20), figures(0.16, 0.26))
    assert (wide.weakest_mm, wide.thin_mm) == pytest.approx((0.06, 0.06))
    chance = band_of(figures(0.10, 0.20), figures(0.10, 0.20))
    assert 0.0 < chance.weakest_mm < 0.06 and 0.0 < chance.thin_mm < 0.06
    blind = band_of(figures(0.10, 0.20), figures(0.16, 0.26), overlooks=True)
    assert (blind.weakest_mm, blind.thin_mm) == pytest.approx((0.12, 0.12))
    folded = replace(figures(0.10, 0.20), not_known_share=0.05)
    assert band_of(folded, folded).weakest_mm > chance.weakest_mm


def run_of(weakest, band, sheet=0.75):
    return SimpleNamespace(
        settings=SimpleNamespace(sheet_mm=sheet), figures=figures(weakest, 0.2), certain_mm=weakest - band
    )


def test_a_gauge_is_named_only_when_a_run_with_it_leaves_enough():
    tried = []

    def again(sheet_mm):
        tried.append(sheet_mm)
        return run_of({1.5: 0.35, 2.0: 0.41}[sheet_mm], 0.0, sheet_mm)

    # 0.2 - 0.04 of 0.75 mm: 1.5 mm would leave 0.32 in proportion; its run leaves 0.35, but 0.28 for certain
    found = better_gauge(run_of(0.2, 0.04), again)
    assert tried == [1.5, 2.0]
    assert (found.sheet_mm, found.weakest_mm) == (2.0, 0.41)
    assert found.band_mm == pytest.approx(0.2 * 0.41)


def test_no_gauge_is_tried_where_enough_is_certain_or_none_would_do():
    def never(_sheet_mm):
        raise AssertionError

    assert better_gauge(run_of(0.4, 0.05), never) is None
    assert better_gauge(run_of(0.05, 0.02), never) is None


@pytest.fixture(scope="module")
def mound():
    """A mound with a dip on its side, so that the weakest spot is off any symmetry; four nets, one turned."""

    def height(q):
        out = np.maximum(24.0 - 0.02 * (q**2).sum(1), 0.0)
        return np.maximum(out - 11.0 * np.exp(-((q - [9.0, 4.0]) ** 2).sum(1) / 40.0), 0.0)

    def turned(q, deg):
        c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
        return q @ np.array([[c, s], [-s, c]])

    corners = rectangle(110.0, 100.0)
    runs = []
    for nodes, quality, deg in (
        (400, "preview", 0),
        (1600, "preview", 0),
        (1600, "preview", 17),
        (6400, "fine", 0),
    ):
        runs.append(
            forecast_sheet(
                lambda q, deg=deg: height(turned(q, -deg)),
                frame_mm=turned(corners, deg),
                sheet_mm=1.0,
                nodes=nodes,
                quality=quality,
                finest_mm=2.0 if nodes == 400 else None,
            )
        )
    return runs


def test_a_finer_and_a_turned_net_stay_within_the_band(mound):
    coarse, shown, *others = (run.figures for run in mound)
    band = band_of(shown, coarse)
    for other in others:
        for name in ("thin_mm", "weakest_mm", "mean_mm"):
            assert abs(getattr(other, name) - getattr(shown, name)) <= getattr(band, name), name
    assert {len(run.webs) for run in mound} == {0}
    assert {len(run.counted_air) for run in mound} == {1}


def test_only_what_lands_late_is_split(mound):
    run = mound[1]
    cells = run.cells_mm
    dip = np.hypot(*(run.points[:, :2] - [9.0, 4.0]).T) < 3.0
    top = run.on_buck & (np.hypot(*run.points[:, :2].T + np.array([[8.0], [4.0]])) < 6.0)
    assert np.median(cells[dip]) < 0.5 * np.median(cells[top])
    assert run.settings.finest_cell_mm <= np.sqrt(2.0) * run.settings.sharpest_radius_mm
    assert run.settings.nodes > run.settings.first_nodes
    assert abs(run.volume_error) <= 1e-9
    assert run.formed.snapshots.shape[1] == len(run.points)


def test_three_cells_round_a_fold_are_not_known():
    def fin(q):
        return np.where(np.abs(q[:, 1]) < 25.0, np.clip((3.0 - np.abs(q[:, 0])) / 0.05, 0.0, 60.0), 0.0)

    run = forecast_sheet(fin, frame_mm=(120.0, 120.0), sheet_mm=1.0, nodes=2500, quality="preview")
    folds = run.points[np.isin(run.formed.state, (3, 4))]
    away = np.linalg.norm(folds - run.figures.weakest_at_mm, axis=1).min()
    assert away > (FOLD_CELLS - 1.0) * run.settings.finest_cell_mm
    assert run.figures.not_known_share > 0.0


@pytest.mark.parametrize("seed", [1, 2])
def test_middles_that_are_left_out_cannot_be_the_weakest(seed, monkeypatch):
    rng = np.random.default_rng(seed)
    x, y = (v.ravel() for v in np.meshgrid(np.linspace(0, 60, 31), np.linspace(0, 40, 21)))
    points = np.column_stack([x, y, 8.0 * np.sin(x / 7.0) * np.cos(y / 5.0)])
    points[:, :2] += rng.uniform(-0.5, 0.5, (len(x), 2))
    corners = points[Delaunay(points[:, :2]).simplices]
    a, b, c = corners.transpose(1, 0, 2)
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    volume = area * rng.uniform(0.4, 1.0, len(area))
    kept = []

    def counted(*args, **how):
        kept.append(may_be_least(*args, **how))
        return kept[-1]

    monkeypatch.setattr(module, "may_be_least", counted)
    found = weakest_spot(corners, volume)
    monkeypatch.setattr(module, "may_be_least", lambda *args, **how: np.ones(len(args[3]), bool))
    assert found == weakest_spot(corners, volume)
    assert 1 <= kept[0].sum() < 0.1 * len(kept[0])


def test_where_rounding_decides_a_middle_is_kept():
    # nine samples in a row, 5 mm apart: those beside each middle lie just at the edge of its disc
    places = np.column_stack([5.0 * np.arange(9), np.zeros(9), np.zeros(9)])
    volume = np.where(np.arange(9) == 4, 0.1, 1.0)
    assert may_be_least(places, np.ones(9), volume, np.arange(9), radius_mm=5.0).all()
    assert may_be_least(places, np.ones(9), volume, np.arange(9), radius_mm=4.9).tolist() == [
        n == 4 for n in range(9)
    ]
