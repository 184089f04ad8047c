"""Nodes taken out of a triangulation: the ground stays covered, and the surface within its bounds."""

import numpy as np
from pytest import approx
from scipy.spatial import Delaunay

from buckwright.mesh.adjacency import boundary_loops, edge_table
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.shape.fill.thinning import HIDDEN, WALL, Nodes, thinned

SIDE = 24


def sheet(height_at, *, bound_mm: float, kind: int = HIDDEN) -> tuple[Nodes, np.ndarray]:
    """A square of 24 x 24 cells, its nodes jittered so that no four lie on a circle."""
    grid = np.stack(np.meshgrid(np.arange(SIDE + 1.0), np.arange(SIDE + 1.0)), axis=-1).reshape(-1, 2)
    inner = ((grid > 0) & (grid < SIDE)).all(axis=1)
    grid[inner] += np.random.default_rng(3).uniform(-0.3, 0.3, (inner.sum(), 2))
    height = height_at(grid[:, 0], grid[:, 1])
    triangles = Delaunay(grid).simplices.astype(np.int32)
    a, b, c = (grid[triangles[:, i]] for i in range(3))
    u, v = b - a, c - a
    area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    triangles[area < 0.0] = triangles[area < 0.0][:, ::-1]
    nodes = Nodes(grid, height, height - bound_mm, height + bound_mm, np.full(len(grid), kind, np.int8))
    return nodes, triangles[np.abs(area) > 0.0]


def plan_area(nodes: Nodes, triangles: np.ndarray) -> tuple[float, float]:
    """Least and total area in plan."""
    a, b, c = (nodes.plane[triangles[:, i]] for i in range(3))
    u, v = b - a, c - a
    area = (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) * 0.5
    return float(area.min()), float(area.sum())


def miss(nodes: Nodes, triangles: np.ndarray) -> np.ndarray:
    """Height of the surface over each node, less that of the node."""
    mesh = Mesh(np.column_stack([nodes.plane, nodes.height]), triangles)
    inner = ((nodes.plane > 1e-6) & (nodes.plane < SIDE - 1e-6)).all(axis=1)
    return Columns(mesh).top(nodes.plane[inner])[0] - nodes.height[inner]


def test_a_plane_needs_no_nodes_within():
    nodes, triangles = sheet(lambda x, y: 3.0 * x - 2.0 * y, bound_mm=1e-6)
    left = thinned(nodes, triangles, steepest=10.0)
    inner = ((nodes.plane > 0) & (nodes.plane < SIDE)).all(axis=1)
    assert inner[np.unique(left)].sum() < 0.05 * inner.sum()
    least, total = plan_area(nodes, left)
    assert least > 0.0
    assert total == approx(SIDE * SIDE)
    assert np.array_equal(*(np.sort(np.concatenate(boundary_loops(one))) for one in (left, triangles)))
    assert edge_table(left).face_count.max() == 2


def test_every_node_that_went_lies_within_its_bounds():
    for bound in (0.01, 0.1):
        nodes, triangles = sheet(lambda x, y: np.sin(x / 4.0) * np.cos(y / 5.0) * 5.0, bound_mm=bound)
        left = thinned(nodes, triangles, steepest=10.0)
        assert len(left) < 0.9 * len(triangles)
        assert np.abs(miss(nodes, left)).max() <= bound + 1e-9
        assert plan_area(nodes, left) == (approx(plan_area(nodes, left)[0]), approx(SIDE * SIDE))
        assert plan_area(nodes, left)[0] > 0.0


def test_a_crease_stays():
    nodes, triangles = sheet(lambda x, y: -5.0 * np.abs(x + 0.0 * y - 12.0), bound_mm=0.02)
    left = thinned(nodes, triangles, steepest=10.0)
    assert len(left) < 0.9 * len(triangles)
    assert np.abs(miss(nodes, left)).max() <= 0.02 + 1e-9


def test_walls_do_not_get_steeper_than_allowed():
    def waves(x, y):
        return 5.0 * x + 0.3 * np.sin(2.0 * x + y)

    nodes, triangles = sheet(waves, bound_mm=1.0, kind=WALL)
    steepest = 5.35
    left = thinned(nodes, triangles, steepest=steepest)

    def slopes(faces: np.ndarray) -> np.ndarray:
        normal = Mesh(np.column_stack([nodes.plane, nodes.height]), faces).area_vectors()
        return np.hypot(normal[:, 0], normal[:, 1]) / normal[:, 2]

    assert len(left) < 0.9 * len(triangles)
    old = {tuple(sorted(face)) for face in triangles.tolist()}
    new = np.array([tuple(sorted(face)) not in old for face in left.tolist()])
    assert slopes(left)[new].max() <= steepest + 1e-9
    free = thinned(nodes, triangles, steepest=100.0)
    assert slopes(free).max() > steepest


def test_hidden_nodes_and_walls_stay_apart():
    """A flat strip between two slopes, free to move: nothing but old triangles lies across its borders."""
    nodes, triangles = sheet(
        lambda x, y: -5.0 * np.maximum(np.abs(x - 12.0) - 4.0, 0.0) + 0.0 * y, bound_mm=50.0
    )
    kind = np.where(np.abs(nodes.plane[:, 0] - 12.0) > 4.0, WALL, HIDDEN).astype(np.int8)
    nodes = Nodes(nodes.plane, nodes.height, nodes.lowest, nodes.highest, kind)
    left = thinned(nodes, triangles, steepest=10.0)
    assert len(left) < 0.9 * len(triangles)
    old = {tuple(sorted(face)) for face in triangles.tolist()}
    mixed = np.ptp(kind[left], axis=1) > 0
    assert mixed.any()
    assert all(tuple(sorted(face)) in old for face in left[mixed].tolist())
