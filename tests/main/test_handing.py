"""Results as arrays: every value belongs to the face of the file that it is told of."""

from functools import partial

import numpy as np
import pytest
import trimesh

from buckwright.mesh.triangles import Mesh
from buckwright.pipeline.run import run as run_command

look = partial(run_command, "look")
make = partial(run_command, "make")


@pytest.fixture
def arrays_of(job_of, tmp_path):
    def arrays(mesh, *, run=look, **tables):
        path = tmp_path / "sculpt.npz"
        np.savez(path, vertices=mesh.vertices, faces=mesh.faces)
        run(job_of(path, **tables), None, results=tmp_path / "results")
        with np.load(tmp_path / "results" / "arrays.npz", allow_pickle=False) as held:
            return {name: held[name] for name in held.files}

    return arrays


def _draft_deg(mesh):
    """Draft against z from the normals alone."""
    vectors = mesh.area_vectors()
    return np.degrees(np.arcsin(vectors[:, 2] / np.linalg.norm(vectors, axis=1)))


def test_a_sound_sculpt_is_answered_face_by_face(arrays_of, shape):
    mesh = shape("mushroom")
    order = np.random.default_rng(3).permutation(mesh.face_count)
    mixed = Mesh(mesh.vertices, np.ascontiguousarray(mesh.faces[order]))
    arrays = arrays_of(mixed)
    np.testing.assert_allclose(arrays["draft_deg"], _draft_deg(mixed), atol=1e-4)
    stem = (np.abs(_draft_deg(mixed)) < 1) & (mixed.centroids()[:, 2] > 0.1)
    assert (arrays["state"][stem] == 2).all()
    assert (arrays["undercut_mm"][stem] > 0).all()
    top = _draft_deg(mixed) > 10
    assert (arrays["state"][top] == 0).all()
    assert (arrays["region"][top] == -1).all()
    assert not arrays["repaired"]


def test_faces_that_the_door_drops_or_turns_do_not_shift_the_others(arrays_of, shape):
    mesh = shape("mushroom")
    # a face of no area first, every tenth face turned over, a point that nobody uses
    faces = mesh.faces.copy() + 1
    faces[::10] = faces[::10, ::-1]
    broken = Mesh(
        np.vstack([[90.0, 90.0, 3.0], mesh.vertices]),
        np.vstack([[[1, 1, 2]], faces]).astype(np.int32),
    )
    arrays = arrays_of(broken)
    plain = arrays_of(mesh)
    assert arrays["state"][0] == -1 and np.isnan(arrays["draft_deg"][0])
    np.testing.assert_array_equal(arrays["state"][1:], plain["state"])
    np.testing.assert_allclose(arrays["draft_deg"][1:], plain["draft_deg"], atol=1e-4)
    np.testing.assert_allclose(arrays["undercut_mm"][1:], plain["undercut_mm"], atol=1e-4)


def test_an_open_sculpt_keeps_its_faces(arrays_of, shape):
    mesh = shape("cone")
    bottom = np.abs(mesh.centroids()[:, 2]) < 1e-9
    cup = mesh.submesh(~bottom)
    arrays = arrays_of(cup)
    np.testing.assert_allclose(arrays["draft_deg"], _draft_deg(cup), atol=1e-4)
    assert len(arrays["state"]) == cup.face_count


def test_of_crossing_bodies_what_lies_inside_is_gone(arrays_of):
    ball = trimesh.creation.icosphere(subdivisions=3, radius=10.0)
    two = trimesh.util.concatenate([ball, ball.copy().apply_translation([12.0, 0.3, 0.2])])
    mesh = Mesh.from_arrays(two.vertices, two.faces)
    arrays = arrays_of(mesh)
    middles = mesh.centroids()
    near = np.minimum(np.linalg.norm(middles - [12.0, 0.3, 0.2], axis=1), np.linalg.norm(middles, axis=1))
    inside, outside = near < 9.0, near > 9.93
    assert inside.sum() > 50
    assert (arrays["state"][inside] == -1).all()
    assert (arrays["state"][outside] >= 0).mean() > 0.95
    there = outside & (arrays["state"] >= 0)
    np.testing.assert_allclose(arrays["draft_deg"][there], _draft_deg(mesh)[there], atol=1e-3)


