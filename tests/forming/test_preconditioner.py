"""The stand-in for the stiffness: right answers, thin factors, no memory lost."""

import resource

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu, spsolve

from buckwright.forming.forecast.elimination_order import net_of
from buckwright.forming.forecast.membrane import reference
from buckwright.forming.forecast.node_graph import with_any
from buckwright.forming.forecast.preconditioner import Preconditioner, laplacian
from buckwright.forming.forecast.sheet_grid import rectangle, sheet_grid

SHARE = 0.7


def sheet(nodes):
    grid = sheet_grid(rectangle(3.0, 2.0), nodes=nodes)
    return grid, reference(grid.nodes, grid.triangles), net_of(grid.nodes, grid.triangles)


def matrix(ref, weight, free):
    entries, rows, columns = laplacian(ref)
    whole = sparse.csc_matrix(((entries * weight[:, None, None]).ravel(), (rows, columns)))
    return whole[free][:, free]


def random_stiffness(grid):
    return np.random.default_rng(0).uniform(1, 3, (2, len(grid.triangles)))


def test_answers_each_axis_by_its_own_stiffness():
    grid, ref, net = sheet(700)
    level, upright = random_stiffness(grid)
    free = np.repeat(~grid.clamped[:, None], 3, axis=1)
    free[:40, 1] = free[300:340, 0] = False  # as at a plane of symmetry, along one axis
    give = Preconditioner(ref, net, height_share=SHARE)
    for _ in range(2):  # the second factor takes the place of the first
        give.factor(level, upright, free)
    force = np.random.default_rng(1).normal(size=(2, len(grid.nodes), 3))
    found = give.solve(force[:, give.nodes])
    assert np.array_equal(give.nodes, np.flatnonzero(free.any(1)))
    for axis, weight in ((0, level), (1, level), (2, upright)):
        exact = np.zeros((2, len(grid.nodes)))
        k = np.flatnonzero(free[:, axis])
        exact[:, k] = spsolve(matrix(ref, weight, k), force[:, k, axis].T).T
        error = found[:, :, axis] - exact[:, give.nodes]
        assert np.abs(error).max() < 1e-4 * np.abs(exact).max()  # single precision


def test_one_factor_answers_all_axes_height_scaled_to_its_own_diagonal():
    grid, ref, net = sheet(700)
    level, upright = random_stiffness(grid)
    k = np.flatnonzero(~grid.clamped)
    give = Preconditioner(ref, net, height_share=SHARE)
    give.factor(level, upright, np.repeat(~grid.clamped[:, None], 3, axis=1))
    force = np.random.default_rng(1).normal(size=(len(k), 3))
    found = give.solve(force[None])[0]
    plan, height = (matrix(ref, weight, k) for weight in (level, upright))
    scale = sparse.diags_array(np.sqrt(height.diagonal() / plan.diagonal() / SHARE))
    for axis, stiff in ((0, plan), (1, plan), (2, scale @ plan @ scale)):
        exact = spsolve(sparse.csc_array(stiff), force[:, axis])
        assert np.abs(found[:, axis] - exact).max() < 1e-4 * np.abs(exact).max()


def test_where_height_is_softer_by_one_factor_everywhere_the_scaled_answer_has_the_right_shape():
    grid, ref, net = sheet(700)
    level, _ = random_stiffness(grid)
    give = Preconditioner(ref, net, height_share=SHARE)
    give.factor(level, 0.3 * level, np.repeat(~grid.clamped[:, None], 3, axis=1))
    force = np.zeros((1, len(give.nodes), 3))
    force[0, :, 2] = 1.0
    exact = SHARE * spsolve(matrix(ref, 0.3 * level, give.nodes), force[0, :, 2])
    assert np.abs(give.solve(force)[0, :, 2] - exact).max() < 1e-4 * exact.max()


def test_some_triangles_are_enough_when_they_hold_all_that_is_free():
    grid, ref, net = sheet(700)
    level, upright = random_stiffness(grid)
    loose = ~grid.clamped & (grid.nodes[:, 0] > grid.nodes[:, 0].mean())
    free = np.repeat(loose[:, None], 3, axis=1)
    listed = with_any(ref.triangles, loose)
    assert len(listed) < 0.6 * len(grid.triangles)
    force = np.random.default_rng(1).normal(size=(1, int(loose.sum()), 3))
    found = []
    for some in (None, listed):
        give = Preconditioner(ref, net, height_share=SHARE)
        give.factor(*((level, upright) if some is None else (level[some], upright[some])), free, listed=some)
        found.append(give.solve(force))
    assert np.array_equal(*found)


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
    grid, ref, net = sheet(11_000)
    give = Preconditioner(ref, net, height_share=SHARE)
    one, free = np.ones(len(grid.triangles)), np.repeat(~grid.clamped[:, None], 3, axis=1)
    peaks = []
    for _ in range(2):
        for _ in range(12):
            give.factor(one, one, free)
        peaks.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
    # a factor is 6 MB; scipy keeps twelve of them when they are dropped in another thread than their own
    assert peaks[1] - peaks[0] < 24_000
