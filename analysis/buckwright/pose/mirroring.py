"""The other one of a pair: the turn into the pull frame, mirrored."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buckwright.errors import InputError
from buckwright.survey.pull import frame_for

__all__ = ["mirrored_frame"]

# Sine of the angle between pull and axis under which nothing is left to mirror across: rounding only.
_ALONG = 1e-6


def mirrored_frame(direction: ArrayLike, mirror: str) -> NDArray[np.float64]:
    """Turn a pull to +Z and mirror what is turned across a plane that holds the pull.

    Parameters
    ----------
    direction : (3,) any length over 0, in the sculpt's axes
    mirror : axis of the sculpt across which it is mirrored, 'x', 'y' or 'z'; 'none' only turns

    Returns
    -------
    (3, 3) float64 : as `frame_for`, with determinant -1 where it mirrors

    Raises
    ------
    InputError
        The axis runs along the pull: the part would stand on its head.

    Notes
    -----
    The plane is the one through the pull whose normal is nearest to the axis, so the pull stays the same of
    the sculpt and every place given in its coordinates lands on the mirrored place.

    Examples
    --------
    >>> import numpy as np
    >>> bool(np.array_equal(mirrored_frame((0.0, 0.0, 1.0), "x"), np.diag([-1.0, 1.0, 1.0])))
    True
    """
    turn = frame_for(direction)
    if mirror == "none":
        return turn
    normal = turn @ np.eye(3)["xyz".index(mirror)] * [1.0, 1.0, 0.0]
    length = float(np.linalg.norm(normal))
    if length < _ALONG:
        others = " or ".join(axis for axis in "xyz" if axis != mirror)
        raise InputError(
            f"sculpt.mirror = {mirror!r} runs along the pull, and the part would stand on its head; "
            f"mirror across {others}"
        )
    normal /= length
    mirrored: NDArray[np.float64] = (np.eye(3) - 2.0 * np.outer(normal, normal)) @ turn
    return mirrored
