import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from buckwright.mesh.adjacency import boundary_loops, edge_table, face_neighbours, shells, twins
from buckwright.mesh.triangles import Mesh

TETRAHEDRON = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]], np.int32)


def test_closed_tetrahedron_has_six_edges_of_two_faces():
    table = edge_table(TETRAHEDRON)
    assert table.edges.tolist() == [[0, 1], [0, 2], [0, 3], [1, 2], [1, 3], [2, 3]]
    assert (table.face_count == 2).all()
    assert boundary_loops(TETRAHEDRON) == []
    assert (twins(TETRAHEDRON) >= 0).all()


def test_open_edge_has_no_second_face():
    table = edge_table(TETRAHEDRON[1:])
    assert (table.face_count == 1).sum() == 3
    assert (table.faces[table.face_count == 1, 1] == -1).all()


def test_empty_mesh():
    table = edge_table(np.zeros((0, 3), np.int32))
    assert table.edges.shape == (0, 2)
    assert table.faces.shape == (0, 2)
    assert boundary_loops(np.zeros((0, 3), np.int32)) == []
    labels, count = shells(Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32)))
    assert (len(labels), count) == (0, 0)


def test_three_faces_on_one_edge_are_chained():
    faces = np.array([[0, 1, 2], [1, 0, 3], [0, 1, 4]], np.int32)
    mesh = Mesh(np.zeros((5, 3)), faces)
    assert edge_table(faces).face_count.max() == 3
    assert len(face_neighbours(mesh)) == 2
    assert shells(mesh)[1] == 1


def test_touching_at_a_vertex_is_two_shells():
    faces = np.array([[0, 1, 2], [2, 3, 4]], np.int32)
    labels, count = shells(Mesh(np.zeros((5, 3)), faces))
    assert count == 2
    assert labels[0] != labels[1]


def test_loop_keeps_the_surface_on_its_left():
    faces = np.array([[0, 1, 2], [0, 2, 3]], np.int32)
    (loop,) = boundary_loops(faces)
    assert np.roll(loop, -list(loop).index(0)).tolist() == [0, 1, 2, 3]


def test_loops_that_touch_at_a_vertex_are_kept_apart():
    faces = np.array([[0, 1, 2], [0, 3, 4]], np.int32)
    loops = boundary_loops(faces)
    assert sorted(sorted(loop.tolist()) for loop in loops) == [[0, 1, 2], [0, 3, 4]]


def test_flipped_neighbour_is_no_twin():
    faces = np.array([[0, 1, 2], [0, 1, 3]], np.int32)
    assert (twins(faces) == -1).all()
    assert sum(len(loop) for loop in boundary_loops(faces)) == 6


@given(st.lists(st.tuples(*[st.integers(0, 12)] * 3), max_size=40))
def test_table_equals_a_dictionary(rows):
    faces = np.array(rows, np.int32).reshape(-1, 3)
    wanted: dict[tuple[int, int], list[int]] = {}
    for f, corners in enumerate(faces.tolist()):
        for k in range(3):
            a, b = corners[k], corners[(k + 1) % 3]
            wanted.setdefault((min(a, b), max(a, b)), []).append(f)
    table = edge_table(faces)
    assert [tuple(e) for e in table.edges.tolist()] == sorted(wanted)
    assert table.face_count.tolist() == [len(wanted[e]) for e in sorted(wanted)]
    assert table.faces[:, 0].tolist() == [wanted[e][0] for e in sorted(wanted)]
    twin = twins(faces)
    paired = np.flatnonzero(twin >= 0)
    assert (twin[twin[paired]] == paired).all()
    assert sum(len(loop) for loop in boundary_loops(faces)) == (twin < 0).sum()
