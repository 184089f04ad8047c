"""Rounding to single precision on purpose."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from manifold3d import Manifold
from scipy.spatial import cKDTree

from buckwright.mesh.adjacency import edge_table
from buckwright.mesh.triangles import Mesh
from buckwright.output.storable import GRID_MM, storable
from buckwright.shape.solid import as_mesh


def test_ball_keeps_faces_and_order(sculpt: Mesh) -> None:
    rounded = storable(sculpt)
    assert (rounded.faces == sculpt.faces).all()
    assert np.abs(rounded.vertices - sculpt.vertices).max() <= GRID_MM / 2
    assert (rounded.vertices == rounded.vertices.astype(np.float32)).all()


def test_corners_closer_than_the_rounding_become_one() -> None:
    points = np.array([[0, 0, 0], [10, 0, 0], [10 + 1e-7, 0, 0], [5, 5, 0], [-0.0, 0, 0]])
    rounded = storable(Mesh.from_arrays(points, [[0, 1, 3], [1, 2, 3], [4, 2, 3]]))
    assert rounded.vertex_count == 3
    assert rounded.faces.tolist() == [[0, 1, 2], [0, 1, 2]]


def test_faces_that_fall_together_back_to_back_go() -> None:
    """A crack of 1e-7 mm between two faces closes; the tetrahedron beside it stays whole."""
    points = np.array([[0, 0, 0], [10, 0, 0], [0, 10, 0], [0, 0, 10], [0, 0, 1e-7], [10 + 1e-7, 0, 0]])
    tetrahedron = [[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]
    crack = [[0, 2, 1], [4, 1, 2], [0, 1, 5]]
    rounded = storable(Mesh.from_arrays(points, crack + tetrahedron))
    assert sorted(sorted(face) for face in rounded.faces.tolist()) == [
        [0, 1, 2],
        [0, 1, 3],
        [0, 2, 3],
        [1, 2, 3],
    ]
    assert rounded.volume_mm3() > 160


def test_walls_thinner_than_the_rounding_stay_closed() -> None:
    """A cap of a ball lies 1e-7 mm over a block: four faces would meet along its rim."""
    solid = Manifold.cube((20, 20, 5)) + Manifold.sphere(4, 64).translate((10, 10, 9 + 1e-7))
    apart = Manifold.cube((20, 20, 5)).translate((20 + 1e-7, 3, 0))
    raw = as_mesh(solid + apart)
    rounded = storable(raw)
    uses = edge_table(rounded.faces).face_count
    assert (uses == 2).all()
    assert rounded.volume_mm3() == pytest.approx(raw.volume_mm3(), rel=1e-6)
    away, _ = cKDTree(raw.vertices).query(rounded.vertices)
    assert away.max() < 1e-4


def test_slit_thinner_than_the_rounding_stays_closed() -> None:
    """Two blocks share an edge but for 1e-7 mm; rounding makes it one edge of four faces."""
    one = Manifold.cube((10, 10, 10))
    two = one.translate((10 + 1e-7, 10 + 1e-7, 0))
    floor = Manifold.cube((20, 20, 2)).translate((0, 0, -1.5))
    raw = as_mesh(one + two + floor)
    assert (edge_table(raw.faces).face_count == 2).all()
    rounded = storable(raw)
    points = np.unique(rounded.vertices, axis=0, return_inverse=True)[1].reshape(-1)
    assert (edge_table(points[rounded.faces].astype(np.int32)).face_count == 2).all()
    assert rounded.volume_mm3() == pytest.approx(raw.volume_mm3(), rel=1e-6)


def test_empty() -> None:
    assert storable(Mesh.from_arrays(np.zeros((0, 3)), np.zeros((0, 3), np.int32))).face_count == 0


@given(st.integers(0, 2**32 - 1))
def test_twice_is_once(seed: int) -> None:
    random = np.random.default_rng(seed)
    points = random.normal(size=(40, 3)) * 10.0 ** random.integers(-5, 4)
    points[20:] = points[:20] + random.normal(size=(20, 3)) * 1e-6
    once = storable(Mesh.from_arrays(points, random.integers(0, 40, (60, 3))))
    twice = storable(once)
    used = np.unique(once.faces)
    assert (once.corners() == twice.corners()).all()
    assert len(np.unique(once.vertices[used], axis=0)) == len(used)  # every corner has one number
