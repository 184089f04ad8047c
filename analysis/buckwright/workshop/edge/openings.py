"""Openings of the part: where it is open through to the base, what lies there is cut out."""

import numpy as np
from manifold3d import CrossSection, FillRule
from numpy.typing import NDArray

from buckwright.mesh.level_cut import level_cut
from buckwright.mesh.triangles import Mesh
from buckwright.workshop.edge.trim_curve import even_ring

__all__ = ["opening_rings"]

_LEAST_MM2 = 80.0
"""A narrower opening than one of 10 mm is drilled, not cut out: judgement."""
_FLOOR_MM = 0.05  # over the base, so that its own top is not cut

type Points = NDArray[np.float64]


def opening_rings(buck: Mesh, floor_mm: float, level_mm: float) -> tuple[Points, ...]:
    """Walls of the openings at a height.

    Parameters
    ----------
    buck : without vents, mm
    floor_mm : top of the base, the floor of every opening
    level_mm : height at which the sheet is cut

    Returns
    -------
    tuple of (N, 3) float64, mm : counter-clockwise, the longest first; hollows whose floor is the part's own
    are none
    """
    wells = _holes(buck, floor_mm + _FLOOR_MM)
    found = []
    for ring in _holes(buck, level_mm):
        area = CrossSection([ring], FillRule.NonZero)
        if area.area() < _LEAST_MM2 or not any(_meets(area, well) for well in wells):
            continue
        found.append(even_ring(np.column_stack([ring, np.full(len(ring), level_mm)])))
    return tuple(sorted(found, key=lambda ring: -_length(ring)))


def _holes(buck: Mesh, z_mm: float) -> list[Points]:
    """Outlines of what is open within the solid at a height, counter-clockwise."""
    rings = [line[:, :2] for line in level_cut(buck, z_mm)]
    if not rings:
        return []
    outlines = [np.asarray(one, np.float64) for one in CrossSection(rings, FillRule.EvenOdd).to_polygons()]
    return [one[::-1] for one in outlines if _area(one) < 0.0]


def _area(ring: Points) -> float:
    x, y = ring.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) / 2.0


def _meets(area: CrossSection, well: Points) -> bool:
    return float((area ^ CrossSection([well], FillRule.NonZero)).area()) > 0.5 * _LEAST_MM2


def _length(ring: Points) -> float:
    return float(np.linalg.norm(ring - np.roll(ring, -1, axis=0), axis=1).sum())
