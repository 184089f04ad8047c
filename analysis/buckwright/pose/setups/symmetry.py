"""Planes in which a sculpt is its own mirror image, and its own axes."""

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

__all__ = ["mirror_normals", "own_axes"]

# Mean distance between a sculpt and its mirror image, over its size, up to which it counts as symmetrical:
# sculpted by hand, a left and a right half differ by about this. House rule.
_ALIKE = 0.012
_TESTED = 2000


def own_axes(places: NDArray[np.float64]) -> NDArray[np.float64]:
    """Rotation into the sculpt's own axes, so that nothing depends on how the file is turned.

    Parameters
    ----------
    places : (N, 3) float64, points spread evenly over the surface

    Returns
    -------
    (3, 3) float64, rotation matrix; its rows are the axes, the longest first

    Notes
    -----
    Principal axes of the surface; each points to the side on which the third moment is positive. Where two
    extents are alike (a cube, a ball) the axes are arbitrary.
    """
    around = places - places.mean(axis=0)
    axes = np.linalg.eigh(around.T @ around)[1].T[::-1]
    skew = ((around @ axes.T) ** 3).sum(axis=0)
    axes = axes * np.where(skew < 0.0, -1.0, 1.0)[:, None]
    axes[2] *= np.sign(np.linalg.det(axes))
    return np.ascontiguousarray(axes)


def mirror_normals(
    places: NDArray[np.float64], tried: NDArray[np.float64], *, size_mm: float
) -> NDArray[np.float64]:
    """Normals of the planes of symmetry.

    Parameters
    ----------
    places : (N, 3) float64, points spread evenly over the surface
    tried : (M, 3) float64, unit normals to test
    size_mm : of the whole

    Returns
    -------
    (K, 3) float64, those of `tried` to whose plane through the middle the surface is symmetrical
    """
    middle = places.mean(axis=0)
    around = places - middle
    tree = cKDTree(around)
    some = around[:: max(len(around) // _TESTED, 1)]
    own = float(tree.query(some, k=2)[0][:, 1].mean())
    found: list[NDArray[np.float64]] = []
    for normal in tried:
        if any(abs(normal @ other) > 0.999 for other in found):
            continue
        mirrored = some - 2.0 * (some @ normal)[:, None] * normal
        if float(tree.query(mirrored)[0].mean()) < own + _ALIKE * size_mm:
            found.append(normal)
    return np.array(found).reshape(-1, 3)
