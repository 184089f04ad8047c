import numpy as np
from manifold3d import Manifold
from pytest import approx

from buckwright.relief.columns import Columns
from buckwright.shape.solid import as_mesh
from buckwright.shape.solid_height import solid_height


def table():
    """A post with a plate on top: an overhang all round."""
    plate = Manifold.cube((20, 20, 2), True).translate((0, 0, 11))
    return Columns(as_mesh(Manifold.cube((4, 4, 10.5), True).translate((0, 0, 5.25)) + plate))


def test_under_an_overhang_there_is_no_solid_from_the_platen():
    heights = solid_height(table(), np.array([[0.3, 0.2], [7.0, 7.1], [50.0, 0.0]]))
    assert heights[0] == approx(12)
    assert heights[1] == -np.inf
    assert heights[2] == -np.inf


def test_a_hollow_is_where_the_solid_ends():
    solid = Manifold.cube((10, 10, 10), False) - Manifold.cube((4, 4, 3), False).translate((3, 3, 5))
    heights = solid_height(Columns(as_mesh(solid)), np.array([[5.1, 5.2], [1.1, 1.2]]))
    assert heights == approx([5.0, 10.0])


def test_on_open_terrain_it_is_the_surface(hills):
    mesh, _ = hills
    points = np.random.default_rng(1).uniform(-39, 39, (500, 2))
    columns = Columns(mesh)
    assert np.array_equal(solid_height(columns, points), columns.top(points)[0])
