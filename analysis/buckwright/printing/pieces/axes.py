"""Sections of a solid across one of the three axes, and bodies put up along it."""

from typing import Any

import numpy as np
from manifold3d import CrossSection, Manifold
from numpy.typing import NDArray

__all__ = ["TOUCH_MM", "box_of", "from_axis", "meeting", "other_axes", "section", "to_axis"]

TOUCH_MM = 0.01
"""How far inside a piece its cut face is looked at."""
_ROUNDING_MM = 1e-6


def box_of(body: Manifold) -> NDArray[np.float64]:
    """(2, 3) the lowest and the highest corner of a body's box, mm."""
    return np.asarray(body.bounding_box(), np.float64).reshape(2, 3)


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


def meeting(below: Manifold, above: Manifold, axis: int, at_mm: float) -> CrossSection:
    """Where two bodies meet at a plane, in the two other axes; empty where they do not.

    Parameters
    ----------
    below, above : bodies on either side; either may also reach through the plane elsewhere
    axis, at_mm : the plane

    Examples
    --------
    >>> from manifold3d import Manifold
    >>> cube = Manifold.cube((4.0, 3.0, 2.0))
    >>> round(meeting(cube, cube.translate((1.0, 0.0, 2.0)), 2, 2.0).area(), 6)
    9.0
    """
    (low, high), (base, top) = box_of(below), box_of(above)
    others = [k for k in range(3) if k != axis]
    beside = max(low[k] - top[k] for k in others), max(base[k] - high[k] for k in others)
    depth, height = at_mm - low[axis], top[axis] - at_mm
    if max(beside) > -_ROUNDING_MM or high[axis] < at_mm - TOUCH_MM or base[axis] > at_mm + TOUCH_MM:
        return CrossSection()
    if depth <= 0.0 or height <= 0.0:
        return CrossSection()
    # a sliver may be thinner than the depth at which faces are looked at
    inside = min(TOUCH_MM, 0.25 * depth), min(TOUCH_MM, 0.25 * height)
    return section(below, axis, at_mm - inside[0]) ^ section(above, axis, at_mm + inside[1])
