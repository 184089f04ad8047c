"""Sideways movement: distance to a known rim, side of the error, brute force over pixels."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold

from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.relief.raster import Relief, relief_of
from buckwright.shape.solid import as_mesh
from buckwright.survey.sideways import sideways_mm
from buckwright.survey.undercut import Reach, find_trapped


def block(size: tuple[float, float, float], low: tuple[float, float, float]) -> Manifold:
    return Manifold.cube(list(size)).translate(list(low))


def looked_at(mesh: Mesh, pixel_mm: float) -> tuple[Reach, Columns, Relief]:
    columns = Columns(mesh)
    return (
        find_trapped(mesh, columns, floor_z=float(mesh.bounds[0, 2])),
        columns,
        relief_of(mesh, pixel_mm=pixel_mm),
    )


def table(overhang: float, turn: float = 0.0) -> Mesh:
    """A square plate on a square stem on a wide board, finely divided."""
    plate = block((20 + 2 * overhang, 20 + 2 * overhang, 4), (-10 - overhang, -10 - overhang, 20))
    board = block((100, 100, 5), (-50, -50, -5))
    solid = plate + block((20, 20, 25), (-10, -10, -2)) + board
    return as_mesh(solid.refine(9).rotate([0.0, 0.0, turn]))


def to_the_rim(mesh: Mesh, half: float, turn: float) -> np.ndarray:
    """Distance in plan from the middle of each face to the edge of a square plate of half width `half`."""
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    middle = mesh.centroids()[:, :2] @ np.array([[c, -s], [s, c]])
    return half - np.abs(middle).max(axis=1)


@pytest.mark.parametrize("turn", [0.0, 17.0, 45.0])
@pytest.mark.parametrize("overhang", [0.1, 0.3, 1.0, 6.0])
def test_plate_on_a_stem(overhang: float, turn: float) -> None:
    mesh, pixel = table(overhang, turn), 0.2
    reach, columns, relief = looked_at(mesh, pixel)
    found = sideways_mm(mesh, reach, columns, relief)
    true = to_the_rim(mesh, 10.0 + overhang, turn)
    asked = reach.covered & (mesh.centroids()[:, 2] < 20.0 + 1e-6)
    assert asked.sum() > 50
    assert np.all(found[~reach.covered] == 0.0)
    excess = (found - true)[asked]
    assert excess.min() > -1e-9, "never shorter than the shortest way"
    assert excess.max() < pixel
    near = asked & (true < 2.0 * pixel)
    assert np.all((found - true)[near] <= 0.03 * true[near] + 0.02 * pixel)


def test_a_tenth_of_a_millimetre_is_told_apart() -> None:
    """Pixels of 0.2 mm: an overhang of 0.09 passes a limit of 0.1 mm, one of 0.11 does not."""
    worst = []
    for overhang in (0.09, 0.11):
        mesh = table(overhang, 30.0)
        reach, columns, relief = looked_at(mesh, 0.2)
        stem = reach.covered & (np.abs(reach.drafts_deg) < 1e-3)
        worst.append(float(sideways_mm(mesh, reach, columns, relief)[stem].max()))
    assert worst[0] < 0.1 < worst[1]


def test_pixels_alone_err_on_the_long_side_only() -> None:
    mesh = table(0.3, 30.0)
    reach, columns, relief = looked_at(mesh, 0.2)
    rough = sideways_mm(mesh, reach, columns, relief, refine_px=0.0)
    fine = sideways_mm(mesh, reach, columns, relief)
    assert np.all(fine <= rough + 1e-12)
    assert (rough - fine).max() > 0.02


def knot(seed: int) -> Mesh:
    rng = np.random.default_rng(seed)
    balls = [Manifold.sphere(rng.uniform(4, 9), 20).translate(list(rng.uniform(-9, 9, 3))) for _ in range(7)]
    solid = balls[0]
    for ball in balls[1:]:
        solid = solid + ball
    return as_mesh(solid)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10**6), st.floats(0.15, 0.8))
def test_pyramid_search_equals_brute_force(seed: int, pixel: float) -> None:
    mesh = knot(seed)
    reach, columns, relief = looked_at(mesh, pixel)
    found = sideways_mm(mesh, reach, columns, relief, refine_px=0.0)
    centres, heights = relief.centres().reshape(-1, 2), relief.height.ravel()
    rows, width = relief.height.shape
    far = relief.origin + np.array([width, rows]) * relief.pixel_mm
    for f in np.flatnonzero(reach.covered)[::5]:
        middle = mesh.centroids()[f]
        open_ = centres[heights <= middle[2] + reach.slack_mm]
        rim = min(*(middle[:2] - relief.origin), *(far - middle[:2]))
        nearest = np.sqrt(((open_ - middle[:2]) ** 2).sum(axis=1)).min() if len(open_) else np.inf
        assert found[f] == pytest.approx(min(rim, nearest), abs=1e-9)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10**6), st.floats(0.1, 10.0))
def test_scale_and_order(seed: int, scale: float) -> None:
    mesh = knot(seed)
    reach, columns, relief = looked_at(mesh, 0.3)
    found = sideways_mm(mesh, reach, columns, relief)
    larger = Mesh(mesh.vertices * scale, mesh.faces)
    parts = looked_at(larger, 0.3 * scale)
    same = parts[0].covered == reach.covered
    difference = np.abs(sideways_mm(larger, *parts) / scale - found)[same]
    assert np.quantile(difference, 0.98) < 0.02
    backwards = Mesh(mesh.vertices, np.ascontiguousarray(mesh.faces[::-1]))
    turned = sideways_mm(backwards, *looked_at(backwards, 0.3))
    assert np.allclose(turned[::-1], found, rtol=0.0, atol=1e-9)


def test_nothing_covered_and_empty() -> None:
    dome = as_mesh(Manifold.sphere(10.0, 24).trim_by_plane([0.0, 0.0, 1.0], 0.0))
    assert not sideways_mm(dome, *looked_at(dome, 0.2)).any()
    empty = Mesh.from_arrays(np.zeros((0, 3)), np.zeros((0, 3), int))
    assert sideways_mm(empty, *looked_at(empty, 0.2)).shape == (0,)


def test_clear_is_where_nothing_is_above() -> None:
    mesh = knot(5)
    columns = Columns(mesh)
    points = np.random.default_rng(0).uniform(mesh.bounds[0] - 2.0, mesh.bounds[1] + 2.0, (6000, 3))
    clear = columns.clear(points)
    assert 0.1 < clear.mean() < 0.9
    assert np.array_equal(clear, np.isneginf(columns.above(points)))
