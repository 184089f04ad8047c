"""Scallop shade: a shallow shell with fanned ribs, the outside of which is to be crisp."""

import numpy as np
from numpy.typing import NDArray

from sculpting.clay import Clay, Faces, Field, Points, mesh_of
from sculpting.shapes import ellipsoid

__all__ = ["FILE", "UNIT_MM", "sculpt"]

FILE = "sculpt.stl"
UNIT_MM = 1.0
PITCH = 0.8
HINGE_MM = np.float32(50.0)
"""How far in front of the middle the ribs meet."""
RIBS = np.float32(16.0)
"""Ribs in a half turn."""
RIB_MM = 1.8
"""Height of a rib."""
BARE_MM, FADE_MM = np.float32(10.0), np.float32(30.0)
"""Round the hinge nothing is ribbed, then the ribs rise over so much."""


def sculpt(coarse: float = 1.0) -> tuple[NDArray[np.float64], Faces]:
    """Make the shell, its rim on z = 0 and its outside up; `coarse` multiplies the lattice spacing."""
    pitch = PITCH * coarse
    return mesh_of(_recipe, low=(-74, -68, -0.37 * pitch), high=(74, 68, 38), pitch=pitch)


def _recipe(clay: Clay) -> None:
    clay.add(ellipsoid((0, 0, -20), (70, 62, 52)))
    clay.displace(_ribs, RIB_MM)
    clay.keep_above(0.0)


def _ribs(p: Points) -> Field:
    """Height of the ribs over the plain shell; they fan out from the hinge."""
    along = p[..., 1] + HINGE_MM
    out = np.hypot(p[..., 0], along)
    waves = np.float32(0.5) + np.float32(0.5) * np.cos(RIBS * np.arctan2(p[..., 0], along))
    risen = np.clip((out - BARE_MM) / FADE_MM, 0, 1)
    return np.float32(RIB_MM) * waves * risen * risen * (3 - 2 * risen)
