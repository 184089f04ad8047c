"""Columns against brute force, trimesh and embree; open and uneven meshes; shared edges."""

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns


def ball(subdivisions: int = 4) -> Mesh:
    body = trimesh.creation.icosphere(subdivisions=subdivisions, radius=10.0)
    return Mesh.from_arrays(body.vertices, body.faces)


def heights_by_brute_force(mesh: Mesh, point: np.ndarray) -> np.ndarray:
    """Heights of all faces over a point by barycentric coordinates; faces on edge cover nothing."""
    a, b, c = np.moveaxis(mesh.corners(), 1, 0)
    u, v, w = b[:, :2] - a[:, :2], c[:, :2] - a[:, :2], point[:2] - a[:, :2]
    area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        s = (w[:, 0] * v[:, 1] - w[:, 1] * v[:, 0]) / area
        t = (u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0]) / area
    inside = (area != 0.0) & (s >= 0.0) & (t >= 0.0) & (s + t <= 1.0)
    return (a[:, 2] + s * (b[:, 2] - a[:, 2]) + t * (c[:, 2] - a[:, 2]))[inside]


def test_top_of_a_ball_is_its_closed_form_within_the_facets() -> None:
    rng = np.random.default_rng(1)
    points = rng.uniform(-6.0, 6.0, (500, 2))
    z, face = Columns(ball(6)).top(points)
    exact = np.sqrt(100.0 - (points**2).sum(axis=1))
    assert (face >= 0).all()
    # a chord lies inside: the facets are never above the ball
    assert (z <= exact + 1e-9).all()
    assert (exact - z).max() < 5e-3


def test_top_above_and_below_equal_brute_force_on_an_open_soup() -> None:
    rng = np.random.default_rng(2)
    corners = rng.uniform(-10, 10, (300, 1, 3)) + rng.normal(0, 3, (300, 3, 3))
    mesh = Mesh.from_arrays(corners.reshape(-1, 3), np.arange(900).reshape(-1, 3))
    columns = Columns(mesh)
    points = rng.uniform(-12, 12, (400, 3))
    top, _ = columns.top(points)
    above = columns.above(points)
    below, face = columns.below(points)
    for n, point in enumerate(points):
        z = heights_by_brute_force(mesh, point)
        assert top[n] == pytest.approx(z.max(initial=-np.inf), abs=1e-9)
        assert above[n] == pytest.approx(z[z > point[2]].max(initial=-np.inf), abs=1e-9)
        assert below[n] == pytest.approx(z[z < point[2]].max(initial=-np.inf), abs=1e-9)
        assert (face[n] < 0) == (not np.isfinite(below[n]))


def test_agrees_with_embree_on_a_smooth_body() -> None:
    mesh = ball(5)
    points = mesh.centroids()[::7] - [0.0, 0.0, 1e-3]
    points = points[np.abs(points[:, 2]) > 0.1]
    body = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    hit = body.ray.intersects_any(points, np.tile([0.0, 0.0, 1.0], (len(points), 1)))
    # single precision may lose a ray on an edge
    assert np.mean(hit != np.isfinite(Columns(mesh).above(points))) < 1e-3


def test_a_point_on_a_shared_edge_or_vertex_is_covered() -> None:
    """A grid of squares asked at its own vertices and edge middles: no ray slips through."""
    n = 12
    y, x = np.mgrid[0 : n + 1, 0 : n + 1]
    vertices = np.column_stack([x.ravel(), y.ravel(), np.ones(x.size)]) * [0.1, 0.1, 1.0]
    corner = (np.arange(n)[:, None] * (n + 1) + np.arange(n)).ravel()
    lower = np.column_stack([corner, corner + 1, corner + n + 2])
    upper = np.column_stack([corner, corner + n + 2, corner + n + 1])
    columns = Columns(Mesh.from_arrays(vertices, np.concatenate([lower, upper])))
    inner = vertices[(x.ravel() % n > 0) & (y.ravel() % n > 0)]
    for shift in ([0.0, 0.0], [0.05, 0.0], [0.0, 0.05], [0.05, 0.05]):
        z, _ = columns.top(inner[:, :2] + np.array(shift) * 0.999)
        assert (z == 1.0).all()


def test_a_few_huge_faces_among_small_ones_are_found() -> None:
    small = ball(4)
    plate = np.array([[-500.0, -500.0, 30.0], [500.0, -500.0, 30.0], [0.0, 900.0, 30.0]])
    faces = np.concatenate([small.faces, np.arange(3)[None] + small.vertex_count])
    mesh = Mesh.from_arrays(np.concatenate([small.vertices, plate]), faces)
    columns = Columns(mesh)
    assert columns.above(np.array([[0.0, 0.0, 0.0]]))[0] == 30.0
    assert columns.below(np.array([[0.0, 0.0, 29.0]]))[0][0] == pytest.approx(10.0, abs=1e-2)


def test_nothing_to_ask() -> None:
    empty = Columns(Mesh.from_arrays(np.zeros((0, 3)), np.zeros((0, 3), int)))
    z, face = empty.top(np.array([[0.0, 0.0]]))
    assert z[0] == -np.inf and face[0] == -1
    z, face = Columns(ball()).top(np.zeros((0, 2)))
    assert len(z) == 0


@settings(max_examples=25, deadline=None)
@given(
    angle=st.floats(0.0, 6.28),
    shift=st.tuples(st.floats(-50, 50), st.floats(-50, 50), st.floats(-50, 50)),
    seed=st.integers(0, 2**31),
)
def test_turning_about_the_pull_and_shuffling_change_nothing(
    angle: float, shift: tuple[float, float, float], seed: int
) -> None:
    mesh = ball(2)
    rng = np.random.default_rng(seed)
    points = rng.uniform(-9, 9, (40, 3))
    turn = np.eye(4)
    turn[:2, :2] = [[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]
    turn[:3, 3] = shift
    moved = mesh.transformed(turn)
    moved = Mesh(moved.vertices, np.ascontiguousarray(moved.faces[rng.permutation(mesh.face_count)]))
    before, _ = Columns(mesh).top(points)
    after, _ = Columns(moved).top(points @ turn[:3, :3].T + turn[:3, 3])
    same = np.isfinite(before) & np.isfinite(after)
    assert np.mean(np.isfinite(before) == np.isfinite(after)) > 0.9
    np.testing.assert_allclose(after[same], before[same] + shift[2], atol=1e-7)
