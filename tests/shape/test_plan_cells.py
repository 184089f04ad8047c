"""Cells of the plan and what is asked about their points."""

import numpy as np
import pytest
from manifold3d import Manifold
from pytest import approx

from buckwright.relief.columns import Columns
from buckwright.shape.fill.cones import ConeField
from buckwright.shape.fill.feet import nearer_feet
from buckwright.shape.fill.plan_cells import (
    CORNERS,
    NINE,
    OVER_MM,
    Cells,
    CellSizes,
    PlanGrid,
    PlanSurvey,
    along,
    split_cells,
)
from buckwright.shape.fill.rims import find_rims
from buckwright.shape.solid import as_mesh
from buckwright.survey.draft import draft_deg

WALL = 5.0
RADIUS, STEM, UNDER, TOP = 10.0, 3.0, 12.0, 15.0
SETTINGS = CellSizes()


def surveyed(wanted: bool | None = None) -> tuple[PlanSurvey, PlanGrid]:
    body = Manifold.cylinder(UNDER + 1, STEM, STEM, 128)
    body += Manifold.cylinder(TOP - UNDER, RADIUS, RADIUS, 128).translate((0, 0, UNDER))
    mesh = as_mesh(body)
    columns = Columns(mesh)
    rims = find_rims(mesh, columns, draft_deg(mesh), enough_deg=WALL, wall_deg=WALL, tolerance_mm=0.02)
    field = ConeField(rims.segments, draft_deg=WALL)
    faces = None if wanted is None else np.full(mesh.face_count, wanted)
    survey = PlanSurvey(field, rims.outward[field.order], columns, faces, low=-50.0)
    return survey, PlanGrid.over(field, columns, SETTINGS)


def test_ground_of_a_mushroom():
    survey, _ = surveyed()
    beside = RADIUS + 0.5
    g = survey(np.array([[0.5, 0.2], [6.0, 0.1], [beside, 0.0], [40.0, 0.0]]))
    np.testing.assert_allclose(g.top, [TOP, TOP, 0.0, 0.0])
    np.testing.assert_allclose(g.layer, [TOP, TOP - UNDER, 0.0, 0.0])
    np.testing.assert_array_equal(g.present, [True, True, False, False])
    np.testing.assert_array_equal(g.void, [False, True, False, False])
    np.testing.assert_array_equal(g.fill, [False, False, True, False])
    assert g.outside[2] and not g.outside[1]
    # cones of a rim of 128 chords: their middles are 3e-3 mm inside of the circle
    assert g.envelope[2] == approx(TOP - 0.5 / np.tan(np.radians(WALL)), abs=0.04)
    assert g.envelope[3] == -50.0


def test_voids_count_over_wanted_faces_only():
    point = np.array([[6.0, 0.1]])
    assert surveyed(True)[0](point).void[0]
    assert not surveyed(False)[0](point).void[0]


def test_feet_are_those_of_points_asked_one_by_one():
    survey, _ = surveyed()
    points = np.random.default_rng(0).uniform(-13, 13, (4000, 2))
    fill = survey(points).fill
    pairs = min(fill.sum(), (~fill).sum())
    inner, outer = points[fill][:pairs], points[~fill][:pairs]
    assert pairs > 100
    feet = nearer_feet(inner, outer, survey.field, survey.columns, over_mm=OVER_MM, halvings=6)
    for _ in range(6):
        middle = (inner + outer) * 0.5
        filled = survey(middle).fill[:, None]
        inner, outer = np.where(filled, middle, inner), np.where(filled, outer, middle)
    np.testing.assert_array_equal(feet, outer)


def test_keys_of_the_lattice_go_back():
    _, grid = surveyed()
    width, height = grid.shape[1] * grid.base, grid.shape[0] * grid.base
    rng = np.random.default_rng(1)
    points = np.column_stack([rng.integers(0, width + 1, 500), rng.integers(0, height + 1, 500)])
    np.testing.assert_array_equal(grid.unkey(grid.keys(points)), points)
    assert len(np.unique(grid.keys(points))) == len(np.unique(points, axis=0))


def test_grid_holds_body_and_walls():
    survey, grid = surveyed()
    reach = RADIUS + TOP * np.tan(np.radians(WALL))
    high = grid.origin + np.array(grid.shape[::-1]) * SETTINGS.cell_mm
    assert (grid.origin < -reach - SETTINGS.cell_mm).all() and (high > reach + SETTINGS.cell_mm).all()
    active = grid.active_cells(survey)
    assert not active[0].any() and not active[-1].any() and not active[:, 0].any() and not active[:, -1].any()


