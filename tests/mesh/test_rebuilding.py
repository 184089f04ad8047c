"""What is damaged in one place is mended there; the rest stays as it was."""

import time

import igl
import numpy as np
import pytest
from scipy.spatial import cKDTree

from buckwright.mesh.adjacency import boundary_loops
from buckwright.mesh.checking import check_mesh
from buckwright.mesh.door import enter, solidify
from buckwright.mesh.rebuilding import damaged_faces, rebuild
from buckwright.mesh.triangles import Mesh


def distances(points, mesh):
    squared = igl.point_mesh_squared_distance(points, mesh.vertices, mesh.faces.astype(np.int64))[0]
    return np.sqrt(squared)


def torn_bust(bodies, seed, size):
    """A bust open at the neck whose rim was torn: its edge crosses the neck and itself."""
    body = bodies.ball(40.0, 5)
    bust = body.submesh(body.centroids()[:, 2] > -25.0)
    rim = np.concatenate(boundary_loops(bust.faces))
    points = bust.vertices.copy()
    points[rim] += np.random.default_rng(seed).normal(size=(len(rim), 3)) * size
    return Mesh(points, bust.faces)


def ball_with_a_wall(bodies):
    """A closed ball with a leaf of three faces on an edge inside: no cut along crossings closes it."""
    body = bodies.ball(40.0, 5)
    a, b, c = body.faces[1000]
    points = np.concatenate([body.vertices, body.vertices[[a]] * 1.05, body.vertices[[c]] * 0.9])
    count = body.vertex_count
    leaf = np.array([(a, b, count), (b, c, count + 1), (c, a, count), (a, count, count + 1)], np.int32)
    return Mesh(points, np.concatenate([body.faces, leaf]))


@pytest.mark.parametrize(("seed", "size"), [(0, 1.2), (1, 2.0), (2, 2.8)])
def test_torn_neck_leaves_the_head_alone(bodies, seed, size):
    bust = torn_bust(bodies, seed, size)
    begun = time.process_time()
    entered = enter(bust)
    block = solidify(entered.mesh, floor_z=-41.0, known=entered)
    spent = time.process_time() - begun
    assert block.solid
    assert check_mesh(block.mesh).clean
    assert "remesh" not in {repair.method for repair in block.repairs}
    head = bust.centroids()[bust.corners()[:, :, 2].min(axis=1) > -10.0]
    assert distances(head, block.mesh).max() < 0.01
    assert block.mesh.face_count < 4 * bust.face_count
    assert spent < 50.0


@pytest.mark.parametrize("flip", [False, True])
def test_doubled_faces_at_a_crossing_need_no_remesh(bodies, flip):
    body = bodies.hooked_ball(4)
    at_crossing = np.flatnonzero(damaged_faces(body))[:6]
    copies = body.faces[at_crossing][:, ::-1] if flip else body.faces[at_crossing]
    entered = enter(Mesh(body.vertices, np.concatenate([body.faces, copies])))
    whole = enter(body)
    assert {repair.method for repair in entered.repairs} <= {"clean", "orient", "unite"}
    assert entered.mesh.volume_mm3() == pytest.approx(whole.mesh.volume_mm3(), rel=1e-9)


def test_only_the_damaged_place_is_made_anew(bodies):
    damaged = ball_with_a_wall(bodies)
    made = rebuild(damaged)
    assert check_mesh(made.mesh).clean
    low, high = made.boxes[0]
    assert (high - low).max() < 20.0
    outside = ((damaged.centroids() < low) | (damaged.centroids() > high)).any(axis=1)
    assert distances(damaged.centroids()[outside], made.mesh).max() < 1e-6
    far = cKDTree(made.mesh.centroids()).query(damaged.centroids())[0]
    assert (far < 1e-9).mean() > 0.98
    # the ball is smooth there: the patch may lie half a voxel off, the cut was a few faces wide
    assert made.moved_mm < 2.0
    assert made.area_share < 0.02
    true = bodies.ball(40.0, 5).volume_mm3()
    assert made.mesh.volume_mm3() == pytest.approx(true, rel=1e-3)


def test_a_clean_body_and_a_wreck_are_not_rebuilt(bodies):
    assert rebuild(bodies.ball()) is None
    loose = np.random.default_rng(1).normal(size=(90, 3)) * 20
    assert rebuild(Mesh(loose, np.arange(90, dtype=np.int32).reshape(-1, 3))) is None


def test_the_place_is_told(bodies):
    body = ball_with_a_wall(bodies)
    from buckwright.mesh.door import _rebuilt

    done = _rebuilt(body, None)
    assert "left the rest as it was" in done.words
    assert np.linalg.norm(np.array(done.at_mm) - body.vertices[body.faces[1000]].mean(axis=0)) < 15.0
    assert "moved by" in done.warning
