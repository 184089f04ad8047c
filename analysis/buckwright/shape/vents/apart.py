"""Vents keep a wall to those that are there already."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from buckwright.shape.vents.vent import Vent

__all__ = ["gap_mm", "kept_apart"]


def kept_apart(vent: Vent, placed: Sequence[Vent], wall_mm: float) -> Vent | None:
    """Keep a wall from an upright vent to other upright ones: as it is, with a narrower bore, or None.

    Parameters
    ----------
    vent : an upright one
    placed : those that are there
    wall_mm : least solid between two bores

    Returns
    -------
    Vent or None
    """
    room = np.inf
    for other in placed:
        if other.leg is None:
            apart = float(np.hypot(vent.top_mm[0] - other.top_mm[0], vent.top_mm[1] - other.top_mm[1]))
            room = min(room, apart - max(other.back_bore_mm / 2, other.face.reach_mm) - wall_mm)
    if room >= max(vent.back_bore_mm / 2, vent.face.reach_mm):
        return vent
    if room < vent.face.reach_mm:
        return None
    if room > vent.face.reach_mm + 0.25:
        return replace(vent, back_bore_mm=2 * room)
    return replace(vent, back_bore_mm=vent.face.length_mm, bore_top_mm=0.0)


def gap_mm(beads: NDArray[np.float64], others: NDArray[np.float64]) -> float:
    """Solid between two sets of spheres (N, 4) and (M, 4), x, y, z and radius, mm; inf without any.

    Notes
    -----
    Between spheres along the axes of bores (`Vent.beads`) that is at most 0.03 mm more than the true gap
    where that is 1 mm or more.
    """
    if not (len(beads) and len(others)):
        return float("inf")
    between: NDArray[np.float64] = cdist(beads[:, :3], others[:, :3]) - beads[:, 3:] - others[:, 3]
    return float(between.min())
