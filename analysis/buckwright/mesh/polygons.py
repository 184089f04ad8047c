"""Polygons of a file: cut into triangles that cover them and nothing else."""

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import MeshError
from buckwright.mesh.delaunay import polygon_triangles
from buckwright.mesh.holes import capped_faces, in_best_plane

__all__ = ["strip_triangles", "triangulated"]

#: A ring of so many corners takes two to four seconds.
_MOST_CORNERS = 1_000_000
#: Of one that crosses itself, a comb of so many takes half a minute: the worst case found.
_MOST_CROSSING = 100_000
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
        A concave polygon of more than a million corners, or of more than 100,000 that crosses itself.

    Notes
    -----
    Other polygons are concave: a quad is cut along its other diagonal, larger ones in their best plane by
    their constrained Delaunay triangulation, or by manifold3d where one crosses or touches itself. The first
    is near-linear in corners (64,000 take 0.06 to 0.2 s of processor time), the second up to quadratic.
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
    _refuse_over(_MOST_CORNERS, ring, "turns inward")
    cut = _in_its_plane(in_best_plane(points[ring]))
    if cut is not None:
        return ring[cut]
    _refuse_over(_MOST_CROSSING, ring, "crosses itself")
    return capped_faces(points, ring.astype(np.int32)).astype(np.int64)


def _refuse_over(most: int, ring: NDArray[np.int64], fault: str) -> None:
    if len(ring) > most:
        raise MeshError(
            f"the sculpt holds a polygon of {len(ring)} corners that {fault}; cut it into triangles in your "
            "sculpting program"
        )


def _in_its_plane(flat: NDArray[np.float64]) -> NDArray[np.int64] | None:
    """Triangles (K - 2, 3) of a polygon (K, 2) that cover it once; None where they do not."""
    whole = float(_spanned(flat, np.roll(flat, -1, axis=0)).sum())
    cut = polygon_triangles(flat) if whole > 0.0 else None
    if cut is None:
        return None
    a, b, c = (flat[cut[:, k]] for k in range(3))
    return cut if abs(float(_spanned(b - a, c - a).sum()) - whole) <= _WHOLE * whole else None


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
