"""How far points lie from a body: positive outside of it, negative inside."""

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh

__all__ = ["gaps_to"]


def gaps_to(points: NDArray[np.float64], body: Mesh, *, most_mm: float = float("inf")) -> NDArray[np.float64]:
    """Distance of points from the surface of a body, negative inside of it.

    Parameters
    ----------
    points : (N, 3) float64, mm
    body : wound outward; may be open: then the side of its nearest surface counts
    most_mm : what is farther may be told as infinitely far, which is quicker

    Returns
    -------
    (N,) float64, mm

    Notes
    -----
    libigl: nearest place on the triangles, exact, in a tree of boxes; the sign by the mean normal around that
    place (Baerentzen and Aanaes 2005, doi 10.1109/TVCG.2005.49), exact for a closed surface.

    Examples
    --------
    >>> corner = Mesh.from_arrays(
    ...     [(0.0, 0.0, 0.0), (9.0, 0.0, 0.0), (0.0, 9.0, 0.0), (0.0, 0.0, 9.0)],
    ...     [(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)],
    ... )
    >>> gaps_to(np.array([[1.0, 1.0, -2.0], [1.0, 2.0, 0.5]]), corner).round(6).tolist()
    [2.0, -0.5]
    """
    import igl

    if not len(points):
        return np.zeros(0)
    kind = igl.SignedDistanceType.SIGNED_DISTANCE_TYPE_PSEUDONORMAL
    asked = np.ascontiguousarray(points, np.float64)
    found = igl.signed_distance(asked, body.vertices, body.faces.astype(np.int64), kind, upper_bound=most_mm)[
        0
    ]
    gaps: NDArray[np.float64] = np.asarray(found, np.float64).ravel()
    return np.where(np.isnan(gaps), np.inf, gaps)
