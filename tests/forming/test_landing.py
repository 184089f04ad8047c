import numpy as np
import pytest

from buckwright.errors import InputError
from buckwright.forming.forecast.landing import landing_surface
from buckwright.relief.raster import Relief

BOUNDS = np.array([[-10.0, -10.0], [10.0, 10.0]])


def test_heights_of_a_plane_are_exact_between_pixels():
    ground = landing_surface(lambda q: 5 + 0.3 * q[:, 0] - 0.2 * q[:, 1], bounds_xy=BOUNDS, pixel_mm=0.7)
    q = np.random.default_rng(0).uniform(-9, 9, (50, 2))
    np.testing.assert_allclose(ground.at(q), 5 + 0.3 * q[:, 0] - 0.2 * q[:, 1], atol=1e-12)


def test_lands_where_the_path_meets_a_slope():
    ground = landing_surface(lambda q: 5 + 0.5 * q[:, 0], bounds_xy=BOUNDS, pixel_mm=0.5)
    x = np.array([[0.0, 0, 5.5], [0, 0, 5.5], [0, 0, 5.5]])
    move = np.array([[0.0, 0, -1], [0.5, 0, -0.1], [0.5, 0, 0.2]])
    share = ground.land(x, move, np.array([True, True, True]))
    # from a height of 0.5 over the slope, falling by 1 and by 0.35; the last ends at 0.45 over it
    assert share[0] == pytest.approx(0.5, abs=1e-5) and np.isnan(share[1]) and np.isnan(share[2])
    np.testing.assert_allclose(x[1], [0.5, 0, 5.4])
    np.testing.assert_allclose(x[0], [0, 0, 5.0], atol=1e-5)


def test_no_step_goes_through_a_wall_of_a_pixel():
    ground = landing_surface(
        lambda q: np.where(np.abs(q[:, 0]) < 0.3, 8.0, 0.0), bounds_xy=BOUNDS, pixel_mm=0.5
    )
    x = np.array([[-3.0, 0.1, 4.0]])
    share = ground.land(x, np.array([[6.0, 0, 0]]), np.array([True]))
    assert np.isfinite(share[0])
    assert -1.0 < x[0, 0] < 0.0


def test_an_upright_wall_stands_where_it_is_between_pixels():
    edge = np.pi / 10
    ground = landing_surface(lambda q: np.where(q[:, 0] < edge, 8.0, 0.0), bounds_xy=BOUNDS, pixel_mm=0.5)
    x = np.array([[3.0, 0.1, 4.0]])
    ground.land(x, np.array([[-6.0, 0, 0]]), np.array([True]))
    assert x[0, 0] == pytest.approx(edge, abs=0.5 / 8)  # at half its height, within a sample of the pixel


def test_only_free_nodes_move():
    ground = landing_surface(lambda q: 0 * q[:, 0], bounds_xy=BOUNDS, pixel_mm=1.0)
    x = np.full((2, 3), 3.0)
    ground.land(x, np.ones((2, 3)), np.array([True, False]))
    np.testing.assert_array_equal(x, [[4, 4, 4], [3, 3, 3]])


def test_a_relief_is_used_at_its_own_pixels_and_ends_in_the_platen():
    height = np.full((3, 4), 6.0)
    height[0, 0] = -np.inf
    relief = Relief(np.array([1.0, 2.0]), 2.0, height, np.zeros((3, 4), np.int32))
    ground = landing_surface(relief, bounds_xy=BOUNDS, pixel_mm=0.1, platen_mm=0.0)
    points = relief.centres().reshape(-1, 2)
    np.testing.assert_allclose(ground.at(points), np.where(np.isfinite(height), height, 0.0).ravel())
    np.testing.assert_array_equal(ground.has_buck(points), np.isfinite(height).ravel())
    assert ground.at(np.array([[40.0, 5.0]])) == 0.0
    assert ground.top_mm == 6.0


def test_refuses_what_is_no_relief():
    with pytest.raises(InputError, match="infinite"):
        landing_surface(lambda q: np.full(len(q), np.inf), bounds_xy=BOUNDS, pixel_mm=1.0)
    with pytest.raises(InputError, match="larger"):
        landing_surface(lambda q: 0 * q[:, 0], bounds_xy=BOUNDS, pixel_mm=1e-3)
