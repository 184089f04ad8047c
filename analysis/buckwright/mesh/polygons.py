"""Polygons of a file: cut into triangles that cover them and nothing else."""

import mapbox_earcut
import numpy as np
from numpy.typing import NDArray

from buckwright.errors import MeshError
from buckwright.mesh.holes import capped_faces, in_best_plane

__all__ = ["strip_triangles", "triangulated"]

#: A star of so many corners takes earcut three seconds, a comb with some in line manifold3d half a minute:
#: the worst cases found.
_MOST_CORNERS = 100_000
_WHOLE = 1e-9  # share of its area by which the triangles of a polygon may miss it


def triangulated(
    points: NDArray[np.float64], corners: NDArray[np.int64], counts: NDArray[np.int64]
) -> NDArray[np.int32]:
    """Cut polygons into triangles.

    Parameters
    ----------
    points : (V, 3) float64
    corners : (K,) int64, the corners of all polygons one after the other, 0 .. V - 1
    counts : (P,) int64, corners of each polygon; those of fewer than three give nothing

    Returns
    -------
    (F, 3) int32
        In the order of the polygons. A triangle stays as it is; a polygon that a fan from its first corner
        covers gets that fan (for a quad the third corner comes first in the second triangle).

    Raises
    ------
    MeshError
        A concave polygon of more than 100,000 corners.

    Notes
    -----
    Other polygons are concave: a quad is cut along its other diagonal, larger ones in their best plane by
    earcut, or by manifold3d where earcut leaves corners out (some lie in line) or misses the polygon (it
    crosses itself). Of processor time 16,000 corners take earcut 0.001 to 0.07 s, manifold3d 0.02 to 0.7 s.
    """
    if len(counts) and (counts == 3).all():
        return corners.reshape(-1, 3).astype(np.int32)
    start = np.cumsum(counts) - counts
    made = np.maximum(counts - 2, 0)
    place = np.cumsum(made) - made
    owner = np.repeat(np.arange(len(counts)), made)
    step = np.arange(len(owner)) - place[owner]
    first = start[owner]
    fans = np.stack([corners[first], corners[first + step + 1], corners[first + step + 2]], axis=1)
    for polygon in np.flatnonzero(~_covering(points, fans, owner, len(counts))):
        ring = corners[start[polygon] : start[polygon] + counts[polygon]]
        cut = _cut(points, ring)
        if len(cut) == made[polygon]:
            fans[place[polygon] : place[polygon] + made[polygon]] = cut
    second = (counts[owner] == 4) & (step == 1)
    fans[second] = np.roll(fans[second], -1, axis=1)
    return fans.astype(np.int32)


def _covering(
    points: NDArray[np.float64], fans: NDArray[np.int64], owner: NDArray[np.int64], count: int
) -> NDArray[np.bool_]:
    """Which polygons have a fan of triangles that all face the same way."""
    a, b, c = (points[fans[:, k]] for k in range(3))
    vectors = np.cross(b - a, c - a)
    whole = np.stack([np.bincount(owner, weights=vectors[:, k], minlength=count) for k in range(3)], axis=1)
    against = np.einsum("ij,ij->i", vectors, whole[owner]) < 0
    covering: NDArray[np.bool_] = np.bincount(owner, weights=against, minlength=count) == 0
    return covering


def _cut(points: NDArray[np.float64], ring: NDArray[np.int64]) -> NDArray[np.int64]:
    if len(ring) == 4:
        return np.stack([ring[[1, 2, 3]], ring[[1, 3, 0]]])
    if len(ring) > _MOST_CORNERS:
        raise MeshError(
            f"the sculpt holds a polygon of {len(ring)} corners that turns inward; cut it into triangles "
            "in your sculpting program"
        )
    cut = _ears(in_best_plane(points[ring]))
    return capped_faces(points, ring.astype(np.int32)).astype(np.int64) if cut is None else ring[cut]


def _ears(flat: NDArray[np.float64]) -> NDArray[np.int64] | None:
    """Triangles (K - 2, 3) of a polygon (K, 2) that cover it once; None where they do not."""
    ends = np.array([len(flat)], np.uint32)
    cut = mapbox_earcut.triangulate_float64(flat, ends).astype(np.int64).reshape(-1, 3)
    if len(cut) != len(flat) - 2:
        return None
    a, b, c = (flat[cut[:, k]] for k in range(3))
    areas = _spanned(b - a, c - a)
    whole = float(_spanned(flat, np.roll(flat, -1, axis=0)).sum())
    if whole < 0.0:
        return None
    if areas.sum() < 0.0:
        areas, cut = -areas, cut[:, ::-1]
    true = areas.min() > 0.0 and abs(float(areas.sum()) - whole) <= _WHOLE * whole
    return cut if true else None


def _spanned(u: NDArray[np.float64], v: NDArray[np.float64]) -> NDArray[np.float64]:
    """Signed area of the parallelogram of each pair of vectors in the plane."""
    area: NDArray[np.float64] = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    return area


def strip_triangles(strip: NDArray[np.int64]) -> NDArray[np.int64]:
    """Triangles of strips.

    Parameters
    ----------
    strip : (K,) int64; -1 ends a strip and begins another

    Returns
    -------
    (F, 3) int64, all wound as the first of their strip; without those that use a corner twice

    Examples
    --------
    >>> import numpy as np
    >>> strip_triangles(np.array([0, 1, 2, 3, -1, 4, 5, 6])).tolist()
    [[0, 1, 2], [2, 1, 3], [4, 5, 6]]
    """
    if len(strip) < 3:
        return np.zeros((0, 3), np.int64)
    begins = np.concatenate([[0], np.flatnonzero(strip < 0) + 1])
    at = np.arange(len(strip) - 2)
    odd = (at - begins[np.searchsorted(begins, at, side="right") - 1]) % 2 == 1
    made = np.stack([strip[:-2], strip[1:-1], strip[2:]], axis=1)
    made[odd] = made[odd][:, [1, 0, 2]]
    whole = (made >= 0).all(axis=1)
    whole &= (made[:, 0] != made[:, 1]) & (made[:, 1] != made[:, 2]) & (made[:, 2] != made[:, 0])
    kept: NDArray[np.int64] = made[whole]
    return kept
