"""Whether a body goes on the bed, and how it is turned to go on it."""

import numpy as np
from numpy.typing import NDArray

__all__ = ["box_after", "turn_to_fit", "turned"]

_STEP_DEG = 1.0


def turned(points: NDArray[np.float64], angle_deg: float) -> NDArray[np.float64]:
    """Points (N, 2) after a turn counter-clockwise about the origin."""
    angle = np.radians(angle_deg)
    there: NDArray[np.float64] = points @ np.array(
        [[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]]
    )
    return there


def box_after(points: NDArray[np.float64], angle_deg: float) -> tuple[float, float]:
    """Width and depth of points (N, 2) after a turn, mm."""
    wide, deep = np.ptp(turned(points, angle_deg), axis=0)
    return float(wide), float(deep)


def turn_to_fit(points: NDArray[np.float64], bed_mm: tuple[float, float]) -> float | None:
    """A turn about the vertical with which a body goes on the bed.

    Parameters
    ----------
    points : (N, 2) float64, corners of its convex outline, mm
    bed_mm : width and depth that may be used

    Returns
    -------
    float or None
        Degrees counter-clockwise, 0..180. As it is where that fits, else a quarter turn, else the turn that
        leaves the most room; None where none fits.

    Notes
    -----
    Turns are tried in steps of one degree, so a body that fits at one slant only, by less than 2 % of its
    length, may be taken for too large: the safe side.

    Examples
    --------
    >>> import numpy as np
    >>> bar = np.array([(0.0, 0.0), (260.0, 0.0), (260.0, 20.0), (0.0, 20.0)])
    >>> turn_to_fit(bar, (220.0, 220.0)) is not None, turn_to_fit(bar, (180.0, 180.0))
    (True, None)
    """

    def room(angle: float) -> float:
        wide, deep = box_after(points, angle)
        return min(bed_mm[0] - wide, bed_mm[1] - deep)

    for angle in (0.0, 90.0):
        if room(angle) >= 0.0:
            return angle
    angles = np.arange(0.0, 180.0, _STEP_DEG)
    rooms = [room(float(angle)) for angle in angles]
    best = int(np.argmax(rooms))
    return float(angles[best]) if rooms[best] >= 0.0 else None
