"""Openings and islands of the part: where it is open through to the base, and what stands there by itself."""

import numpy as np
from manifold3d import CrossSection, FillRule
from numpy.typing import NDArray

from buckwright.mesh.level_cut import level_cut
from buckwright.mesh.triangles import Mesh
from buckwright.workshop.edge.trim_curve import even_ring

__all__ = ["island_rings", "opening_rings"]

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
    wells = _outlines(buck, floor_mm + _FLOOR_MM, -1.0)
    found = []
    for ring in _outlines(buck, level_mm, -1.0):
        area = CrossSection([ring], FillRule.NonZero)
        if area.area() < _LEAST_MM2 or not any(_meets(area, well) for well in wells):
            continue
        found.append(even_ring(np.column_stack([ring, np.full(len(ring), level_mm)])))
    return tuple(sorted(found, key=lambda ring: -_length(ring)))


def island_rings(buck: Mesh, floor_mm: float, level_mm: float) -> tuple[Points, ...]:
    """Walls of bodies that stand apart from one another on the base, at a height.

    Parameters
    ----------
    buck : without vents, mm
    floor_mm : top of the base, the floor between them
    level_mm : height at which the sheet is cut

    Returns
    -------
    tuple of (N, 3) float64, mm : counter-clockwise, the longest first, one for each body; none where there
    are not two of them. Where a body branches, its largest branch counts.
    """
    feet = [
        area
        for ring in _outlines(buck, floor_mm + _FLOOR_MM, 1.0)
        if (area := CrossSection([ring], FillRule.NonZero)).area() >= _LEAST_MM2
    ]
    walls = [(ring, CrossSection([ring], FillRule.NonZero)) for ring in _outlines(buck, level_mm, 1.0)]
    found = []
    for foot in feet:
        shares = [float((foot ^ wall).area()) for _, wall in walls]
        if not shares or max(shares) < _LEAST_MM2:
            continue
        ring = walls[int(np.argmax(shares))][0]
        found.append(even_ring(np.column_stack([ring, np.full(len(ring), level_mm)])))
    return tuple(sorted(found, key=lambda ring: -_length(ring))) if len(found) > 1 else ()


def _outlines(buck: Mesh, z_mm: float, sign: float) -> list[Points]:
    """Outlines at a height, counter-clockwise: of the solid (1), or of what is open within it (-1)."""
    rings = [line[:, :2] for line in level_cut(buck, z_mm)]
    if not rings:
        return []
    outlines = [np.asarray(one, np.float64) for one in CrossSection(rings, FillRule.EvenOdd).to_polygons()]
    return [one[:: int(sign)] for one in outlines if sign * _area(one) > 0.0]


def _area(ring: Points) -> float:
    x, y = ring.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) / 2.0


def _meets(area: CrossSection, well: Points) -> bool:
    return float((area ^ CrossSection([well], FillRule.NonZero)).area()) > 0.5 * _LEAST_MM2


def _length(ring: Points) -> float:
    return float(np.linalg.norm(ring - np.roll(ring, -1, axis=0), axis=1).sum())
