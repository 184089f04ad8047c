import numpy as np
import pytest

from buckwright.errors import InputError
from buckwright.forming.forecast.sheet_grid import disc, place_in_frame, rectangle, sheet_grid

L = np.array([[0, 0], [40, 0], [40, 20], [15, 20], [15, 50], [0, 50]])


@pytest.mark.parametrize(
    ("outline", "area"),
    [(rectangle(200, 150), 30_000), (disc(90.0), np.pi * 8100), (L, 1250), (L[::-1], 1250)],
)
@pytest.mark.parametrize("turn", [0.0, 17.0])
def test_fills_the_frame_exactly(outline, area, turn):
    grid = sheet_grid(outline, nodes=1500, turn_deg=turn)
    # a round frame is cut at the cells: 1 - (2 pi / n)^2 / 6 of it with n nodes along it
    assert grid.area_mm2.sum() == pytest.approx(area, rel=1e-3 if len(outline) > 10 else 1e-12)
    assert grid.area_mm2.min() > 0
    assert len(grid.nodes) == pytest.approx(1500, rel=0.12)
    sides = np.sort(grid.triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    edge, count = np.unique(sides, axis=0, return_counts=True)
    assert count.max() == 2  # a surface
    rim = np.unique(edge[count == 1])
    assert set(rim) == set(np.flatnonzero(grid.clamped))


def test_cells_are_even():
    grid = sheet_grid(disc(50.0), nodes=3000)
    assert np.percentile(grid.area_mm2, 5) > 0.6 * np.median(grid.area_mm2)
    assert grid.area_mm2.max() < 2.0 * np.median(grid.area_mm2)


@pytest.mark.parametrize("outline", [rectangle(200, 150), disc(90.0), L])
def test_free_nodes_come_near_the_frame_but_make_no_needles_with_it(outline):
    grid = sheet_grid(outline, nodes=3000, turn_deg=17.0)
    inside, away = place_in_frame(grid.outline, grid.nodes[~grid.clamped])
    assert inside.all()
    assert 0.5 < away.min() / grid.cell_mm < 0.7
    a, b, c = (grid.nodes[grid.triangles[:, k]] for k in range(3))
    longest = np.max([np.linalg.norm(p - q, axis=1) for p, q in ((a, b), (b, c), (c, a))], axis=0)
    assert (2 * grid.area_mm2 / longest).min() > 0.3 * grid.cell_mm


def test_mirror_sides_glide_and_their_ends_are_clamped():
    grid = sheet_grid(rectangle(20, 10), nodes=400, mirror_sides="y")
    on_side = np.isclose(np.abs(grid.nodes[:, 1]), 5.0)
    at_end = np.isclose(np.abs(grid.nodes[:, 0]), 10.0)
    np.testing.assert_array_equal(grid.clamped, at_end)
    np.testing.assert_array_equal(grid.mirror[:, 1], on_side)
    assert not grid.mirror[:, 0].any()


@pytest.mark.parametrize(
    "outline", [[[0, 0], [1, 0]], [[0, 0], [1, 0], [2, 0]], [[0, 0], [1, np.nan], [1, 1]], [1, 2, 3]]
)
def test_refuses_no_frame(outline):
    with pytest.raises(InputError, match="frame"):
        sheet_grid(outline, nodes=100)


@pytest.mark.parametrize("nodes", [0, 49, 2_000_000])
def test_refuses_numbers_out_of_range(nodes):
    with pytest.raises(InputError, match="nodes"):
        sheet_grid(disc(1.0), nodes=nodes)
