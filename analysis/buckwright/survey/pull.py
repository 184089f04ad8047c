"""Directions of pull. Only here, in the search for a setup and at the door is the pull not +Z."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buckwright.errors import InputError

__all__ = ["frame_for", "spread_directions", "unit_vector"]

_GOLDEN_ANGLE = np.pi * (3.0 - np.sqrt(5.0))
_STRAIGHT_DOWN = 1e-12


def frame_for(direction: ArrayLike) -> NDArray[np.float64]:
    """Rotation that takes a direction to +Z by the shortest way.

    Parameters
    ----------
    direction : (3,) any length over 0

    Returns
    -------
    (3, 3) float64, rotation matrix R: ``R @ direction`` points along +Z

    Raises
    ------
    InputError
        The direction has no length, or is not three finite numbers.

    Notes
    -----
    +Z itself gives the identity, and the roll about the pull stays as near to that of the sculpt as it can.
    Straight down is turned over about the x axis.

    Examples
    --------
    >>> import numpy as np
    >>> turn = frame_for((1.0, 0.0, 0.0))
    >>> bool(np.allclose(turn @ (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)))
    True
    >>> bool(np.array_equal(frame_for((0.0, 0.0, 2.0)), np.eye(3)))
    True
    """
    x, y, z = unit_vector(direction)
    if z < -1.0 + _STRAIGHT_DOWN:
        return np.array([[1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, -1.0]])
    share = 1.0 / (1.0 + z)
    return np.array(
        [[1.0 - x * x * share, -x * y * share, -x], [-x * y * share, 1.0 - y * y * share, -y], [x, y, z]]
    )


def unit_vector(direction: ArrayLike) -> NDArray[np.float64]:
    """A direction with length 1.

    Parameters
    ----------
    direction : (3,) any length over 0

    Raises
    ------
    InputError
        The direction has no length, or is not three finite numbers.
    """
    vector = np.asarray(direction, dtype=np.float64)
    length = float(np.linalg.norm(vector))
    if vector.shape != (3,) or not 0.0 < length < np.inf:
        raise InputError(f"a direction must be three numbers, not all zero, got {direction!r}")
    return vector / length


def spread_directions(axis: NDArray[np.float64], cone_deg: float, count: int) -> NDArray[np.float64]:
    """Evenly spread directions within a cone, on a Fibonacci spiral.

    Parameters
    ----------
    axis : (3,) unit vector
    cone_deg : half angle of the cone, 0..180 degrees
    count : how many, >= 1

    Returns
    -------
    (count, 3) float64 : unit vectors; the first is the axis itself
    """
    low = np.cos(np.radians(cone_deg))
    z = 1.0 - (1.0 - low) * np.arange(count) / max(count - 1, 1)
    turn = np.arange(count) * _GOLDEN_ANGLE
    level = np.sqrt(np.maximum(1.0 - z * z, 0.0))
    directions: NDArray[np.float64] = np.column_stack([level * np.cos(turn), level * np.sin(turn), z])
    turned: NDArray[np.float64] = directions @ frame_for(axis)
    return turned
