import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from buckwright.mesh.triangles import Mesh
from buckwright.mesh.welding import weld_equal, weld_near


@given(st.lists(st.tuples(*[st.sampled_from([0.0, -0.0, 1.0, 0.1, 1e-9])] * 3), max_size=30))
def test_weld_keeps_every_corner_and_leaves_no_twins(points):
    points = points[: len(points) // 3 * 3]
    mesh = Mesh.from_arrays(np.array(points).reshape(-1, 3), np.arange(len(points)).reshape(-1, 3))
    welded = weld_equal(mesh)
    assert np.array_equal(welded.corners(), mesh.corners())
    assert len(np.unique(welded.vertices, axis=0)) == welded.vertex_count


def test_unused_vertices_are_dropped():
    mesh = Mesh(np.eye(4)[:, :3], np.array([[1, 2, 3]], np.int32))
    assert weld_equal(mesh).vertex_count == 3


def test_near_corners_are_joined_and_the_way_is_told():
    points = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 0, 3e-4], [1, 1, 0], [0, 1, 0]], float)
    mesh = Mesh(points, np.array([[0, 1, 2], [3, 4, 5]], np.int32))
    welded, moved = weld_near(mesh, tolerance_mm=1e-3)
    assert welded.vertex_count == 4
    assert moved == 3e-4
    assert weld_near(mesh, tolerance_mm=1e-12)[0].vertex_count == 5
