import numpy as np

from buckwright.mesh.manifolds import from_manifold, to_manifold
from buckwright.mesh.triangles import Mesh


def test_solid_goes_and_comes_back_equal(bodies):
    body = bodies.ball()
    back = from_manifold(to_manifold(body))
    assert sorted(map(tuple, back.vertices.tolist())) == sorted(map(tuple, body.vertices.tolist()))
    assert back.face_count == body.face_count
    np.testing.assert_allclose(back.volume_mm3(), body.volume_mm3(), rtol=1e-13)


def test_open_flipped_and_empty_meshes_are_refused(bodies):
    body = bodies.box()
    assert to_manifold(Mesh(body.vertices, body.faces[1:])) is None
    assert to_manifold(Mesh(body.vertices, np.concatenate([body.faces[:1, ::-1], body.faces[1:]]))) is None
    assert to_manifold(Mesh(body.vertices, body.faces[:0])) is None
