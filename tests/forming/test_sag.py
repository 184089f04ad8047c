"""How a hot sheet hangs."""

import numpy as np
import pytest

from buckwright.forming.forecast.membrane import reference
from buckwright.forming.forecast.sag import sagged
from buckwright.forming.forecast.sheet_grid import disc, rectangle, sheet_grid


def test_in_a_round_frame_it_hangs_as_a_paraboloid():
    # Poisson's equation under an even load on a disc: 1 - r^2, exact
    error = []
    for nodes in (300, 3000):
        grid = sheet_grid(disc(50.0), nodes=nodes)
        drop = sagged(grid, 8.0)
        exact = 8.0 * (1.0 - (grid.nodes**2).sum(1) / 50.0**2)
        error.append(np.abs(drop - exact).max())
    assert error[1] < 0.1
    assert error[1] < 0.6 * error[0]


def test_in_a_square_frame_it_hangs_as_the_series_says():
    # Poisson's equation on a square by its sine series
    grid = sheet_grid(rectangle(2.0, 2.0), nodes=3000)
    x, y = grid.nodes.T
    exact = np.zeros(len(x))
    for m in range(1, 60, 2):
        k = m * np.pi / 2
        sign = (-1) ** ((m - 1) // 2)
        exact += sign * np.cos(k * x) * (1 - np.cosh(k * y) / np.cosh(k)) / m**3
    assert sagged(grid, 1.0) == pytest.approx(exact / exact.max(), abs=0.004)


def test_the_frame_holds_and_no_sag_is_flat():
    grid = sheet_grid(rectangle(80.0, 60.0), nodes=400)
    drop = sagged(grid, 5.0)
    assert (drop[grid.clamped] == 0.0).all()
    assert drop.max() == pytest.approx(5.0) and drop.min() == 0.0
    assert not sagged(grid, 0.0).any()


def test_a_hung_sheet_keeps_its_volume():
    # a paraboloid of rise s over radius a: area / plan = 1 + (s / a)^2 nearly, from its surface integral
    grid = sheet_grid(disc(50.0), nodes=3000)
    hung = np.column_stack([grid.nodes, -sagged(grid, 10.0)])
    flat = float(grid.area_mm2.sum())
    ref = reference(hung, grid.triangles, flat_area_mm2=flat)
    assert (ref.area_mm2 * ref.weight).sum() == pytest.approx(flat, rel=1e-12)
    k = 4 * 0.2**2
    assert ref.weight[0] == pytest.approx(1.5 * k / ((1 + k) ** 1.5 - 1), rel=0.002)
