"""From where a place is seen best, against obstacles whose shadows are known."""

from importlib import import_module

import numpy as np
import pytest


@pytest.fixture(scope="module")
def eyes(addon):
    return import_module(f"{addon.__name__}.view.best_eye")


def _free(asked):
    return np.ones(len(asked), bool)


def test_directions_are_even_over_the_sphere(eyes):
    along = eyes.directions(200)
    assert np.linalg.norm(along, axis=1) == pytest.approx(1.0)
    assert np.abs(along.mean(axis=0)).max() < 0.01
    nearest = np.sort(along @ along.T, axis=1)[:, -2]
    # 200 equal caps have a half-angle of 8.1 degrees.
    assert np.degrees(np.arccos(nearest.min())) < 20.0
    # No direction is further from one of them than what is tried again around the best.
    asked = np.random.default_rng(1).normal(size=(5000, 3))
    asked /= np.linalg.norm(asked, axis=1)[:, None]
    assert np.degrees(np.arccos((asked @ along.T).max(axis=1).min())) < eyes._NEAR_DEG


@pytest.mark.parametrize("axis", [(0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.6, 0.0, -0.8)])
def test_directions_around_another_fill_its_cap(eyes, axis):
    axis = np.array(axis)
    along = eyes.around(axis, 20.0, 400)
    assert np.linalg.norm(along, axis=1) == pytest.approx(1.0)
    lean = np.degrees(np.arccos(np.clip(along @ axis, -1.0, 1.0)))
    assert lean.max() <= 20.0 and lean.max() > 19.0 and lean.min() < 2.0
    # Half of the area of a cap lies outside of the cone whose height is half the cap's.
    middle = np.degrees(np.arccos((1.0 + np.cos(np.radians(20.0))) / 2.0))
    assert np.mean(lean > middle) == pytest.approx(0.5, abs=0.02)


def _best(eyes, points, normals, present, sight, first=()):
    return eyes.best_eye(
        np.array(points, float),
        np.array(normals, float),
        centre=np.mean(points, axis=0),
        distance=10.0,
        present=np.array(present, float) / np.linalg.norm(present),
        first=np.array(first, float).reshape(-1, 3),
        sight=sight,
    )


def test_the_view_stays_where_all_is_seen_already(eyes):
    seen = _best(eyes, [(0, 0, 0)], [(0, 0, 1)], (1, 0, 2), lambda _eyes, asked: _free(asked))
    assert seen.share == 1.0 and seen.along @ np.array([1, 0, 2]) / np.sqrt(5) == pytest.approx(1.0)


def test_a_face_that_looks_away_is_gone_round_to_the_nearer_side(eyes):
    seen = _best(eyes, [(0, 0, 0)], [(0, 0, 1)], (1, 0, -1), lambda _eyes, asked: _free(asked))
    assert seen.share == 1.0 and seen.along[2] > 0.1
    assert seen.along[0] > 0.9, "no further round than needed"


def test_a_hidden_place_is_looked_at_past_what_hides_it(eyes):
    """A disc of radius 3 at height 1 over a point: seen from lower than 18.4 degrees over the ground."""

    def sight(eye, asked):
        way = eye - asked
        at = asked + way / way[:, 2:] * (1.0 - asked[:, 2:])
        return np.linalg.norm(at[:, :2], axis=1) > 3.0

    seen = _best(eyes, [(0, 0, 0)], [(0, 0, 1)], (0, 0, 1), sight, first=[(0, 0, 1)])
    assert seen.share == 1.0
    assert 0.0 < np.degrees(np.arcsin(seen.along[2])) < 18.5


def test_most_is_shown_of_what_cannot_be_shown_whole(eyes):
    """Two faces back to back, one of them three times as large."""
    points, normals = np.zeros((4, 3)), [(1, 0, 0)] * 3 + [(-1, 0, 0)]
    seen = _best(eyes, points, normals, (-1, 0, 0), lambda _eyes, asked: _free(asked))
    assert seen.share == 0.75 and seen.along[0] > 0.0


def test_a_slot_between_the_tried_directions_is_found(eyes):
    """A hole with walls at 11 degrees: half as wide as the tried directions stand apart."""
    axis = np.array([0.31, -0.52, 0.8])
    axis /= np.linalg.norm(axis)
    rng = np.random.default_rng(4)
    points = rng.normal(size=(40, 3)) * 0.02
    spread = np.linspace(4.0, 18.0, 40)

    def sight(eye, asked):
        # Deep points are seen from near the axis only, shallow ones from further off.
        way = (eye - asked) / np.linalg.norm(eye - asked, axis=1)[:, None]
        which = [int(np.argmin(np.abs(points - one).sum(axis=1))) for one in asked]
        return np.degrees(np.arccos(way @ axis)) < spread[which]

    seen = _best(eyes, points, np.zeros((40, 3)), (0, 0, 1), sight)
    coarse = max(sight(10.0 * np.broadcast_to(d, points.shape), points).mean() for d in eyes.directions(200))
    assert seen.share >= 0.85 and seen.share >= coarse - 0.04
