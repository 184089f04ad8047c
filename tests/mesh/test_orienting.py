import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buckwright.mesh.adjacency import boundary_loops, edge_table, twins
from buckwright.mesh.orienting import consistent, loop_area_mm2, outward
from buckwright.mesh.triangles import Mesh


def moebius(count=40):
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    rim = [
        np.stack([(30 + s * np.cos(angle / 2)) * np.cos(angle), (30 + s * np.cos(angle / 2)) * np.sin(angle),
                  s * np.sin(angle / 2)], 1)
        for s in (-6.0, 6.0)
    ]  # fmt: skip
    faces = []
    for k in range(count):
        a, b = 2 * k, 2 * k + 1
        c, d = (2 * k + 2, 2 * k + 3) if k < count - 1 else (1, 0)
        faces += [(a, b, c), (b, d, c)]
    return Mesh.from_arrays(np.stack(rim, 1).reshape(-1, 3), np.array(faces))


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_any_flips_and_order_come_back_outward(bodies, seed):
    rng = np.random.default_rng(seed)
    body = bodies.joined(bodies.ball(), bodies.box(centre=(60, 0, 0)))
    faces = body.faces[rng.permutation(body.face_count)]
    flipped = rng.random(len(faces)) < 0.5
    faces = np.where(flipped[:, None], faces[:, ::-1], faces)
    agreed, _, torn = consistent(Mesh(body.vertices, faces))
    facing, _ = outward(agreed)
    assert torn == 0
    assert (twins(facing.faces) >= 0).all()
    assert facing.volume_mm3() == pytest.approx(body.volume_mm3())


def test_sound_mesh_is_the_same_object(bodies):
    body = bodies.ball()
    assert consistent(body) == (body, 0, 0)
    assert outward(body) == (body, 0)


def test_moebius_strip_has_an_edge_that_cannot_agree():
    mesh = moebius()
    assert (edge_table(mesh.faces).face_count <= 2).all()
    assert consistent(mesh)[2] >= 1


def test_greater_part_keeps_its_winding(bodies):
    sheet = bodies.relief(lambda x, y: 0 * x)
    faces = sheet.faces.copy()
    faces[:100] = faces[:100, ::-1]
    agreed, turned, _ = consistent(Mesh(sheet.vertices, faces))
    assert turned == 100
    assert np.array_equal(agreed.faces, sheet.faces)


def test_open_body_is_turned_by_its_volume_and_a_sheet_is_not(bodies):
    body = bodies.ball()
    open_body = Mesh(body.vertices, body.faces[body.centroids()[:, 2] > -8])
    mended, count = outward(bodies.turned(open_body))
    assert count == 1
    assert np.array_equal(mended.faces, open_body.faces)
    valley = bodies.relief(lambda x, y: -np.sin(x / 13) * np.sin(y / 13))
    assert outward(valley) == (valley, 0)
    turned = bodies.turned(valley)
    assert outward(turned) == (turned, 0)


def test_cap_area_points_out_of_the_body(bodies):
    body = bodies.box()
    lid = body.centroids()[:, 2] > 9.99
    mesh = Mesh(body.vertices, body.faces[~lid])
    (loop,) = boundary_loops(mesh.faces)
    np.testing.assert_allclose(loop_area_mm2(mesh, loop), [0, 0, 400.0])
