"""The proxy that the pull search looks at."""

import numpy as np
import pytest
from manifold3d import Manifold

from buckwright.errors import InputError
from buckwright.mesh.triangles import Mesh
from buckwright.shape.solid import as_mesh
from buckwright.survey.proxy import area_of, proxy_of


def everywhere(mesh: Mesh) -> np.ndarray:
    return np.ones(mesh.face_count, bool)


def test_a_large_mesh_keeps_its_extremes_and_area() -> None:
    mesh = as_mesh(Manifold.sphere(30.0, 400).warp_batch(lambda p: p * [1.0, 0.7, 1.3]))
    proxy = proxy_of(mesh)
    assert proxy.sample.face_count == 20_000
    assert np.array_equal(proxy.extremes.min(axis=0), mesh.bounds[0])
    assert np.array_equal(proxy.extremes.max(axis=0), mesh.bounds[1])
    sampled = area_of(proxy.sample.vertices, proxy.sample.faces, everywhere(proxy.sample))
    assert proxy.weight * sampled == pytest.approx(proxy.area_mm2)
    assert proxy.area_mm2 == pytest.approx(np.linalg.norm(mesh.area_vectors(), axis=1).sum())
    assert proxy.shade.face_count < mesh.face_count / 1.4
    assert proxy.shade.volume_mm3() == pytest.approx(mesh.volume_mm3(), rel=0.02)


def test_a_small_mesh_stands_for_itself() -> None:
    mesh = as_mesh(Manifold.sphere(30.0, 40))
    proxy = proxy_of(mesh)
    assert proxy.shade is proxy.sample is mesh
    assert (proxy.weight, proxy.blur_mm) == (1.0, 0.0)


def test_a_brick_rests_on_its_six_sides() -> None:
    proxy = proxy_of(as_mesh(Manifold.cube([30.0, 20.0, 10.0], True)))
    ways = {tuple(np.round(way, 9) + 0.0) for way in proxy.resting}
    assert ways == {tuple(row) for sign in (1.0, -1.0) for row in (sign * np.eye(3) + 0.0)}
    within = proxy.resting_within(np.array([0.0, 0.0, 1.0]), 80.0)
    assert np.allclose(within, [[0.0, 0.0, 1.0]])


@pytest.mark.parametrize(("share", "rests"), [(0.008, False), (0.012, True)])
def test_a_facet_carries_from_a_hundredth_of_the_hull_on(share: float, rests: bool) -> None:
    """A cube with one edge planed off to a facet of so much of its surface."""
    side = 20.0
    # The facet is c sqrt(2) wide; planing takes 2 c of the two sides and c^2 / 2 of each end.
    c = 6 * side * share / np.sqrt(2)
    for _ in range(20):
        c = share * (6 * side**2 - 2 * c * side - c**2 + np.sqrt(2) * c * side) / (np.sqrt(2) * side)
    cube = Manifold.cube([side] * 3, True)
    proxy = proxy_of(as_mesh(cube.trim_by_plane([-1.0, 0.0, -1.0], -(side - c) / np.sqrt(2))))
    assert len(proxy.resting) == 6 + rests


def test_a_ball_has_no_foot() -> None:
    assert proxy_of(as_mesh(Manifold.sphere(30.0, 100))).resting.shape == (0, 3)


def test_flat_and_empty() -> None:
    flat = proxy_of(Mesh.from_arrays([[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[0, 1, 2]]))
    assert flat.resting.shape == (0, 3)
    assert flat.area_mm2 == 0.5
    for points in (np.zeros((0, 3)), [[0, 0, 0], [1, 0, 0], [np.nan, 1, 0]]):
        faces = [[0, 1, 2]] if len(points) else np.zeros((0, 3), int)
        with pytest.raises(InputError, match="no faces with area"):
            proxy_of(Mesh.from_arrays(points, faces))
