"""Nearest openings: against columns asked one by one, and a hole whose distance is known."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold

from buckwright.relief.columns import Columns
from buckwright.relief.openings import nearest_openings
from buckwright.shape.solid import as_mesh, united

RINGS = np.array([0.05, 0.2, 0.7, 1.5, 3.0, 6.0])


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10**6), st.integers(2, 24))
def test_the_first_open_ring_is_that_of_columns_asked_one_by_one(seed: int, directions: int) -> None:
    rng = np.random.default_rng(seed)
    balls = [Manifold.sphere(rng.uniform(2, 6), 16).translate(list(rng.uniform(-6, 6, 3))) for _ in range(5)]
    columns = Columns(as_mesh(united(balls)))
    points = rng.uniform(-6, 6, (200, 3))
    points = points[~columns.clear(points)]
    within = rng.uniform(0.1, 8.0, len(points))
    found = nearest_openings(points, within, columns, rings=RINGS, directions=directions, halvings=4)
    angles = 2.0 * np.pi * np.arange(directions) / directions
    compass = np.column_stack([np.cos(angles), np.sin(angles), np.zeros(directions)])
    for point, far, distance in zip(points, within, found, strict=True):
        inner, outer = 0.0, far
        for ring in np.minimum(RINGS, far):
            if columns.clear(point + ring * compass).any():
                outer = ring
                break
            inner = ring
        assert inner < distance <= outer or distance == far


@pytest.mark.parametrize("aside", [0.3, 1.1, 2.4])
def test_a_bore_in_a_plate(aside: float) -> None:
    """Under a plate, beside a bore: the way to it is its distance from the bore's wall."""
    plate = Manifold.cube([40.0, 40.0, 2.0], True) - Manifold.cylinder(4.0, 3.0, 3.0, 360, True)
    point = np.array([[3.0 + aside, 0.0, -5.0]])
    found = nearest_openings(
        point, np.array([9.0]), Columns(as_mesh(plate)), rings=RINGS, directions=16, halvings=12
    )
    assert aside - 1e-3 < found[0] < 1.01 * aside
