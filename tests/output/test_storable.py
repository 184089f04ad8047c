"""Rounding to single precision on purpose."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from buckwright.mesh.triangles import Mesh
from buckwright.output.storable import GRID_MM, storable


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
