import time

import numpy as np
import pytest

from buckwright.mesh.door import enter, solidify
from buckwright.mesh.specks import without_specks
from buckwright.mesh.triangles import Mesh


def strewn(bodies, count, size, seed=3):
    """Small tetrahedra around a sculpt of 80 mm, none of which touches it."""
    rng = np.random.default_rng(seed)
    place = rng.normal(size=(count, 1, 3))
    place *= rng.uniform(60, 90, (count, 1, 1)) / np.linalg.norm(place, axis=2, keepdims=True)
    corners = np.array([(0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)], float)
    points = corners * size * rng.uniform(0.2, 1.0, (count, 1, 1)) + place
    faces = np.array([(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)])
    return Mesh.from_arrays(
        points.reshape(-1, 3), (faces + 4 * np.arange(count)[:, None, None]).reshape(-1, 3)
    )


def scraps(count, size, seed=4):
    rng = np.random.default_rng(seed)
    points = rng.uniform(-90, 90, (count, 1, 3)) + rng.normal(size=(count, 3, 3)) * size
    return Mesh.from_arrays(points.reshape(-1, 3), np.arange(3 * count).reshape(-1, 3))


def bust(bodies):
    body = bodies.ball(40.0, 4)
    return body.submesh(body.centroids()[:, 2] > -25.0)


@pytest.mark.parametrize("part", ["closed", "open"])
def test_three_thousand_specks_and_two_thousand_scraps_go_in_seconds(bodies, part):
    sculpt = bodies.ball(40.0, 4) if part == "closed" else bust(bodies)
    for dust, words in (
        (strewn(bodies, 3000, 0.8), "3000 small loose bodies"),
        (scraps(2000, 2.0), "2000 loose scraps"),
    ):
        begun = time.process_time()
        entered = enter(bodies.joined(sculpt, dust))
        if not entered.solid:
            assert np.array_equal(entered.mesh.corners(), sculpt.corners())
            entered = solidify(entered.mesh, floor_z=-41.0, known=entered)
        else:
            assert any(words in repair.words for repair in entered.repairs)
            assert np.array_equal(entered.mesh.corners(), sculpt.corners())
        assert entered.solid
        assert entered.notes == ()
        assert time.process_time() - begun < 20.0


def test_small_bodies_that_touch_stay_and_large_ones_too(bodies):
    body = bodies.ball(40.0, 4)
    bead = bodies.ball(1.0, 1)
    straddling = Mesh(bead.vertices + np.array([0, 0, 40.0]), bead.faces)
    beside = bodies.box((10, 10, 10), (80, 0, 0))
    for held in (straddling, beside):
        mesh = bodies.joined(body, held)
        assert without_specks(mesh) == (mesh, 0, 0)
    floating = Mesh(bead.vertices + np.array([0, 0, 45.0]), bead.faces)
    kept, closed, opened = without_specks(bodies.joined(body, floating, straddling))
    assert (closed, opened) == (1, 0)
    assert kept.face_count == body.face_count + bead.face_count


def test_body_that_rests_on_another_is_no_speck(bodies):
    plate = bodies.box((400.0, 400.0, 10.0))
    stud = bodies.box((4.0, 4.0, 4.0), (30.0, 20.0, 7.0))
    mesh = bodies.joined(plate, stud)
    assert without_specks(mesh)[0] is mesh
    lifted = bodies.joined(plate, bodies.box((4.0, 4.0, 4.0), (30.0, 20.0, 8.0)))
    assert without_specks(lifted)[1:] == (1, 0)


def test_equal_bodies_are_all_kept(bodies):
    mesh = bodies.joined(*(bodies.box((2, 2, 2), (5.0 * k, 0, 0)) for k in range(30)))
    assert without_specks(mesh)[0] is mesh
