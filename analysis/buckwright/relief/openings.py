"""The nearest place from which a point can rise: columns on growing rings around it."""

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import in_parts, kernel
from buckwright.relief.columns import Columns, bin_of, height_at, highest

__all__ = ["nearest_openings"]

_WORTH_A_THREAD = 1 << 11  # points; to settle so many takes some tens of milliseconds


def nearest_openings(
    points: NDArray[np.float64],
    within: NDArray[np.float64],
    columns: Columns,
    *,
    rings: NDArray[np.float64],
    directions: int,
    halvings: int,
) -> NDArray[np.float64]:
    """Distance in plan to the nearest place found at which nothing stands above a point's own height.

    Parameters
    ----------
    points : (N, 3) float64, mm
    within : (N,) float64, mm, how far to look, > 0; also the last ring of each point
    columns : of what may stand above
    rings : (R,) float64, increasing, mm, > 0
    directions : places asked on each ring, evenly round, >= 2
    halvings : how often the gap between the last closed ring and the first open one is halved

    Returns
    -------
    (N,) float64, mm : `within` where no ring is open

    Notes
    -----
    On the first open ring the two open directions nearest to the mean of all open ones are followed inwards.
    The distance told was found open, so the error is on the long side. Each direction asks first the face
    that closed it on the ring before, which mostly closes it still; what is told does not hang on that.
    """
    angles = np.arange(directions) * (2.0 * np.pi / directions)
    compass = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    likeness = compass @ compass.T
    asked = np.ascontiguousarray(points, dtype=np.float64)
    best = np.array(within, dtype=np.float64)

    def work(begin: int, end: int) -> None:
        _settle(columns.table, asked[begin:end], rings, compass, likeness, halvings, best[begin:end])

    in_parts(work, len(asked), least=_WORTH_A_THREAD)
    return best


@kernel
def _closing(table, px, py, z, likely):  # type: ignore[no-untyped-def]
    """A face above the point, or -1 where the sky is open; `likely` (or -1) is tried first."""
    corners, tops, grid, divisions, starts, begin, members, slack, layer = table
    floor = z + slack
    if likely >= 0 and tops[likely] > floor:
        height, covers = height_at(corners, likely, px, py)
        if covers and height > floor:
            return likely
    ox, oy, scale, columns, rows = grid
    bin_ = bin_of(px, py, ox, oy, scale, columns, rows, divisions, starts)
    if bin_ < 0:
        return -1
    first, last = begin[bin_], begin[bin_ + 1]
    return highest(corners, tops, members, first, last, layer, px, py, floor, np.inf, True)[1]


@kernel
def _settle(table, points, rings, compass, likeness, halvings, best):  # type: ignore[no-untyped-def]
    """`best` holds how far to look and is written to."""
    closed_by = np.empty(compass.shape[0], np.int64)
    for n in range(points.shape[0]):
        px, py, z = points[n, 0], points[n, 1], points[n, 2]
        closed_by[:] = -1
        inner = 0.0
        for ring in rings:
            radius = min(ring, best[n])
            if _ring_is_open(table, px, py, z, radius, compass, closed_by):
                ways = _middle_of_open(closed_by, likeness)
                best[n] = _halved(table, px, py, z, inner, radius, ways, compass, halvings)
                break
            if radius >= best[n]:
                break
            inner = ring


@kernel
def _ring_is_open(table, px, py, z, radius, compass, closed_by):  # type: ignore[no-untyped-def]
    """Whether any direction is open; `closed_by` holds the face that closes each, or -1, and is renewed."""
    is_open = False
    likely = -1
    for d in range(compass.shape[0]):
        if closed_by[d] >= 0:
            likely = closed_by[d]
        likely = _closing(table, px + radius * compass[d, 0], py + radius * compass[d, 1], z, likely)
        closed_by[d] = likely
        is_open |= likely < 0
    return is_open


@kernel
def _halved(table, px, py, z, low, high, ways, compass, halvings):  # type: ignore[no-untyped-def]
    """Distance, between a closed and an open ring, from which a point is open along one of two ways."""
    for _ in range(halvings):
        middle = (low + high) / 2.0
        is_open = False
        for d in ways:
            is_open |= _closing(table, px + middle * compass[d, 0], py + middle * compass[d, 1], z, -1) < 0
        if is_open:
            high = middle
        else:
            low = middle
    return high


@kernel
def _middle_of_open(closed_by, likeness):  # type: ignore[no-untyped-def]
    """The two open directions nearest to the mean of all open ones; a closed one where only one is open."""
    first, second = -1, -1
    most, next_most = -np.inf, -np.inf
    for d in range(closed_by.shape[0]):
        score = -np.inf
        if closed_by[d] < 0:
            total = 0.0
            for other in range(closed_by.shape[0]):
                if closed_by[other] < 0:
                    total += likeness[d, other]
            # rounded, so that equal scores stay equal whatever the order of summation
            score = np.rint(total * 1e9)
        if first < 0 or score > most:
            second, next_most = first, most
            first, most = d, score
        elif second < 0 or score > next_most:
            second, next_most = d, score
    return first, second
