import numpy as np
import pytest

from buckwright.mesh.adjacency import boundary_loops, twins
from buckwright.mesh.holes import cap_loops, capped_faces, simple_loops, small_holes
from buckwright.mesh.triangles import Mesh


def test_capped_box_has_its_volume_back(bodies):
    body = bodies.box()
    for axis in range(3):
        lid = body.centroids()[:, axis] > 9.99
        mesh = Mesh(body.vertices, body.faces[~lid])
        capped = cap_loops(mesh, boundary_loops(mesh.faces))
        assert np.array_equal(capped.faces[:10], mesh.faces)
        assert (twins(capped.faces) >= 0).all()
        assert capped.volume_mm3() == pytest.approx(8000.0)


def test_concave_ring_keeps_its_area():
    star = np.array([[r * np.cos(t), r * np.sin(t), 3.0] for t, r in zip(
        np.linspace(0, 2 * np.pi, 10, endpoint=False), [10, 4] * 5, strict=True)])  # fmt: skip
    faces = capped_faces(star, np.arange(10, dtype=np.int32))
    x, y = star[:, 0], star[:, 1]
    shoelace = 0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))
    assert len(faces) == 8
    np.testing.assert_allclose(Mesh(star, faces).area_vectors().sum(0), [0, 0, shoelace], atol=1e-9)
    assert (Mesh(star, faces).area_vectors()[:, 2] > -1e-12).all()


def test_slit_on_a_line_gives_faces_that_close_it():
    points = np.array([[0, 0, 0], [1, 0, 0], [2, 0, 0]], float)
    assert sorted(capped_faces(points, np.array([0, 2, 1], np.int32))[0].tolist()) == [0, 1, 2]


def test_loop_that_touches_itself_is_split():
    parts = simple_loops(np.array([0, 1, 2, 3, 1, 4, 5], np.int32))
    assert sorted(part.tolist() for part in parts) == [[0, 1, 4, 5], [1, 2, 3]]
    assert simple_loops(np.array([0, 1, 2, 1], np.int32)) == []


def test_small_hole_and_open_side_are_told_apart(bodies):
    body = bodies.ball(10.0, 4)
    heights = body.centroids()[:, 2]
    keep = (heights > -9.0) & (heights < 9.95)
    mesh = Mesh(body.vertices, body.faces[keep])
    assert len(boundary_loops(mesh.faces)) == 2
    (hole,) = small_holes(mesh)
    assert (mesh.vertices[hole, 2] > 0).all()
