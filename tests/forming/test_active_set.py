"""What still moves, found in the whole sheet or within a larger set."""

import numpy as np

from buckwright.forming.forecast.active_set import ActiveSet
from buckwright.forming.forecast.membrane import Law, reference
from buckwright.forming.forecast.sheet_grid import rectangle, sheet_grid

GRID = sheet_grid(rectangle(30.0, 20.0), nodes=400)
REF = reference(GRID.nodes, GRID.triangles)
X = np.column_stack([1.1 * GRID.nodes, np.random.default_rng(0).normal(0.0, 0.3, len(GRID.nodes))])


def test_within_a_larger_set_it_is_the_same_as_in_the_whole_sheet():
    larger = ~GRID.clamped & (GRID.nodes[:, 0] < 4.0)
    free = larger & (GRID.nodes[:, 1] > -3.0)
    whole = ActiveSet(X, free, REF)
    part = ActiveSet(X, larger, REF)
    within = ActiveSet(X, free, REF, within=part)
    assert len(part.nodes) > len(within.nodes) > 50
    assert np.array_equal(whole.nodes, within.nodes) and np.array_equal(whole.listed, within.listed)
    assert np.array_equal(part.listed[within.among], within.listed)
    pressed = np.ones(len(GRID.triangles), np.bool_)
    for one, other in zip(whole.forces(Law(), pressed), within.forces(Law(), pressed), strict=True):
        assert np.array_equal(one, other) and one.any()


def test_it_knows_whether_it_holds_all_that_is_free():
    free = ~GRID.clamped & (GRID.nodes[:, 0] < 4.0)
    part = ActiveSet(X, free, REF)
    fewer, others = free & (GRID.nodes[:, 1] > 0.0), ~GRID.clamped & (GRID.nodes[:, 0] > 0.0)
    assert part.holds(int(fewer.sum()), fewer) and part.holds(int(free.sum()), free)
    assert not part.holds(int(others.sum()), others)
