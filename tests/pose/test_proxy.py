"""What the search measures in place of a mesh: its points, feet, planes of symmetry; the quick envelope."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold

from buckwright.errors import InputError
from buckwright.mesh.triangles import Mesh
from buckwright.pose.setups.proxy import proxy_of, simplified
from buckwright.pose.setups.quick_envelope import quick_envelope
from buckwright.pose.setups.surface_points import spread_points
from buckwright.shape.solid import as_mesh


def in_file(proxy, ways):
    return {tuple(np.round(way @ proxy.turn, 6) + 0.0) for way in ways}


SIDES = {tuple(row) for sign in (1.0, -1.0) for row in (sign * np.eye(3) + 0.0)}


def test_a_large_mesh_keeps_its_extremes_and_area():
    mesh = as_mesh(Manifold.sphere(30.0, 400).warp_batch(lambda p: p * [1.0, 0.7, 1.3]))
    proxy = proxy_of(mesh)
    extremes = proxy.extremes @ proxy.turn
    assert np.allclose(extremes.min(axis=0), mesh.bounds[0])
    assert np.allclose(extremes.max(axis=0), mesh.bounds[1])
    assert proxy.area_mm2 == pytest.approx(np.linalg.norm(mesh.area_vectors(), axis=1).sum())
    assert proxy.shade.face_count < mesh.face_count / 1.4
    assert proxy.shade.volume_mm3() == pytest.approx(mesh.volume_mm3(), rel=0.02)
    assert proxy.hull_mm3 == pytest.approx(mesh.volume_mm3(), rel=0.001)
    assert simplified(mesh).volume_mm3() == pytest.approx(mesh.volume_mm3(), rel=0.02)


def test_a_small_mesh_stands_for_itself():
    mesh = as_mesh(Manifold.sphere(30.0, 40))
    proxy = proxy_of(mesh)
    assert np.allclose(proxy.shade.vertices @ proxy.turn, mesh.vertices)
    assert proxy.blur_mm == 0.0
    assert simplified(mesh) is mesh


def test_a_brick_rests_on_its_six_sides_and_has_three_mirrors():
    proxy = proxy_of(as_mesh(Manifold.cube((30.0, 20.0, 10.0), True)))
    assert in_file(proxy, proxy.resting) == SIDES
    normals = np.abs(proxy.mirrors @ proxy.turn)
    assert np.allclose(normals[np.argmax(normals, axis=1).argsort()], np.eye(3), atol=0.01)


def test_a_leaning_block_does_not_rest_on_its_small_end():
    """Its middle is not above that end; on the long sides it is."""
    top = np.array([[0, 0, 0], [10, 0, 0], [10, 10, 0], [0, 10, 0]], float)
    block = Manifold.hull_points(np.concatenate([top, top + np.array((60.0, 0.0, 40.0))]))
    proxy = proxy_of(as_mesh(block))
    ways = in_file(proxy, proxy.resting)
    assert (0.0, 0.0, 1.0) not in ways
    assert {(0.0, 1.0, 0.0), (0.0, -1.0, 0.0)} <= ways


def test_a_ball_has_no_foot():
    assert proxy_of(as_mesh(Manifold.sphere(30.0, 100))).resting.shape == (0, 3)


def test_symmetry_is_found_and_not_invented(sculpt):
    animal, box = proxy_of(sculpt("animal")), proxy_of(sculpt("cut_box"))
    assert np.abs(animal.mirrors @ animal.turn) == pytest.approx(np.array([[0.0, 1.0, 0.0]]), abs=0.01)
    assert len(box.mirrors) == 0


def test_points_are_spread_by_area_however_the_faces_are_cut():
    """A cube of 12 faces and one of 3072 get the same number on each side."""
    for times in (1, 16):
        points = spread_points(as_mesh(Manifold.cube((20.0, 20.0, 20.0)).refine(times)), 6000, size_mm=20.0)
        for way in SIDES:
            assert np.sum(points.normals @ np.array(way) > 0.9) == pytest.approx(1000, abs=10)
        assert points.area_mm2 * 6000 == pytest.approx(2400.0)
        few = points.thinned(4)
        assert few.area_mm2 * len(few.places) == pytest.approx(2400.0)


def test_edges_hold_detail_and_plains_do_not():
    points = spread_points(as_mesh(Manifold.cube((20.0, 20.0, 20.0))), 6000, size_mm=20.0)
    inside = np.sort(np.minimum(points.places, 20.0 - points.places), axis=1)[:, 1]  # to the nearest edge
    assert np.allclose(points.detail[inside > 1.1], 0.1)
    assert points.detail[inside < 0.2].min() > 0.8


def _envelope(height, fall):
    """Each pixel against each other."""
    places = np.argwhere(np.isfinite(height))
    here = np.moveaxis(np.indices(height.shape), 0, -1)[..., None, :]
    away = np.linalg.norm(here - places, axis=-1)
    return (height[tuple(places.T)] - fall * away).max(axis=-1)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([1.0, 3.0, 10.0, 30.0]))
def test_quick_envelope_is_never_high_and_seldom_low(seed, draft_deg):
    rng = np.random.default_rng(seed)
    height = rng.uniform(0.0, 30.0, (24, 31))
    height[rng.random(height.shape) < 0.7] = -np.inf
    exact = _envelope(height, 0.7 / np.tan(np.radians(draft_deg)))
    quick = quick_envelope(height, pixel_mm=0.7, draft_deg=draft_deg)
    there = np.isfinite(exact)
    assert (quick[there] <= exact[there] + 1e-9).all()
    assert (quick >= height).all()
    assert np.mean(exact[there] - quick[there] > 1e-6) < 0.05


def test_flat_and_empty():
    flat = proxy_of(Mesh.from_arrays([[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[0, 1, 2]]))
    assert flat.resting.shape == (0, 3)
    assert flat.area_mm2 == 0.5
    for points in (np.zeros((0, 3)), [[0, 0, 0], [1, 0, 0], [np.nan, 1, 0]]):
        faces = [[0, 1, 2]] if len(points) else np.zeros((0, 3), int)
        with pytest.raises(InputError, match="no faces with area"):
            proxy_of(Mesh.from_arrays(points, faces))
