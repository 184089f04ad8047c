"""Edge flips that make the sloping ring between two contours as even as its contours allow."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel

__all__ = ["spread_evenly"]

GAIN = 1e-6
"""A flip must improve the smaller run by this share, so that rounding never flips back and forth."""
MOST_PASSES = 200
"""Only a guard; rings of a thousand corners settle in about ten passes."""


def spread_evenly(
    points: NDArray[np.float64], faces: NDArray[np.int64], upper: NDArray[np.bool_]
) -> NDArray[np.int64]:
    """Flip inner edges as long as that makes the steeper of the two adjacent faces less steep.

    Parameters
    ----------
    points : (N, 2) float64, mm
    faces : (F, 3) int64, counter-clockwise, each edge used once or twice
    upper : (N,) bool, which points lie on the upper of two levels

    Returns
    -------
    (F, 3) int64
        The same area with the same border.

    Notes
    -----
    The *run* of a face is how far it travels sideways from one level to the other; it is infinite for a face
    on one level. Every flip raises the smaller run of two faces and leaves the others, so the sorted runs
    only rise and the search ends (data-dependent triangulation, N. Dyn, D. Levin, S. Rippa, IMA Journal of
    Numerical Analysis 10, 1990, with the smallest run as its measure).
    """
    flipped = np.array(faces, dtype=np.int64, order="C")
    beside = _across(flipped)
    for _ in range(MOST_PASSES):
        if not _flip_pass(points, upper, flipped, beside):
            break
    return flipped


def _across(faces: NDArray[np.int64]) -> NDArray[np.int64]:
    """Opposite half-edge of each half-edge 3 f + k (corner k to the next), -1 on the border."""
    start = faces.ravel()
    end = np.roll(faces, -1, axis=1).ravel()
    key = np.minimum(start, end) * (int(faces.max()) + 1) + np.maximum(start, end)
    order = np.argsort(key, kind="stable")
    same = key[order][1:] == key[order][:-1]
    beside = np.full(len(key), -1, np.int64)
    beside[order[:-1][same]] = order[1:][same]
    beside[order[1:][same]] = order[:-1][same]
    return beside


@kernel
def _turn(points: Any, a: int, b: int, c: int) -> Any:
    """Twice the signed area of a triangle."""
    ux, uy = points[b, 0] - points[a, 0], points[b, 1] - points[a, 1]
    vx, vy = points[c, 0] - points[a, 0], points[c, 1] - points[a, 1]
    return ux * vy - uy * vx


@kernel
def _run(points: Any, upper: Any, a: int, b: int, c: int) -> Any:
    """Distance of the corner that is alone on its level from the line through the other two."""
    if upper[a] == upper[b] and upper[b] == upper[c]:
        return np.inf
    if upper[a] == upper[b]:
        p, q = a, b
    elif upper[b] == upper[c]:
        p, q = b, c
    else:
        p, q = c, a
    length = np.hypot(points[q, 0] - points[p, 0], points[q, 1] - points[p, 1])
    if length == 0.0:
        return 0.0
    return abs(_turn(points, a, b, c)) / length


@kernel
def _flip_pass(points: Any, upper: Any, faces: Any, beside: Any) -> bool:
    changed = False
    for h in range(len(beside)):
        g = beside[h]
        if g < h:
            continue
        f, k = h // 3, h % 3
        e, j = g // 3, g % 3
        a, b, c = faces[f, k], faces[f, (k + 1) % 3], faces[f, (k + 2) % 3]
        d = faces[e, (j + 2) % 3]
        if _turn(points, a, d, c) <= 0.0 or _turn(points, d, b, c) <= 0.0:
            continue
        now = min(_run(points, upper, a, b, c), _run(points, upper, b, a, d))
        then = min(_run(points, upper, a, d, c), _run(points, upper, d, b, c))
        if not then > now * (1.0 + GAIN):
            continue
        # Faces become (a, d, c) and (d, b, c); four outer half-edges keep their partners.
        bc, ca = beside[3 * f + (k + 1) % 3], beside[3 * f + (k + 2) % 3]
        ad, db = beside[3 * e + (j + 1) % 3], beside[3 * e + (j + 2) % 3]
        faces[f, 0], faces[f, 1], faces[f, 2] = a, d, c
        faces[e, 0], faces[e, 1], faces[e, 2] = d, b, c
        _pair(beside, 3 * f, ad)
        _pair(beside, 3 * f + 1, 3 * e + 2)
        _pair(beside, 3 * f + 2, ca)
        _pair(beside, 3 * e, db)
        _pair(beside, 3 * e + 1, bc)
        changed = True
    return changed


@kernel
def _pair(beside: Any, h: int, g: int) -> None:
    beside[h] = g
    if g >= 0:
        beside[g] = h
