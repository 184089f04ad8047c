"""Where the vents of the foot go: along the line where the wall meets the land."""

import numpy as np
from manifold3d import CrossSection
from numpy.typing import NDArray

from buckwright.errors import JobError

__all__ = ["ring_points"]


def ring_points(ring: CrossSection, *, spacing_mm: float = 25.0) -> NDArray[np.float64]:
    """Evenly spaced points along an outline.

    Parameters
    ----------
    ring : CrossSection, mm
    spacing_mm : float, 1..1000
        Greatest distance along the outline between neighbours; at least three points per contour. The default
        is common practice (20..40 mm along inside corners and foot), no source.

    Returns
    -------
    (N, 2) float64, mm

    Raises
    ------
    JobError
        Spacing out of range.

    Examples
    --------
    >>> from manifold3d import CrossSection
    >>> ring_points(CrossSection.square((50.0, 50.0), True)).shape
    (8, 2)
    """
    if not 1.0 <= spacing_mm <= 1000:
        raise JobError(f"the spacing of foot vents must lie between 1 and 1000 mm, got {spacing_mm:g}")
    spots = [np.zeros((0, 2))]
    for polygon in ring.to_polygons():
        closed = np.vstack([polygon, polygon[:1]])
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
        count = max(3, int(np.ceil(along[-1] / spacing_mm)))
        at = np.arange(count) * along[-1] / count
        spots.append(np.column_stack([np.interp(at, along, closed[:, axis]) for axis in (0, 1)]))
    return np.concatenate(spots)
