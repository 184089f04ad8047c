"""Splitting triangles: the mesh stays whole, what is marked is quartered, the rest hardly changes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buckwright.forming.forecast.sheet_grid import rectangle, sheet_grid
from buckwright.forming.forecast.splitting import split_triangles
from buckwright.mesh.adjacency import edge_table

GRID = sheet_grid(rectangle(30.0, 20.0), nodes=200)


def split(marked):
    found = split_triangles(GRID.triangles, marked, count=len(GRID.nodes))
    a, b = found.ends.T
    return found, np.concatenate([GRID.nodes, 0.5 * (GRID.nodes[a] + GRID.nodes[b])])


def areas(nodes, triangles):
    a, b, c = (nodes[triangles[:, k]] for k in range(3))
    (ux, uy), (vx, vy) = (b - a).T, (c - a).T
    return 0.5 * (ux * vy - uy * vx)


@given(st.sets(st.integers(0, len(GRID.triangles) - 1), max_size=40))
def test_no_node_hangs_on_a_side_and_no_area_is_lost(chosen):
    marked = np.zeros(len(GRID.triangles), bool)
    marked[list(chosen)] = True
    found, nodes = split(marked)
    small, large = areas(nodes, found.triangles), areas(GRID.nodes, GRID.triangles)
    assert (small > 0.0).all()  # all the same way round
    np.testing.assert_allclose(np.bincount(found.parents, small), large, rtol=1e-9)
    # whole: every side inside is used twice, and only the sides of the frame once
    table = edge_table(found.triangles)
    once = table.edges[table.face_count == 1]
    assert table.face_count.max() == 2
    rim = edge_table(GRID.triangles)
    length = lambda e, x: np.linalg.norm(x[e[:, 0]] - x[e[:, 1]], axis=1).sum()  # noqa: E731
    around = length(rim.edges[rim.face_count == 1], GRID.nodes)
    assert length(once, nodes) == pytest.approx(around)
    assert np.bincount(found.parents)[marked].min(initial=4) == 4


def test_nothing_marked_changes_nothing():
    found, _ = split(np.zeros(len(GRID.triangles), bool))
    assert not len(found.ends)
    assert np.array_equal(np.sort(found.triangles, axis=0), np.sort(GRID.triangles, axis=0))


def test_halves_are_the_neighbours_alone():
    marked = np.zeros(len(GRID.triangles), bool)
    marked[len(marked) // 2] = True
    found, _ = split(marked)
    pieces = np.bincount(found.parents)
    assert sorted(pieces[pieces > 1].tolist()) == [2, 2, 2, 4]
