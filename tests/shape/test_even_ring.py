import numpy as np
import pytest
from manifold3d import CrossSection, triangulate
from pytest import approx

from buckwright.shape.even_ring import spread_evenly
from buckwright.shape.loft import grown


def ring(upper, lower):
    low, high = lower.to_polygons(), upper.to_polygons()
    contours = [*low, *(polygon[::-1] for polygon in high)]
    points = np.concatenate(contours)
    faces = np.asarray(triangulate(contours), dtype=np.int64)
    return points, faces, np.arange(len(points)) >= sum(map(len, low))


def areas(points, faces):
    a, b, c = np.moveaxis(points[faces], 1, 0)
    return ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2


def borders(faces):
    sides = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    edges, count = np.unique(sides, axis=0, return_counts=True)
    assert count.max() <= 2
    return edges[count == 1]


def test_a_flat_ear_in_a_notch_is_turned_into_the_valley():
    points = np.array([[0.0, 0.0], [4, 0], [2, 1.0], [2, 5.0]])
    faces = np.array([[0, 1, 2], [0, 2, 3], [2, 1, 3]])
    upper = np.array([True, True, False, True])
    assert np.array_equal(spread_evenly(points, faces, upper), faces), "a kite with a dent has no other way"
    square = np.array([[0.0, 0.0], [3, -1], [6, 0], [3, 2.0]])
    ears = np.array([[0, 1, 2], [0, 2, 3]])
    flipped = spread_evenly(square, ears, np.array([True, True, True, False]))
    assert sorted(map(sorted, flipped.tolist())) == [[0, 1, 3], [1, 2, 3]]


def least_runs(points, faces, upper):
    """Sideways way of each face from one level to the other: its height over the side on one level."""
    runs = []
    for corners in faces:
        one = [point for point, up in zip(points[corners], upper[corners]) if up]
        other = [point for point, up in zip(points[corners], upper[corners]) if not up]
        if not one or not other:
            runs.append(np.inf)
            continue
        (a, b), tip = (one, other[0]) if len(one) == 2 else (other, one[0])
        along = b - a
        way = tip - a
        runs.append(abs(along[0] * way[1] - along[1] * way[0]) / np.linalg.norm(along))
    return np.array(runs)


@pytest.mark.parametrize("seed", range(6))
def test_the_least_run_rises_and_area_and_border_stay(seed):
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 2 * np.pi, 40))
    radius = rng.uniform(12, 30, 40)
    upper = CrossSection([np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])])
    points, faces, above = ring(upper, grown(upper, 1.5))
    flipped = spread_evenly(points, faces, above)
    assert areas(points, flipped).min() > 0
    assert areas(points, flipped).sum() == approx(areas(points, faces).sum(), rel=1e-12)
    assert np.array_equal(borders(flipped), borders(faces))
    before, after = (np.sort(np.minimum(least_runs(points, f, above), 1e9)) for f in (faces, flipped))
    changed = np.flatnonzero(np.abs(before - after) > 1e-9)
    assert not len(changed) or after[changed[0]] > before[changed[0]]
