"""Delaunay triangles against Qhull, area and the empty circle."""

import numpy as np
import pytest
from scipy.spatial import ConvexHull, Delaunay

from buckwright.mesh.delaunay import delaunay_triangles


def _areas(points, triangles):
    a, b, c = (points[triangles[:, i]] for i in range(3))
    u, v = b - a, c - a
    return (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2.0


def test_points_in_general_position_get_the_triangles_of_qhull():
    points = np.random.default_rng(3).normal(0.0, 40.0, (2000, 2))
    ours, theirs = (np.sort(t, axis=1) for t in (delaunay_triangles(points), Delaunay(points).simplices))
    assert {tuple(t) for t in ours.tolist()} == {tuple(t) for t in theirs.tolist()}


def test_the_cells_of_a_lattice_are_covered_once_counter_clockwise():
    x, y = np.meshgrid(np.arange(40) * 0.1, np.arange(30) * 0.1)
    points = np.column_stack([x.ravel(), y.ravel()])
    triangles = delaunay_triangles(points)
    areas = _areas(points, triangles)
    assert areas.min() > 0.0
    assert areas.sum() == pytest.approx(ConvexHull(points).volume, rel=1e-12)
    assert len(np.unique(triangles)) == len(points)


def test_points_in_the_same_place_count_once():
    points = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 0.0), (0.0, 1.0), (0.0, 1.0)])
    triangles = delaunay_triangles(points)
    assert triangles.shape == (1, 3)
    assert _areas(points, triangles)[0] == 0.5


@pytest.mark.parametrize("count", [0, 1, 2, 5])
def test_points_in_line_give_no_triangle(count):
    points = np.column_stack([np.arange(count, dtype=np.float64), np.zeros(count)])
    assert delaunay_triangles(points).shape == (0, 3)
