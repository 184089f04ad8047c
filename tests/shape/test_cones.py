"""Envelope of draft cones against closed forms, brute force and scipy."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buckwright.shape.fill.cones import ConeField


def test_cone_over_a_point_and_wedge_beside_an_edge() -> None:
    draft = 5.0
    k = 1.0 / np.tan(np.radians(draft))
    point = ConeField(np.array([[0.0, 0.0, 9.0, 0.0, 0.0, 9.0]]), draft_deg=draft)
    z, _ = point.evaluate(np.array([[3.0, 4.0]]))
    assert z[0] == pytest.approx(9.0 - 5.0 * k, abs=1e-12)
    edge = ConeField(np.array([[-10.0, 0.0, 9.0, 10.0, 0.0, 9.0]]), draft_deg=draft)
    z, _ = edge.evaluate(np.array([[2.0, 0.5], [13.0, 4.0]]))
    np.testing.assert_allclose(z, [9.0 - 0.5 * k, 9.0 - 5.0 * k], atol=1e-12)


def test_lateral_draft_of_100_mm() -> None:
    """Sideways run of a wall 100 mm high is 100 tan(draft): 1.7455, 5.2408, 8.7489 mm (arithmetic)."""
    for draft, run in ((1.0, 1.7455), (3.0, 5.2408), (5.0, 8.7489)):
        field = ConeField(np.array([[0.0, -1.0, 100.0, 0.0, 1.0, 100.0]]), draft_deg=draft)
        z, _ = field.evaluate(np.array([[run, 0.0]]))
        assert z[0] == pytest.approx(0.0, abs=1e-3 / np.tan(np.radians(draft)))


def many(seed: int, count: int = 300) -> np.ndarray:
    rng = np.random.default_rng(seed)
    start = np.column_stack([rng.uniform(0, 40, (count, 2)), rng.uniform(0, 25, count)])
    return np.column_stack([start, start + rng.normal(0, 2.0, (count, 3))])


def test_field_equals_dense_sampling_of_its_segments_from_above() -> None:
    segments = many(3)
    field = ConeField(segments, draft_deg=8.0)
    points = np.random.default_rng(4).uniform(-5, 45, (200, 2))
    z, source = field.evaluate(points)
    t = np.linspace(0.0, 1.0, 4001)[:, None]
    for n, point in enumerate(points):
        s = field.segments[source[n]]
        along = s[:3] * (1.0 - t) + s[3:] * t
        best = (along[:, 2] - field.steepness * np.hypot(*(along[:, :2] - point).T)).max()
        # sampling can only miss the best place along the segment
        assert -1e-9 <= z[n] - best < 2e-2
    ends = np.concatenate([segments[:, :3], segments[:, 3:]])
    apart = np.hypot(points[:, None, 0] - ends[:, 0], points[:, None, 1] - ends[:, 1])
    assert (z >= (ends[:, 2] - field.steepness * apart).max(axis=1) - 1e-9).all()


def test_start_heights_are_beaten_or_kept() -> None:
    field = ConeField(many(5), draft_deg=8.0)
    points = np.random.default_rng(6).uniform(0, 40, (100, 2))
    free, _ = field.evaluate(points)
    z, source = field.evaluate(points, at_least=np.full(100, 12.0))
    np.testing.assert_array_equal(z, np.maximum(free, 12.0))
    assert ((source < 0) == (free <= 12.0)).all()


def test_no_segments() -> None:
    z, source = ConeField(np.zeros((0, 6)), draft_deg=3.0).evaluate(np.zeros((3, 2)))
    assert (z == -np.inf).all() and (source == -1).all()


@settings(max_examples=20, deadline=None)
@given(angle=st.floats(0.0, 6.28), scale=st.floats(0.05, 20.0), seed=st.integers(0, 999))
def test_field_turns_and_scales_with_its_rims(angle: float, scale: float, seed: int) -> None:
    segments = many(seed, 40)
    points = np.random.default_rng(seed).uniform(0, 40, (30, 2))
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    moved = segments * scale
    moved[:, :2] = moved[:, :2] @ turn.T
    moved[:, 3:5] = moved[:, 3:5] @ turn.T
    z, _ = ConeField(segments, draft_deg=6.0).evaluate(points)
    again, _ = ConeField(moved, draft_deg=6.0).evaluate(points @ turn.T * scale)
    np.testing.assert_allclose(again, z * scale, atol=1e-8 * scale * 100)
