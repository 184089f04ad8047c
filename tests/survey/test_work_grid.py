import numpy as np
import pytest

from buckwright.errors import InputError
from buckwright.relief.raster import Relief
from buckwright.survey.pockets.work_grid import work_grid


def relief_from(height, pixel=0.5, origin=(10.0, -20.0)):
    height = np.asarray(height, float)
    return Relief(np.array(origin), pixel, height, np.full(height.shape, -1, np.int32))


def grid_of(relief, **changes):
    options = {"work_px": 64, "foot_mm": 0.0, "vented_mask": None, "gap_to_frame_mm": None}
    return work_grid(relief, **(options | changes))


def test_blocks_keep_the_highest_and_fit():
    rng = np.random.default_rng(0)
    relief = relief_from(rng.uniform(1, 5, (90, 150)))
    grid = grid_of(relief)
    assert max(grid.height.shape) <= 64
    assert grid.pixel_mm == grid.block * 0.5
    assert grid.height.max() == relief.height.max()
    assert not grid.height[[0, -1]].any()
    assert not grid.height[:, [0, -1]].any()


def test_every_relief_pixel_lies_under_its_block():
    rng = np.random.default_rng(0)
    relief = relief_from(rng.uniform(1, 5, (90, 150)))
    grid = grid_of(relief)
    rows, columns = grid.pixel_of(relief.centres().reshape(-1, 2))
    heights = grid.height[rows, columns].reshape(relief.height.shape)
    assert np.all(heights >= relief.height)
    tops = np.zeros_like(grid.height)
    np.maximum.at(tops, (rows, columns), relief.height.ravel())
    assert np.array_equal(tops, grid.height)


def test_gap_to_the_frame_is_platen():
    relief = relief_from(np.full((40, 40), 8.0))
    inside = np.argwhere(grid_of(relief).height > 0)
    grid = grid_of(relief)
    assert inside.min() * grid.pixel_mm >= 6.0
    close = grid_of(relief, gap_to_frame_mm=0.0)
    assert np.argwhere(close.height > 0).min() == 1


def test_platen_and_flange_are_vented_but_no_floor_inside():
    height = np.full((40, 40), 3.0)
    height[10:30, 10:30] = 20.0
    height[15:25, 15:25] = 3.0
    height[0, 0] = -np.inf
    grid = grid_of(relief_from(height), foot_mm=3.0)
    inside = grid.pixel_of(np.array([[20.0, -10.0]]))
    assert grid.height[inside] == 3.0
    assert not grid.vented[inside]
    assert grid.vented.sum() == (grid.height < 10).sum() - ((grid.height == 3) & ~grid.vented).sum()
    assert grid.vented[grid.pixel_of(np.array([[11.0, -19.0]]))]
    assert not grid_of(relief_from(height)).vented[grid.pixel_of(np.array([[11.5, -18.5]]))]


def test_a_hole_down_to_the_platen_is_vented():
    height = np.full((40, 40), 20.0)
    height[15:25, 15:25] = -np.inf
    grid = grid_of(relief_from(height))
    assert grid.vented[grid.pixel_of(np.array([[20.0, -10.0]]))]


def test_own_vents_are_taken_over():
    height = np.full((40, 40), 20.0)
    mask = np.zeros((40, 40), bool)
    mask[20, 20] = True
    grid = grid_of(relief_from(height), vented_mask=mask)
    assert grid.vented[grid.pixel_of(np.array([[20.25, -9.75]]))]


def test_point_is_the_lowest_relief_pixel_of_the_block():
    rng = np.random.default_rng(3)
    relief = relief_from(rng.uniform(1, 5, (200, 200)))
    grid = grid_of(relief)
    assert grid.block > 2
    row, column = np.argwhere(grid.height > 0)[500]
    x, y, z = grid.point(int(row), int(column))
    assert [value[0] for value in grid.pixel_of(np.array([[x, y]]))] == [row, column]
    fine_row, fine_column = relief.pixel_of(np.array([[x, y]]))
    assert relief.height[fine_row, fine_column][0] == z
    rows, columns = grid.pixel_of(relief.centres().reshape(-1, 2))
    assert z == relief.height.ravel()[(rows == row) & (columns == column)].min()


def test_point_outside_lies_on_the_platen():
    grid = grid_of(relief_from(np.full((40, 40), 8.0)))
    x, y, z = grid.point(0, 0)
    assert z == 0.0
    assert np.allclose([x, y], grid.origin + grid.pixel_mm / 2)


def test_a_tilted_plane_is_not_rough_and_a_valley_is():
    x = np.arange(60.0)
    plane = grid_of(relief_from(100 + np.add.outer(0.5 * x, x)), work_px=1024)
    part = np.s_[plane.before + 1 : plane.before + 59, plane.before + 1 : plane.before + 59]
    assert np.abs(plane.rough_mm[part]).max() < 1e-9
    valley = grid_of(relief_from(np.abs(np.add.outer(0 * x, x - 30)) + 5), work_px=1024)
    assert valley.rough_mm[valley.before + 20, valley.before + 30] == pytest.approx(1.0)


@pytest.mark.parametrize(
    "changes",
    [
        {"work_px": 8},
        {"work_px": 5000},
        {"gap_to_frame_mm": -1.0},
        {"vented_mask": np.zeros((2, 2), bool)},
    ],
)
def test_nonsense_is_refused(changes):
    with pytest.raises(InputError):
        grid_of(relief_from(np.ones((20, 20))), **changes)
