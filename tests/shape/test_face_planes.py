import numpy as np
from manifold3d import Manifold
from pytest import approx

from buckwright.shape.offset.face_planes import corner_planes, flipped_faces, plane_gaps, ramp, solve_corners
from buckwright.shape.solid import as_mesh


def test_a_corner_meets_the_planes_moved_by_different_distances():
    box = as_mesh(Manifold.cube((10, 10, 10)))
    normals = box.area_vectors() / np.linalg.norm(box.area_vectors(), axis=1, keepdims=True)
    distance = np.abs(normals) @ [0.3, 0.5, 0.9]
    move = solve_corners(corner_planes(box.vertices, box.faces, distance), 10.0)
    assert np.abs(move) == approx(np.tile([0.3, 0.5, 0.9], (8, 1)), abs=1e-6)
    assert plane_gaps(box.vertices, box.faces, distance, move).max() < 1e-6
    assert plane_gaps(box.vertices, box.faces, distance, 0 * move) == approx(0.9)


def test_moves_are_no_longer_than_the_limit():
    needle = as_mesh(Manifold.cylinder(40, 1.0, 0.0, 24))
    move = solve_corners(corner_planes(needle.vertices, needle.faces, np.full(needle.face_count, 1.0)), 6.0)
    assert np.linalg.norm(move, axis=1).max() == approx(6.0)


def test_a_face_without_area_neither_pulls_nor_flips():
    points = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [2, 0, 0]])
    faces = np.array([[0, 1, 2], [0, 1, 3]], np.int32)
    move = solve_corners(corner_planes(points, faces, np.ones(2)), 9.0)
    assert move[:3] == approx(np.tile([0, 0, -1], (3, 1)), abs=1e-6)
    assert np.array_equal(move[3], [0, 0, 0])
    mirrored = points * [1, -1, 1]
    assert flipped_faces(points, faces, mirrored).tolist() == [True, False]


def test_a_face_is_flipped_once_it_has_turned_by_72_degrees():
    points, faces = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]), np.array([[0, 1, 2]], np.int32)
    for turn, flipped in ((60, False), (71, False), (74, True), (180, True)):
        angle = np.deg2rad(turn)
        turned = points * [1, np.cos(angle), 1] + np.outer([0, 0, 1], [0, 0, np.sin(angle)])
        assert flipped_faces(points, faces, turned)[0] == flipped


def test_a_ramp_rises_gently_and_lowers_nothing_else():
    points = np.column_stack([np.arange(6.0), np.zeros(6), np.zeros(6)])
    start = np.array([0, 1, 3, 5, 7, 9, 10], np.int32)
    beside = np.array([1, 0, 2, 1, 3, 2, 4, 3, 5, 4], np.int32)
    share = np.array([1, 1, 0.1, 1, 1, 1.0])
    assert ramp(points, share, start, beside, 0.4) == approx([0.9, 0.5, 0.1, 0.5, 0.9, 1.0])
    assert share[1] == 1.0, "the argument is left alone"
