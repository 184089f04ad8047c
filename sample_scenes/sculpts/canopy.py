"""Cockpit canopy: a clear bubble that narrows towards its foot, with low frame bands."""

import numpy as np
from numpy.typing import NDArray

from sculpting.clay import Clay, Faces, Field, Points, Shape, mesh_of
from sculpting.shapes import ellipsoid

__all__ = ["FILE", "UNIT_MM", "sculpt"]

FILE = "sculpt.stl"
UNIT_MM = 25.4
ASCII = True
PITCH = 1.15
BAND = 0.7
"""Height of the frame bands over the glass, mm."""
EDGE = np.float32(3.0)
"""Width of the slope beside a band, mm."""


def sculpt(coarse: float = 1.0) -> tuple[NDArray[np.float64], Faces]:
    """Make the bubble, foot on z = 0, nose towards -y; `coarse` multiplies the lattice spacing."""
    pitch = PITCH * coarse
    return mesh_of(_recipe, low=(-52, -140, -0.37 * pitch), high=(52, 140, 52), pitch=pitch)


def _recipe(clay: Clay) -> None:
    # An egg, longer behind than in front; widest 13 mm above its foot.
    nose = ellipsoid((0, -18, 13), (44.2, 111, 31.2))
    tail = ellipsoid((0, -18, 13), (44.2, 147, 31.2))

    def bubble(p: Points) -> Field:
        return np.where(p[..., 1] < -18, nose.distance(p), tail.distance(p))

    clay.add(Shape(bubble, np.minimum(nose.low, tail.low), np.maximum(nose.high, tail.high)))
    clay.displace(_frame, BAND)
    clay.keep_above(0.0)


def _frame(p: Points) -> Field:
    """Height of the frame over the glass: three hoops and a sill."""
    off = p[..., 2] - np.float32(3)
    for y, lean in ((-62.0, 0.5), (8.0, 0.0), (70.0, -0.25)):
        across = (p[..., 1] - np.float32(y)) * np.float32(np.cos(lean))
        off = np.minimum(off, np.abs(across - (p[..., 2] - 14) * np.float32(np.sin(lean))) - np.float32(3))
    eased = np.clip(0.5 - off / EDGE, 0, 1)
    return np.float32(BAND) * eased * eased * (3 - 2 * eased)
