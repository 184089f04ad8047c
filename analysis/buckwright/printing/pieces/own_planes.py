"""Planes that are given by hand: level ones, and upright ones that are square to one another."""

from collections.abc import Mapping, Sequence

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from buckwright.errors import JobError
from buckwright.printing.pieces.axes import box_of
from buckwright.printing.pieces.splitting import Cut, Hindrances, bodies_of, cut_across

__all__ = ["along_axes", "in_frame", "split_along"]

_LEVEL = np.cos(np.radians(0.5))
_SQUARE_DEG = 0.5
"""Planes may be off by so much: an empty that is turned by hand is never quite straight. House rule."""


def along_axes(planes_mm: Sequence[Sequence[float]]) -> tuple[float, dict[int, list[float]]]:
    """The turn about the vertical after which planes lie across the axes, and where they then are.

    Parameters
    ----------
    planes_mm : for each, three numbers across it and its distance from the origin along them, mm

    Returns
    -------
    degrees, and by axis the places of the planes, rising

    Raises
    ------
    JobError
        A plane leans, or stands askew to the first upright one.

    Examples
    --------
    >>> along_axes([(0, 0, 2, 40), (0, -1, 0, 5), (1, 0, 0, 12)])
    (90.0, {2: [40.0], 0: [5.0], 1: [12.0]})
    """
    turn: float | None = None
    found: dict[int, list[float]] = {}
    for number, (x, y, z, far) in enumerate(planes_mm, 1):
        length = float(np.linalg.norm((x, y, z)))
        if length == 0.0:
            raise JobError(f"printer.planes_mm: plane {number} has no direction")
        if abs(z) >= _LEVEL * length:
            found.setdefault(2, []).append(far * float(np.sign(z)))
            continue
        if abs(z) > np.sin(np.radians(_SQUARE_DEG)) * length:
            raise JobError(f"printer.planes_mm: plane {number} leans; split planes are level or upright")
        angle = float(np.degrees(np.arctan2(y, x)))
        turn = -angle if turn is None else turn
        quarter = round((angle + turn) / 90.0)
        if abs(angle + turn - 90.0 * quarter) > _SQUARE_DEG:
            raise JobError(f"printer.planes_mm: plane {number} stands askew to the first upright one")
        sign = 1.0 if quarter % 4 in (0, 1) else -1.0
        found.setdefault(quarter % 2, []).append(sign * far)
    return (turn or 0.0) + 0.0, {axis: sorted(places) for axis, places in found.items()}


def in_frame(cuts: Sequence[Cut], turn_deg: float) -> NDArray[np.float64]:
    """(N, 4) planes of cuts in the frame before it was turned: unit vector across, distance, mm."""
    back = np.radians(-turn_deg)
    across = {
        0: (np.cos(back), np.sin(back), 0.0),
        1: (-np.sin(back), np.cos(back), 0.0),
        2: (0.0, 0.0, 1.0),
    }
    every = sorted({(cut.axis, cut.at_mm) for cut in cuts})
    return np.array([(*across[axis], at) for axis, at in every], np.float64).reshape(-1, 4)


def split_along(
    solid: Manifold, planes: Mapping[int, Sequence[float]], hindrances: Hindrances
) -> tuple[list[Manifold], list[Cut]]:
    """Cut a solid along planes across the axes, each through all of it.

    Parameters
    ----------
    solid : mm
    planes : places by axis, rising
    hindrances : what planes should keep away from; here their distance is only told

    Returns
    -------
    pieces, cuts
        Each piece is one body. United they are the solid. Planes that miss it cut nothing.
    """
    box = box_of(solid)
    pieces, cuts = [solid], []
    for axis in (2, 0, 1):
        inside = [at for at in planes.get(axis, ()) if box[0, axis] < at < box[1, axis]]
        pieces = [part for piece in pieces for part in cut_across(piece, axis, inside)]
        far = hindrances.distance(axis, np.asarray(inside), box) if inside else np.zeros(0)
        cuts += [Cut(axis, at, float(gap)) for at, gap in zip(inside, far, strict=True)]
    return [body for piece in pieces for body in bodies_of(piece)], cuts
