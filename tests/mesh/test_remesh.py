import numpy as np
import pytest

from buckwright.errors import MeshError
from buckwright.mesh.adjacency import boundary_loops
from buckwright.mesh.checking import check_mesh
from buckwright.mesh.remesh import default_voxel_mm, remesh
from buckwright.mesh.triangles import Mesh


def test_ball_comes_back_within_a_tenth_of_a_voxel(bodies):
    body = bodies.ball(10.0, 4)
    result = remesh(body, voxel_mm=0.5)
    assert check_mesh(result.mesh).clean
    assert result.mesh.volume_mm3() == pytest.approx(body.volume_mm3(), rel=2e-3)
    reach = np.linalg.norm(result.mesh.vertices, axis=1)
    lowest = 10.0 * np.cos(0.08)  # the ball is a polyhedron; its faces dip below the sphere
    assert reach.min() > lowest - 0.05
    assert reach.max() < 10.0 + 0.05
    assert result.moved_mm < 0.05
    assert result.lost_share == 0.0


def test_sharp_box_moves_by_less_than_a_voxel_and_says_how_far(bodies):
    result = remesh(bodies.box(centre=(0.13, 0.21, 0.34)), voxel_mm=0.5)
    assert 0.05 < result.moved_mm < 0.5
    assert result.mesh.volume_mm3() == pytest.approx(8000.0, rel=0.01)


def test_holes_are_spanned(bodies):
    body = bodies.ball(10.0, 4)
    holed = Mesh(body.vertices, body.faces[body.centroids()[:, 2] < 9.0])
    result = remesh(holed, voxel_mm=0.5)
    assert check_mesh(result.mesh).clean
    # no more is missing than the cap above the lowest point of the rim: pi h^2 (3 r - h) / 3
    (rim,) = boundary_loops(holed.faces)
    h = 10.0 - holed.vertices[rim, 2].min()
    missing = body.volume_mm3() - result.mesh.volume_mm3()
    assert -3.0 < missing < np.pi * h**2 * (30.0 - h) / 3.0 + 3.0


def test_overlap_becomes_one_body_of_the_right_volume(bodies):
    pair = bodies.joined(bodies.box(), bodies.box(centre=(11, 7, 9)))
    result = remesh(pair, voxel_mm=0.5)
    assert check_mesh(result.mesh).shells == 1
    assert result.mesh.volume_mm3() == pytest.approx(16000 - 9 * 13 * 11, rel=0.01)


def test_sheet_encloses_nothing(bodies):
    with pytest.raises(MeshError, match="encloses nothing"):
        remesh(bodies.relief(lambda x, y: 0.3 * np.sin(x)), voxel_mm=1.0)


def test_lost_sheet_is_told(bodies):
    sheet = bodies.relief(lambda x, y: 30 + 0.0 * x, side=20.0)
    result = remesh(bodies.joined(bodies.box(), sheet), voxel_mm=0.5)
    assert result.lost_share == pytest.approx(400 / (400 + 2400), abs=0.03)


def test_voxel_limits(bodies):
    assert default_voxel_mm(bodies.box((400, 100, 100))) == 1.0
    assert default_voxel_mm(bodies.box((60, 10, 10))) == 0.4
    assert default_voxel_mm(bodies.box((6, 1, 1))) == 0.1
    for voxel, words in (
        (1e-3, "use a larger one"),
        (0.0, "above 0"),
        (-1.0, "above 0"),
        (np.nan, "above 0"),
    ):
        with pytest.raises(MeshError, match=words):
            remesh(bodies.box(), voxel_mm=voxel)