def sides(cells: Cells, grid: PlanGrid) -> float:
    return cells.side * grid.unit


def test_leaves_tile_the_active_cells_once():
    survey, grid = surveyed()
    active = grid.active_cells(survey)
    leaves = split_cells(grid, active, survey, SETTINGS)
    area = sum(len(cells.corner) * sides(cells, grid) ** 2 for cells in leaves)
    assert area == approx(active.sum() * SETTINGS.cell_mm**2)
    points = grid.origin + np.random.default_rng(2).uniform(0, 1, (4000, 2)) * SETTINGS.cell_mm * np.array(
        grid.shape[::-1]
    )
    hits = np.zeros(len(points), int)
    for cells in leaves:
        low = grid.place(cells.corner)
        inside = (points[:, None] >= low) & (points[:, None] < low + sides(cells, grid))
        hits += inside.all(axis=2).sum(axis=1)
    at = ((points - grid.origin) / SETTINGS.cell_mm).astype(int)
    np.testing.assert_array_equal(hits, active[at[:, 1], at[:, 0]])


def test_leaves_are_as_fine_as_asked():
    survey, grid = surveyed()
    leaves = split_cells(grid, grid.active_cells(survey), survey, SETTINGS)
    finest = SETTINGS.cell_mm / 2**SETTINGS.halvings
    rim = np.array([[np.cos(a), np.sin(a)] for a in np.linspace(0, 6.28, 200)]) * RADIUS * np.cos(np.pi / 128)
    for cells in leaves:
        size = sides(cells, grid)
        assert finest * 0.999 <= size <= SETTINGS.cell_mm * 1.001
        g = cells.ground
        walls = g.fill.any(axis=1) & (g.envelope.max(axis=1) > 0)
        assert not walls.any() or size <= SETTINGS.wall_cell_mm * 1.001
        if size > SETTINGS.rim_cell_mm * 1.001:
            low = grid.place(cells.corner)
            held = (rim[:, None] > low + 0.01) & (rim[:, None] < low + size - 0.01)
            assert not held.all(axis=2).any(), "a rim runs through a coarse cell"
        if size > finest * 1.5:
            bend = np.abs(g.envelope[:, [0, 8]].mean(axis=1) - g.envelope[:, 4]) / survey.field.steepness
            standing = g.envelope[:, [0, 4, 8]].max(axis=1) > 0
            assert bend[walls & standing].max(initial=0.0) <= SETTINGS.bend_mm[1] + 1e-12


def test_the_nine_points_are_where_they_should_be():
    survey, grid = surveyed()
    for cells in split_cells(grid, grid.active_cells(survey), survey, SETTINGS):
        if not len(cells.corner):
            continue
        n = len(cells.corner) // 2
        points = grid.place(cells.corner[n] + NINE * (cells.side // 2))
        asked = np.append(CORNERS, 4) if cells.side == 2 else np.arange(9)
        np.testing.assert_array_equal(survey(points[asked]).envelope, cells.ground.envelope[n][asked])
        np.testing.assert_allclose(np.ptp(points[CORNERS], axis=0), sides(cells, grid))


def test_a_side_of_the_smallest_cells_counts_as_a_corner():
    survey, grid = surveyed()
    g = split_cells(grid, grid.active_cells(survey), survey, SETTINGS)[-1].ground
    for side, corner in ((1, 0), (3, 0), (5, 2), (7, 6)):
        np.testing.assert_array_equal(g.layer[:, side], g.layer[:, corner])


@pytest.mark.parametrize("spacing", [0.1, 0.35, 100.0])
def test_points_along_segments(spacing):
    rng = np.random.default_rng(3)
    segments = rng.uniform(-5, 5, (40, 6))
    points, which = along(segments, spacing)
    for n, segment in enumerate(segments):
        mine = points[which == n]
        np.testing.assert_allclose(mine[[0, -1]], segment.reshape(2, 3))
        steps = np.linalg.norm(np.diff(mine[:, :2], axis=0), axis=1)
        length = np.linalg.norm(segment[3:5] - segment[:2])
        assert len(steps) == max(np.ceil(length / spacing), 1), "no more points than asked for"
        assert steps == pytest.approx(length / len(steps))
        np.testing.assert_allclose(np.cross(mine - segment[:3], segment[3:] - segment[:3]), 0.0, atol=1e-9)


def test_points_along_a_segment_that_stands_upright():
    points, which = along(np.array([[1.0, 2.0, 0.0, 1.0, 2.0, 7.0]]), 0.1)
    np.testing.assert_array_equal(points, [[1, 2, 0], [1, 2, 7]])
    np.testing.assert_array_equal(which, [0, 0])
