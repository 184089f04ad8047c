import numpy as np
import pytest
from scipy import ndimage, sparse
from scipy.sparse.linalg import spsolve

from buckwright.survey.pockets.taut_sheet import curvature_ladder, lower_sheet, taut_sheet


def solved(obstacle, pixel, curvature, error=1e-9):
    start = np.full_like(obstacle, obstacle.max() + 1.0)
    for edge in (np.s_[0, :], np.s_[-1, :], np.s_[:, 0], np.s_[:, -1]):
        start[edge] = obstacle[edge]
    return lower_sheet(start, obstacle, pixel_mm=pixel, curvature_per_mm=curvature, error_per_mm=error)


def bumps(seed, size=40):
    rng = np.random.default_rng(seed)
    field = ndimage.gaussian_filter(rng.normal(size=(size, size)), 3)
    field = np.maximum(field / field.std() * 3, 0)
    field[[0, -1]] = field[:, [0, -1]] = 0.0
    return field


def by_active_sets(obstacle, pixel, curvature):
    """The same problem by primal-dual active sets with a direct solve: an independent way to the answer."""
    rows, columns = obstacle.shape
    h = obstacle.ravel()
    inner = np.zeros((rows, columns), bool)
    inner[1:-1, 1:-1] = True
    inner = inner.ravel()
    n = h.size
    neighbours = [-1.0, -1.0, 4.0, -1.0, -1.0]
    matrix = sparse.diags(neighbours, [-columns, -1, 0, 1, columns], shape=(n, n), format="csr") / pixel**2
    touching = ~inner
    for _ in range(200):
        mask = sparse.diags((~touching).astype(float))
        system = mask @ matrix + sparse.diags(touching.astype(float))
        u = spsolve(system.tocsc(), np.where(touching, h, -curvature))
        reaction = matrix @ u + curvature
        after = ~inner | (reaction - (u - h) > 0) & (touching | (u < h))
        if np.array_equal(after, touching):
            return u.reshape(rows, columns)
        touching = after
    raise AssertionError("the active sets did not settle")


def test_string_between_two_rims_is_a_parabola():
    pixel, half, top, curvature = 0.5, 10.0, 20.0, 0.05
    x = np.arange(-half, half + pixel / 2, pixel)
    profile = top - 0.5 * curvature * (half**2 - x**2)
    obstacle = np.zeros((60, len(x)))
    obstacle[:, [0, -1]] = top
    obstacle[[0, -1], :] = profile
    sheet, misfit = solved(obstacle, pixel, curvature)
    assert misfit <= 1e-9
    assert np.abs(sheet - profile).max() < 1e-6


@pytest.mark.parametrize("curvature", [0.05, 0.2, 0.8])
def test_string_from_a_ridge_lands_tangentially(curvature):
    # Derived: w = curvature / 2 (x - L)^2 with L = sqrt(2 H / curvature), flat beyond.
    pixel, height, span = 0.25, 10.0, 30.0
    x = np.arange(0.0, span + pixel / 2, pixel)
    landing = np.sqrt(2 * height / curvature)
    profile = 0.5 * curvature * np.clip(landing - x, 0, None) ** 2
    obstacle = np.zeros((40, len(x)))
    obstacle[:, 0] = height
    obstacle[[0, -1], :] = profile
    sheet, _ = solved(obstacle, pixel, curvature)
    assert np.abs(sheet - profile).max() <= 0.5 * curvature * pixel**2


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("curvature", [0.0, 0.02, 0.3])
def test_agrees_with_active_sets(seed, curvature):
    obstacle = bumps(seed)
    sheet, _ = solved(obstacle, 1.0, curvature)
    assert np.abs(sheet - by_active_sets(obstacle, 1.0, curvature)).max() < 1e-6


@pytest.mark.parametrize("seed", range(3))
def test_misfit_brackets_the_exact_sheet(seed):
    obstacle, curvature = bumps(seed), 0.02
    sheet, misfit = solved(obstacle, 1.0, curvature, error=2e-3)
    assert 0 < misfit <= 2e-3
    above = by_active_sets(obstacle, 1.0, curvature - misfit)
    below = by_active_sets(obstacle, 1.0, curvature + misfit)
    assert np.all(sheet <= above + 1e-9)
    assert np.all(sheet >= below - 1e-9)


def test_descent_falls_step_by_step_within_its_error():
    sheet = taut_sheet(bumps(5, 90), pixel_mm=1.0, sharpest_radius_mm=2.0)
    assert np.all(np.diff(sheet.gap_mm, axis=0) <= 1e-3)
    assert np.all(sheet.gap_mm >= 0)
    assert np.all(sheet.pressure_error_per_mm[1:] <= 0.005 * sheet.curvature_per_mm[1:])
    assert sheet.pressure_error_per_mm[0] <= 0.005 * sheet.curvature_per_mm[1]
    assert sheet.curvature_per_mm[-1] == pytest.approx(0.5)


@pytest.mark.parametrize("seed", [7, 8, 9])
def test_descent_equals_solving_from_scratch(seed):
    obstacle = bumps(seed, 64)
    sheet = taut_sheet(obstacle, pixel_mm=1.0, sharpest_radius_mm=5.0)
    for step in (0, 4, len(sheet.curvature_per_mm) - 1):
        curvature, misfit = sheet.curvature_per_mm[step], sheet.pressure_error_per_mm[step]
        above = by_active_sets(obstacle, 1.0, curvature - misfit) - obstacle
        below = by_active_sets(obstacle, 1.0, curvature + misfit) - obstacle
        assert np.all(sheet.gap_mm[step] <= above + 1e-5)
        assert np.all(sheet.gap_mm[step] >= below - 1e-5)


def test_ladder_starts_slack_and_ends_sharp():
    ladder = curvature_ladder(span_mm=200, height_mm=50, sharpest_radius_mm=0.75)
    assert ladder[0] == 0.0
    assert ladder[-1] == pytest.approx(1 / 0.75)
    assert np.all(ladder[2:] / ladder[1:-1] <= 1.15 + 1e-9)
    # A strip of span L under an even load sags by k L^2 / 8: at first by a quarter of the relief's height.
    assert ladder[1] * 200**2 / 8 == pytest.approx(50 / 4)
    assert len(curvature_ladder(span_mm=200, height_mm=0, sharpest_radius_mm=1)) == 1


@pytest.mark.parametrize("shape", [(2, 2), (1, 9), (30, 30)])
def test_nothing_to_lie_on(shape):
    sheet = taut_sheet(np.zeros(shape), pixel_mm=1.0, sharpest_radius_mm=1.0)
    assert sheet.gap_mm.shape[1:] == shape
    assert not sheet.gap_mm.any()


def test_progress_runs_to_one():
    seen = []
    taut_sheet(bumps(1), pixel_mm=1.0, sharpest_radius_mm=2.0, tick=seen.append)
    assert seen == sorted(seen)
    assert seen[-1] == 1.0
