import numpy as np
import pytest
import trimesh
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from buckwright.mesh.crossings import find_crossings
from buckwright.mesh.triangles import Mesh

coordinate = st.integers(-4, 4)
triangle = st.tuples(*[st.tuples(coordinate, coordinate, coordinate)] * 3)


def volume_sign(a, b, c, d):
    """Sign of the volume of a tetrahedron with whole-number corners, exactly."""
    (ux, uy, uz), (vx, vy, vz), (wx, wy, wz) = ([x - y for x, y in zip(p, a, strict=True)] for p in (b, c, d))
    det = ux * (vy * wz - vz * wy) - uy * (vx * wz - vz * wx) + uz * (vx * wy - vy * wx)
    return (det > 0) - (det < 0)


def pierces(p, q, t):
    """Whether the segment passes through the triangle: 2 through its inside, 1 through its rim, 0 not."""
    if volume_sign(*t, p) * volume_sign(*t, q) >= 0:
        return 0
    sides = [volume_sign(p, q, t[k], t[(k + 1) % 3]) for k in range(3)]
    if all(s > 0 for s in sides) or all(s < 0 for s in sides):
        return 2
    return int(all(s >= 0 for s in sides) or all(s <= 0 for s in sides))


def piercing(a, b):
    edges = [(x[k], x[(k + 1) % 3], y) for x, y in ((a, b), (b, a)) for k in range(3)]
    return max(pierces(*edge) for edge in edges)


def soup(*triangles):
    corners = np.array(triangles, float).reshape(-1, 3)
    return Mesh(corners, np.arange(len(corners), dtype=np.int32).reshape(-1, 3))


@settings(deadline=None)
@given(triangle, triangle)
def test_exact_arithmetic_agrees(a, b):
    assume(all(np.cross(np.subtract(t[1], t[0]), np.subtract(t[2], t[0])).any() for t in (a, b)))
    found = find_crossings(soup(a, b)).count
    shared = len(set(a) & set(b))
    inside = piercing(a, b)
    if shared < 2 and inside == 2:
        assert found == 1
    if found:
        assert shared < 2
        assert inside >= 1


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_tree_finds_what_all_pairs_find(seed):
    rng = np.random.default_rng(seed)
    count = 40
    centres = rng.uniform(-1, 1, (count, 1, 3))
    triangles = centres + rng.normal(size=(count, 3, 3)) * rng.choice([0.05, 0.3, 2.0], (count, 1, 1))
    mesh = soup(*triangles)
    wanted = [
        (i, j)
        for i in range(count)
        for j in range(i + 1, count)
        if find_crossings(soup(triangles[i], triangles[j])).count
    ]
    assert [tuple(pair) for pair in find_crossings(mesh).pairs.tolist()] == wanted
    shuffled = find_crossings(Mesh(mesh.vertices, mesh.faces[::-1]))
    assert shuffled.count == len(wanted)


def test_clean_ball_has_none():
    ball = trimesh.creation.icosphere(subdivisions=4, radius=50.0)
    assert find_crossings(Mesh.from_arrays(ball.vertices, ball.faces)).count == 0


def test_two_boxes_cross_and_touching_boxes_do_not():
    box = trimesh.creation.box((2, 2, 2))
    for shift, crosses in (
        ((1.1, 0.7, 0.9), True),
        ((2, 2, 0), False),
        ((2, 2, 2), False),
        ((5, 0, 0), False),
    ):
        faces = np.concatenate([box.faces, box.faces + 8])
        mesh = Mesh.from_arrays(np.concatenate([box.vertices, box.vertices + shift]), faces)
        assert bool(find_crossings(mesh).count) is crosses


def test_surfaces_that_meet_edge_on_edge_are_found():
    # the same triangulation seen along x, bent through itself: every crossing runs through an edge of both
    ball = trimesh.creation.icosphere(subdivisions=4, radius=40.0)
    points = ball.vertices.copy()
    points[:, 0] -= np.clip((points[:, 0] - 30) / 10, 0, 1) ** 2 * 95
    crossings = find_crossings(Mesh.from_arrays(points, ball.faces))
    assert crossings.count > 20
    np.testing.assert_allclose(points[ball.faces[crossings.pairs[:, 0]]].mean((0, 1))[0], -39, atol=2)


def test_faces_that_share_a_corner_cross_away_from_it():
    a = ((0, 0, 0), (4, 0, 0), (0, 4, 0))
    through = ((0, 0, 0), (2, 1, 1), (1, 2, -1))
    beside = ((0, 0, 0), (2, 1, 1), (1, 2, 1))
    outside = ((0, 0, 0), (-2, -1, 1), (-1, -2, -1))
    assert find_crossings(soup(a, through)).count == 1
    assert find_crossings(soup(a, beside)).count == 0
    assert find_crossings(soup(a, outside)).count == 0


def test_depth_is_the_least_reach():
    floor = ((-50, -50, 0), (50, -50, 0), (0, 50, 0))
    spike = ((-40, 0, 1), (40, 0, 1), (0, 0, -0.25))
    assert find_crossings(soup(floor, spike)).depth_mm == pytest.approx([0.25])
    assert find_crossings(soup(floor, spike), deeper_than_mm=0.3).count == 0


def test_limit_keeps_counting():
    floor = [((-50, -50, z), (50, -50, z), (0, 50, z)) for z in range(10)]
    wall = ((0, -10, -5), (0, 10, -5), (0, 0, 50))
    crossings = find_crossings(soup(*floor, wall), limit=3)
    assert crossings.count == 10
    assert len(crossings.pairs) == 3


def test_empty_single_and_flat():
    assert find_crossings(Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32))).count == 0
    assert find_crossings(soup(((0, 0, 0), (1, 0, 0), (0, 1, 0)))).count == 0
    line = ((0, 0, 0), (1, 1, 1), (2, 2, 2))
    assert find_crossings(soup(line, ((0, 1, 1), (2, 1, 0), (1, 0, 1)))).count == 0
