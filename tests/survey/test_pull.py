"""Directions of pull: frames, spread, refusals."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buckwright.errors import InputError
from buckwright.survey.pull import frame_for, spread_directions, unit_vector

coordinates = st.floats(-10.0, 10.0)


@settings(max_examples=60, deadline=None)
@given(coordinates, coordinates, coordinates)
def test_frames_are_rotations(x: float, y: float, z: float) -> None:
    way = np.array([x, y, z])
    length = float(np.linalg.norm(way))
    if length < 1e-6:
        return
    frame = frame_for(way)
    assert np.allclose(frame @ way, [0.0, 0.0, length], atol=1e-7 * length)
    assert np.allclose(frame @ frame.T, np.eye(3), atol=1e-7)
    assert np.linalg.det(frame) == pytest.approx(1.0, abs=1e-7)
    # no roll: what is square to both the pull and +Z stays where it is
    hinge = np.cross(way, [0.0, 0.0, 1.0])
    assert np.allclose(frame @ hinge, hinge, atol=1e-6 * length)


def test_frames_of_the_axes() -> None:
    assert np.array_equal(frame_for((0, 0, 5)), np.eye(3))
    assert np.array_equal(frame_for((0, 0, -2)), np.diag([1.0, -1.0, -1.0]))
    assert np.allclose(frame_for((1, 0, 0)) @ [1, 0, 0], [0, 0, 1])


@pytest.mark.parametrize("cone_deg", [10.0, 90.0, 180.0])
def test_directions_fill_the_cone_evenly(cone_deg: float) -> None:
    """The first is the axis, all are within, and the shares of nested cones are those of their caps."""
    axis = unit_vector((0.3, -0.5, 0.8))
    ways = spread_directions(axis, cone_deg, 400)
    assert np.allclose(ways[0], axis)
    assert np.allclose(np.linalg.norm(ways, axis=1), 1.0)
    heights = ways @ axis
    assert heights.min() >= math.cos(math.radians(cone_deg)) - 1e-12
    half = (1.0 + math.cos(math.radians(cone_deg))) / 2.0
    assert np.mean(heights > half) == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize("about", [(0, 0, 0), (1, 2), (math.nan, 0, 1)])
def test_directions_must_point_somewhere(about: tuple[float, ...]) -> None:
    with pytest.raises(InputError, match="direction"):
        unit_vector(about)
