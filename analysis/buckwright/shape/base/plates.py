"""A plate with drafted walls and a rounded upper edge, as levels of a loft."""

import numpy as np
from manifold3d import CrossSection

from buckwright.shape.loft import grown
from buckwright.shape.outline import rounded_inside, without_holes

__all__ = ["ARC_STEPS", "SPARE_MM", "plate_levels"]

ARC_STEPS = 8
"""Levels along a quarter round: facets of about 11 degrees, far below what a sheet shows."""

SPARE_MM = 0.1
"""Concave corners are rounded by this much more than the base spreads, so that none comes to a point."""


def plate_levels(
    outline: CrossSection, height_mm: float, edge_mm: float, slope: float
) -> list[tuple[float, CrossSection]]:
    """Levels of a drafted plate whose upper edge is rounded inward of the outline.

    Parameters
    ----------
    outline : CrossSection, mm, of the plate where its rounding begins
    height_mm : of its upper side over the platen
    edge_mm : radius of the rounding; 0 for a sharp edge
    slope : tangent of the draft

    Returns
    -------
    list of (z_mm, CrossSection) : top first, for `loft`
    """
    draft = np.arctan(slope)
    levels = []
    reach = edge_mm * np.cos(draft)
    tangent_z = height_mm - edge_mm * (1 - np.sin(draft))
    top = rounded_inside(outline, float(tangent_z * slope + reach) + SPARE_MM)
    if edge_mm > 0:
        for turn in np.linspace(np.pi / 2, draft, ARC_STEPS + 1)[:-1]:
            z = height_mm - edge_mm * (1 - np.sin(turn))
            levels.append((float(z), without_holes(grown(top, float(edge_mm * np.cos(turn) - reach)))))
    levels.append((float(tangent_z), top))
    levels.append((0.0, without_holes(grown(top, float(tangent_z * slope)))))
    return levels
