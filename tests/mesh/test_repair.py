import numpy as np
import pytest

from buckwright.mesh.adjacency import boundary_loops, edge_table
from buckwright.mesh.checking import check_mesh, degenerate_faces
from buckwright.mesh.repair import drop_unused, single_faces, without_fins, without_flat_faces
from buckwright.mesh.triangles import Mesh


def test_unused_vertices_go_and_clean_meshes_are_the_same_object(bodies):
    body = bodies.box()
    stray = Mesh(np.concatenate([[[9.0, 9, 9]], body.vertices]), body.faces + 1)
    assert np.array_equal(drop_unused(stray).corners(), body.corners())
    assert drop_unused(stray).vertex_count == 8
    for step in (drop_unused, single_faces, without_fins, without_flat_faces):
        assert step(body) is body


def test_doubled_faces_leave_one(bodies):
    body = bodies.box()
    doubled = Mesh(body.vertices, np.concatenate([body.faces, body.faces[:5, [1, 2, 0]]]))
    assert np.array_equal(single_faces(doubled).faces, body.faces)


def test_back_to_back_faces_cancel(bodies):
    body = bodies.box()
    wall = np.array([[0, 3, 5], [0, 5, 3]], np.int32)
    mesh = Mesh(body.vertices, np.concatenate([body.faces, wall]))
    assert np.array_equal(single_faces(mesh).faces, body.faces)


def test_double_sided_export_keeps_one_side(bodies):
    body = bodies.ball()
    mesh = Mesh(body.vertices, np.concatenate([body.faces, body.faces[:, ::-1]]))
    assert np.array_equal(single_faces(mesh).faces, body.faces)


@pytest.mark.parametrize("middles", [1, 2, 5])
def test_flat_face_along_an_edge_is_swapped_not_torn(bodies, middles):
    # a quad edge from (0,0) to (6,0) with collinear points on one side only, bridged by flat faces
    body = bodies.box()
    a, b = body.faces[0, 0], body.faces[0, 1]
    apex = body.faces[0, 2]
    between = body.vertices[a] + np.linspace(0, 1, middles + 2)[1:-1, None] * (
        body.vertices[b] - body.vertices[a]
    )
    points = np.concatenate([body.vertices, between])
    row = [a, *range(8, 8 + middles), b]
    fan = [(row[k], row[k + 1], apex) for k in range(middles + 1)]
    flats = [(a, row[k + 1], row[k]) for k in range(1, middles + 1)]
    mesh = Mesh.from_arrays(points, np.concatenate([body.faces[1:], fan, flats]))
    assert (edge_table(mesh.faces).face_count == 2).all()
    assert degenerate_faces(mesh).sum() == middles
    mended = without_flat_faces(mesh)
    assert not degenerate_faces(mended).any()
    assert boundary_loops(mended.faces) == []
    assert mended.volume_mm3() == pytest.approx(8000.0, rel=1e-12)


def test_face_that_names_a_corner_twice_goes(bodies):
    body = bodies.box()
    mesh = Mesh(
        body.vertices,
        np.concatenate([body.faces[:3], [[0, 0, 1], [2, 2, 2]], body.faces[3:]]).astype(np.int32),
    )
    assert np.array_equal(without_flat_faces(mesh).faces, body.faces)


def test_fin_goes_and_a_cloak_stays(bodies):
    body = bodies.box()
    a, b = body.faces[0, :2]
    for height, kept in ((2.0, 12), (500.0, 13)):
        points = np.concatenate([body.vertices, [body.vertices[a] + [height, height, height]]])
        mesh = Mesh(points, np.concatenate([body.faces, [[a, b, 8]]]).astype(np.int32))
        assert without_fins(mesh).face_count == kept


def test_flat_repair_leaves_a_clean_check(bodies):
    body = bodies.ball()
    longest = np.concatenate([body.faces, body.faces[:4, [0, 1, 1]]]).astype(np.int32)
    assert check_mesh(without_flat_faces(Mesh(body.vertices, longest))).clean
