"""Hinges of a slack sheet: a linear field costs nothing, a kink its jump, and a taut sheet feels none."""

import numpy as np
import pytest

from buckwright.forming.forecast.hinges import HINGE, add_hinge_forces
from buckwright.forming.forecast.membrane import reference
from buckwright.forming.forecast.sheet_grid import rectangle, sheet_grid

GRID = sheet_grid(rectangle(30.0, 20.0), nodes=300)
HINGES = reference(GRID.nodes, GRID.triangles).hinges


def forces(x, slack=1.0):
    out = np.zeros_like(x)
    add_hinge_forces(x, np.full(len(GRID.triangles), slack), HINGES, out)
    return out


def test_every_inner_side_is_a_hinge():
    count = len(GRID.triangles) + len(GRID.nodes) - 1  # Euler: sides of a disc
    rim = (GRID.clamped).sum()
    assert len(HINGES.sides) == count - rim


def test_a_sheet_that_is_stretched_and_tilted_evenly_feels_nothing():
    x = np.column_stack([GRID.nodes @ [[0.7, 0.1], [-0.2, 1.3]], GRID.nodes @ [0.5, -0.3]]) + 7.0
    assert np.abs(forces(x)).max() < 1e-10


def test_the_energy_is_half_the_square_of_the_jump_over_the_area():
    # two right triangles folded about their common side of length 1 by a slope of 0.4 on one of them
    flat = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])
    ref = reference(flat, np.array([[0, 1, 2], [0, 3, 1]], np.int32))
    x = np.column_stack([flat, [0.0, 0.0, 0.4, 0.0]])
    out = np.zeros_like(x)
    add_hinge_forces(x, np.ones(2), ref.hinges, out)
    # the force is the slope of the energy, which is of second degree in the jump: energy = -x . f / 2
    assert -0.5 * (x * out).sum() == pytest.approx(0.5 * HINGE * (1.0 / 3.0) * 0.4**2)
    assert out.sum(0) == pytest.approx(np.zeros(3), abs=1e-12)


def test_a_taut_sheet_feels_none():
    x = np.column_stack([GRID.nodes, np.random.default_rng(0).normal(size=len(GRID.nodes))])
    assert not forces(x, slack=0.0).any()
    assert forces(x).any()


def test_hinges_among_some_triangles_are_those_between_them():
    kept = np.arange(0, len(GRID.triangles), 1)[: len(GRID.triangles) // 2]
    number = np.arange(len(GRID.nodes), dtype=np.int32)[::-1].copy()
    some = HINGES.among(kept, number, len(GRID.triangles))
    inside = np.isin(HINGES.sides, kept).all(1)
    assert len(some.sides) == inside.sum()
    assert np.array_equal(number[some.nodes], HINGES.nodes[inside])
