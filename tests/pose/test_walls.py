"""The two sides of a shell's walls find each other."""

import numpy as np
import pytest
from manifold3d import Manifold

from buckwright.pose.setups.proxy import proxy_of
from buckwright.pose.setups.walls import may_be_shell, walls_of
from buckwright.shape.solid import as_mesh


def shell(inner):
    """Half of a hollow ball of 50 mm radius."""
    ball = Manifold.sphere(50, 64) - Manifold.sphere(inner, 64)
    return proxy_of(as_mesh(ball.trim_by_plane((0, 0, 1), 0)))


def test_every_point_lies_across_the_wall_from_the_other_side():
    points = shell(47).points
    radius = np.linalg.norm(points.places, axis=1)
    paired = points.walls.other >= 0
    inside = radius < 47.05
    assert paired[inside].mean() > 0.98
    other = points.walls.other[paired]
    assert (inside[paired] != inside[other]).mean() > 0.98
    away = np.linalg.norm(points.places[paired] - points.places[other], axis=1)
    # as near as the points lie: each stands for a square of 1.4 mm
    assert np.percentile(away, 95) < 3.0 + 1.5 * np.sqrt(points.area_mm2)


def test_an_outside_is_made_good_by_half():
    points = shell(47).points
    away = np.arccos(np.clip(np.abs(points.normals @ np.array([0.0, 0.0, 1.0])), 0.0, 1.0))
    plain = (points.walls.other >= 0) & (away < np.radians(60))  # far from the rim, where detail differs
    inside = np.linalg.norm(points.places, axis=1) < 47.05
    assert np.median(points.walls.stands_for[plain & inside]) == pytest.approx(1.0, abs=0.05)
    assert np.median(points.walls.stands_for[plain & ~inside]) == pytest.approx(0.5, abs=0.05)


def test_a_thick_bowl_is_no_shell():
    assert not len(shell(30).points.walls.other)
    assert may_be_shell(100.0 * 2.0, 200.0, hull_mm3=50.0**3)
    assert not may_be_shell(100.0 * 5.0, 200.0, hull_mm3=50.0**3)


def test_detail_is_made_good_as_far_as_the_other_side_has_it():
    grid = np.stack(np.meshgrid(np.arange(20.0), np.arange(20.0)), axis=-1).reshape(-1, 2)
    upper, lower = (np.column_stack([grid, np.full(400, z)]) for z in (1.0, 0.0))
    normals = np.repeat([[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]], 400, axis=0)
    detail = np.repeat([1.0, 0.1], 400)
    walls = walls_of(np.concatenate([upper, lower]), normals, detail, spacing_mm=1.0, size_mm=30.0)
    assert np.array_equal(walls.other, np.concatenate([np.arange(400, 800), np.arange(400)]))
    assert np.allclose(walls.stands_for, np.repeat([0.05, 0.5], 400))
