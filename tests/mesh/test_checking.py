import numpy as np
import pytest

from buckwright.mesh.checking import check_mesh, degenerate_faces, face_groups
from buckwright.mesh.triangles import Mesh


def test_sound_bodies_are_clean(bodies):
    facts = check_mesh(bodies.ball())
    assert facts.clean
    assert (facts.shells, facts.closed_shells) == (1, 1)
    assert check_mesh(bodies.joined(bodies.box(), bodies.box(centre=(50, 0, 0)))).clean


def test_empty_mesh_is_all_zero_and_not_closed():
    facts = check_mesh(Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32)))
    assert set(facts.to_dict().values()) == {0}
    assert not facts.clean


def test_each_fault_is_counted(bodies):
    body = bodies.box()
    points, faces = body.vertices, body.faces
    cases = {
        "boundary_edges": (Mesh(points, faces[1:]), 3),
        "boundary_loops": (Mesh(points, faces[1:]), 1),
        "duplicate_faces": (Mesh(points, np.concatenate([faces, faces[:2]])), 2),
        "degenerate_faces": (Mesh(points, np.concatenate([faces, faces[:1, [0, 0, 1]]])), 1),
        "unreferenced_vertices": (Mesh(np.concatenate([points, points[:3] + 1]), faces), 3),
        "inconsistent_edges": (Mesh(points, np.concatenate([faces[:1, ::-1], faces[1:]])), 3),
        "inverted_shells": (bodies.turned(body), 1),
        "nonmanifold_edges": (Mesh(np.concatenate([points, [[0, 0, 99.0]]]),
                                   np.concatenate([faces, [[0, 1, 8]]]).astype(np.int32)), 1),
    }  # fmt: skip
    for name, (mesh, count) in cases.items():
        facts = check_mesh(mesh)
        assert getattr(facts, name) == count, name
        assert not facts.clean, name


@pytest.mark.parametrize(
    ("centre", "scale", "nested", "overlapping"),
    [
        ((0, 0, 0), 0.5, 1, 0),  # a body or, turned, a cavity inside
        ((12, 7, 9), 1.0, 0, 2),  # corners through faces
        ((10, 0, 0), 1.0, 0, 2),  # all edges in the planes of the other: no face crosses another
        ((20, 0, 0), 1.0, 0, 2),  # face to face
        ((20, 20, 0), 1.0, 0, 0),  # edge to edge
        ((0, 0, 40), 1.0, 0, 0),
    ],
)
@pytest.mark.parametrize("inverted", [False, True])
def test_how_two_boxes_stand_to_each_other(bodies, centre, scale, nested, overlapping, inverted):
    other = bodies.box((20 * scale,) * 3, centre)
    facts = check_mesh(bodies.joined(bodies.box(), bodies.turned(other) if inverted else other))
    assert facts.shells == 2
    assert facts.nested_shells == nested
    assert facts.overlapping_shells == overlapping
    assert facts.inverted_shells == int(inverted)


def test_self_crossing_is_counted(bodies):
    facts = check_mesh(bodies.hooked_ball())
    assert facts.crossing_pairs > 20
    assert facts.overlapping_shells == 0
    assert not facts.clean


def test_welded_boxes_have_an_inner_wall(bodies):
    from buckwright.mesh.welding import weld_equal

    facts = check_mesh(weld_equal(bodies.joined(bodies.box(), bodies.box(centre=(20, 0, 0)))))
    assert facts.shells == 1
    assert facts.inner_faces == 4
    edge = check_mesh(weld_equal(bodies.joined(bodies.box(), bodies.box(centre=(20, 20, 0)))))
    assert edge.nonmanifold_edges == 1
    assert edge.clean


def test_degenerate_is_a_matter_of_height():
    points = np.array([[0, 0, 0], [100, 0, 0], [50, 1e-9, 0], [50, 1e-5, 0], [50, 60, 0]])
    mesh = Mesh(points, np.array([[0, 1, 2], [0, 1, 3], [0, 1, 4], [0, 0, 4]], np.int32))
    assert degenerate_faces(mesh).tolist() == [True, False, False, True]


def test_groups_ignore_order_of_corners():
    small = np.array([[0, 1, 2], [2, 1, 0], [1, 2, 3], [2, 0, 1]], np.int32)
    for faces in (small, small + 3_000_000):
        groups = face_groups(faces)
        assert groups[0] == groups[1] == groups[3] != groups[2]
