"""Sections of a solid across one of the three axes, and bodies put up along it."""

from typing import Any

import numpy as np
from manifold3d import CrossSection, Manifold
from numpy.typing import NDArray

__all__ = ["TOUCH_MM", "from_axis", "other_axes", "section", "to_axis"]

TOUCH_MM = 0.01
"""How far inside a piece its cut face is looked at."""


def other_axes(axis: int) -> tuple[int, int]:
    """The two axes across one, in the order that keeps the frame right-handed."""
    return (axis + 1) % 3, (axis + 2) % 3


def _turn(axis: int) -> NDArray[np.float64]:
    turn = np.zeros((3, 4))
    for row, column in enumerate((*other_axes(axis), axis)):
        turn[row, column] = 1.0
    return turn


def to_axis(solid: Manifold, axis: int) -> Manifold:
    """Turn a solid so that an axis stands upright: (x, y, z) become the two other axes, then it."""
    return solid if axis == 2 else solid.transform(_turn(axis))


def from_axis(solid: Manifold, axis: int) -> Manifold:
    """Undo `to_axis`."""
    if axis == 2:
        return solid
    back: Any = np.hstack([_turn(axis)[:, :3].T, np.zeros((3, 1))])
    return solid.transform(back)


def section(solid: Manifold, axis: int, at_mm: float) -> CrossSection:
    """Section across an axis, in the coordinates of the two other axes.

    Examples
    --------
    >>> from manifold3d import Manifold
    >>> [round(section(Manifold.cube((2, 3, 5)), axis, 1.0).area(), 9) for axis in range(3)]
    [15.0, 10.0, 6.0]
    """
    return to_axis(solid, axis).slice(at_mm)