def test_a_sunk_sculpt_has_lost_what_went_into_the_base(arrays_of, shape):
    mesh = shape("cone")
    arrays = arrays_of(mesh, base={"sink_mm": 5.0})
    below = mesh.corners()[:, :, 2].max(axis=1) < 4.9
    above = mesh.centroids()[:, 2] > 5.1
    assert (arrays["state"][below] == -1).all()
    np.testing.assert_allclose(arrays["draft_deg"][above], _draft_deg(mesh)[above], atol=1e-3)


def test_a_remeshed_sculpt_is_answered_by_what_lies_nearest(arrays_of):
    count = 120
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    rim = []
    for s in (-6.0, 6.0):  # a one-sided strip: nothing but a remesh makes a solid of it
        reach = 30 + s * np.cos(angle / 2)
        rim.append(np.stack([reach * np.cos(angle), reach * np.sin(angle), s * np.sin(angle / 2)], 1))
    a = 2 * np.arange(count)
    c, d = np.roll(a, -1), np.roll(a + 1, -1)
    c[-1], d[-1] = 1, 0
    faces = np.concatenate([np.stack([a, a + 1, c], 1), np.stack([a + 1, d, c], 1)])
    foot = trimesh.creation.box((8.0, 8.0, 8.0))  # so that there is something to close down to
    mesh = Mesh.from_arrays(
        np.vstack([np.stack(rim, 1).reshape(-1, 3), foot.vertices - [0, 0, 12]]),
        np.vstack([faces, foot.faces + 2 * count]),
    )
    arrays = arrays_of(mesh)
    assert arrays["repaired"]
    known = arrays["state"] >= 0
    assert known.mean() > 0.9
    assert np.isfinite(arrays["draft_deg"][known]).all()


def test_a_buck_comes_with_its_lines_and_its_air(arrays_of, shape):
    mesh = shape("idol")
    arrays = arrays_of(mesh, run=make)
    matrix = arrays["frame"]
    placed = mesh.transformed(matrix)
    buck = Mesh.from_arrays(arrays["buck_vertices"], arrays["buck_faces"])
    assert abs(buck.bounds[0, 2]) < 1e-6
    assert placed.bounds[1, 2] == pytest.approx(buck.bounds[1, 2], abs=1e-3)
    # the eye bowls hold air, and a vent stands near
    eyes = np.linalg.norm(mesh.centroids() - [9, -8, 36.5], axis=1) < 4.6
    assert arrays["pocket_mm"][eyes].max() > 1.0
    assert arrays["pocket_mm"][mesh.centroids()[:, 2] > 37.4].max() == 0.0
    assert (arrays["vent_reach_mm"][eyes] < 10).all()
    axes = arrays["vents"][:, :2]
    apart = np.linalg.norm(placed.centroids()[:, None, :2] - axes, axis=2).min(axis=1)
    np.testing.assert_allclose(arrays["vent_reach_mm"], apart, atol=1e-3)
    assert set(arrays["vent_kind"]) <= {"slot", "hole", "dimple"}
    trim, outline = arrays["trim_0"], arrays["outline_0"]
    assert np.ptp(trim[:, 2]) == 0
    assert (trim[:, :2].min(0) > outline.min(0)).all() and (trim[:, :2].max(0) < outline.max(0)).all()
    np.testing.assert_allclose(outline.min(0), buck.bounds[0, :2], atol=0.5)  # channels leave there


def test_without_vents_there_is_no_reach(arrays_of, shape):
    arrays = arrays_of(shape("cone"), run=make, vents={"enabled": False})
    assert np.isnan(arrays["vent_reach_mm"]).all()
    assert arrays["vents"].shape == (0, 6)
    assert "pocket_mm" not in arrays
