"""The stand-in for the stiffness: right answers on one thread and two, thin factors, no memory lost."""

import resource

import numpy as np
import pytest
from scipy import sparse
from scipy.sparse.linalg import splu, spsolve

from buckwright.forming.forecast import preconditioner
from buckwright.forming.forecast.elimination_order import net_of
from buckwright.forming.forecast.membrane import reference
from buckwright.forming.forecast.preconditioner import Preconditioner, laplacian
from buckwright.forming.forecast.sheet_grid import rectangle, sheet_grid


def sheet(nodes):
    grid = sheet_grid(rectangle(3.0, 2.0), nodes=nodes)
    return grid, reference(grid.nodes, grid.triangles), net_of(grid.nodes, grid.triangles)


def matrix(ref, weight, free):
    entries, rows, columns = laplacian(ref)
    whole = sparse.csc_matrix(((entries * weight[:, None, None]).ravel(), (rows, columns)))
    return whole[free][:, free]


@pytest.mark.parametrize("threads_from", [1, 10**9])
def test_answers_each_axis_by_its_own_stiffness(monkeypatch, threads_from):
    monkeypatch.setattr(preconditioner, "_WORTH_THREADS", threads_from)
    grid, ref, net = sheet(700)
    rng = np.random.default_rng(0)
    level, upright = rng.uniform(1, 3, (2, len(grid.triangles)))
    free = np.repeat(~grid.clamped[:, None], 3, axis=1)
    free[:40, 1] = free[300:340, 0] = False  # as at a plane of symmetry, along one axis
    give = Preconditioner(ref, net)
    for _ in range(2):  # the second factor takes the place of the first
        give.factor(level, upright, free)
    force = rng.normal(size=(2, len(grid.nodes), 3))
    found = give.solve(force[:, give.nodes])
    assert np.array_equal(give.nodes, np.flatnonzero(free.any(1)))
    for axis, weight in ((0, level), (1, level), (2, upright)):
        exact = np.zeros((2, len(grid.nodes)))
        k = np.flatnonzero(free[:, axis])
        exact[:, k] = spsolve(matrix(ref, weight, k), force[:, k, axis].T).T
        error = found[:, :, axis] - exact[:, give.nodes]
        assert np.abs(error).max() < 1e-4 * np.abs(exact).max()  # single precision


def test_the_order_keeps_the_factor_thinner_than_minimum_degree():
    grid, ref, net = sheet(20_000)
    assert np.array_equal(np.sort(net.order), np.arange(len(grid.nodes)))
    order = net.order[~grid.clamped[net.order]]
    one = np.ones(len(grid.triangles))
    ours, other = (
        splu(matrix(ref, one, order), permc_spec=spec, diag_pivot_thresh=0.0, options={"SymmetricMode": True})
        for spec in ("NATURAL", "MMD_AT_PLUS_A")
    )
    assert ours.L.nnz < 0.92 * other.L.nnz


def test_factoring_again_and_again_takes_no_more_memory():
    grid, ref, net = sheet(preconditioner._WORTH_THREADS + 1000)
    give = Preconditioner(ref, net)
    one, free = np.ones(len(grid.triangles)), np.repeat(~grid.clamped[:, None], 3, axis=1)
    peaks = []
    for _ in range(2):
        for _ in range(12):
            give.factor(one, one, free)
        peaks.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
    # a factor is 6 MB; scipy keeps twelve of them when they are dropped in another thread than their own
    assert peaks[1] - peaks[0] < 24_000
