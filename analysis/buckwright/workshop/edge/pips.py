"""Pips on the buck: small bumps that the sheet takes over, where a drill is set."""

from collections.abc import Sequence

import numpy as np
from manifold3d import Manifold, OpType
from numpy.typing import NDArray

from buckwright.workshop.edge.holes import PartHole

__all__ = ["pip_height_mm", "pips", "pips_at"]

_BALL_MM = 1.0
_SEGMENTS = 24
_STEEP_DEG = 60.0
_ON_WALL_MM = 0.3
"""A bump on a wall is an undercut; up to this the sheet flexes over it: house rule."""


def pip_height_mm(hole: PartHole, height_mm: float) -> float:
    """How far the pips of a hole stand out: less on a wall, where they would lock.

    Parameters
    ----------
    hole : on the buck
    height_mm : what is wanted
    """
    return min(height_mm, _ON_WALL_MM) if hole.slope_deg > _STEEP_DEG else height_mm


def pips(holes: Sequence[PartHole], height_mm: float) -> Manifold | None:
    """The bumps, to be joined with the buck.

    Parameters
    ----------
    holes : on the buck
    height_mm : how far they stand out where the buck is not steep

    Returns
    -------
    Manifold or None : None where there is nothing to mark
    """
    if height_mm <= 0.0:
        return None
    made = [
        _pip(place, hole.normal, pip_height_mm(hole, height_mm))
        for hole in holes
        for place in hole.drilled_mm
    ]
    return Manifold.batch_boolean(made, OpType.Add) if made else None


def pips_at(places: NDArray[np.float64], height_mm: float) -> Manifold | None:
    """Bumps on level ground, to be joined with the buck.

    Parameters
    ----------
    places : (N, 3) float64, mm, on the buck
    height_mm : how far they stand out

    Returns
    -------
    Manifold or None : None where there is nothing to mark
    """
    if height_mm <= 0.0 or not len(places):
        return None
    up = np.array([0.0, 0.0, 1.0])
    return Manifold.batch_boolean([_pip(place, up, height_mm) for place in places], OpType.Add)


def _pip(place: NDArray[np.float64], normal: NDArray[np.float64], height_mm: float) -> Manifold:
    reach = max(_BALL_MM, height_mm)
    x, y, z = (float(v) for v in place + normal * (height_mm - reach))
    return Manifold.sphere(reach, _SEGMENTS).translate((x, y, z))
