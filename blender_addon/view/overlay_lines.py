"""Lines that mark trapped faces, so that colour is never the only sign: hatching and outlines.

Worked out once for each result. Arrays in, arrays out; this module must not import Blender.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["hatching", "outlines"]

_MOST_LINES = 400_000
_SLANT = np.array([1.0, 0.63, 1.0])
"""Normal of the planes of the hatching: slanting to all axes, so that no flat wall runs along them."""


def hatching(
    vertices: NDArray[np.floating],
    faces: NDArray[np.integer],
    chosen: NDArray[np.bool_],
    *,
    spacing: float,
) -> NDArray[np.float32]:
    """Lines in which parallel planes cut the chosen faces.

    Parameters
    ----------
    vertices : (V, 3)
    faces : (F, 3)
    chosen : (F,) faces to mark
    spacing : distance of the planes, > 0, in the unit of the vertices

    Returns
    -------
    (2 L, 3) float32, ends of lines in pairs. Where more than 400 000 lines would come out, the planes
    stand further apart.

    Notes
    -----
    A plane k meets a triangle where the height h of its corners over the planes, in spacings, goes through k:
    every triangle is listed once for each whole number between its least and its greatest h, then cut.
    """
    marked = faces[chosen]
    if not len(marked):
        return np.empty((0, 3), np.float32)
    points = np.asarray(vertices, np.float32)
    normal = (_SLANT / np.linalg.norm(_SLANT) / spacing).astype(np.float32)
    # Counted from the lowest: whole numbers then stay small, wherever the sculpt stands.
    heights = points @ normal
    heights -= heights.min()  # whole numbers then stay small, wherever the sculpt stands
    first, counts = _planes(heights, marked)
    while counts.sum() > _MOST_LINES:
        heights *= np.float32(0.5)
        first, counts = _planes(heights, marked)
    met = np.flatnonzero(counts)
    which = np.repeat(met, counts[met])
    ends = np.cumsum(counts[met])
    step = np.arange(len(which)) - np.repeat(ends - counts[met], counts[met])
    corners = marked[which]
    return _cut(points[corners], heights[corners], (first[which] + step).astype(np.float32))


def _planes(
    heights: NDArray[np.float32], marked: NDArray[np.integer]
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """First plane through each marked triangle, and how many go through it."""
    above = np.ceil(heights).astype(np.int32)
    one, two, three = (above.take(marked[:, k]) for k in range(3))
    first = np.minimum(np.minimum(one, two), three)
    return first, np.maximum(np.maximum(one, two), three) - first


def _cut(
    corners: NDArray[np.float32], heights: NDArray[np.float32], plane: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Where triangles (N, 3, 3) with heights (N, 3) meet their plane (N,): (2 N, 3)."""
    above = heights > plane[:, None]  # as `_planes` counts them: a corner on the plane is below it
    # The corner that stands alone on its side of the plane; both of its edges are cut.
    alone = np.where(above.sum(axis=1) == 1, above.argmax(axis=1), (~above).argmax(axis=1))
    rows = np.arange(len(corners))
    ends = np.empty((len(corners), 2, 3), np.float32)
    for side in (1, 2):
        other = (alone + side) % 3
        run = heights[rows, other] - heights[rows, alone]
        share = (plane - heights[rows, alone]) / np.where(run == 0.0, 1.0, run)
        start = corners[rows, alone]
        ends[:, side - 1] = start + share[:, None] * (corners[rows, other] - start)
    return ends.reshape(-1, 3)


def outlines(
    vertices: NDArray[np.floating], faces: NDArray[np.integer], chosen: NDArray[np.bool_]
) -> NDArray[np.float32]:
    """Edges between a chosen face and one that is not, as ends in pairs (2 L, 3) float32.

    Notes
    -----
    Such an edge runs between two vertices that faces of both kinds use; only chosen faces with two of them
    are looked at, and of their edges between such vertices only those that no second chosen face has.
    """
    marked, others = faces[chosen], faces[~chosen]
    on_marked, on_others = np.zeros(len(vertices), bool), np.zeros(len(vertices), bool)
    on_marked[marked] = True
    on_others[others] = True
    both = on_marked & on_others
    if not both.any():
        return np.empty((0, 3), np.float32)
    border = both[marked]
    first, second, third = border.T
    near = np.flatnonzero((first & second) | (second & third) | (third & first))
    marked, border = marked[near].astype(np.int64), border[near]
    edges = [marked[border[:, a] & border[:, b]][:, [a, b]] for a, b in ((0, 1), (1, 2), (2, 0))]
    ends = np.sort(np.concatenate(edges), axis=1)
    names = ends[:, 0] * len(vertices) + ends[:, 1]
    _, place, uses = np.unique(names, return_index=True, return_counts=True)
    return np.asarray(vertices, np.float32)[ends[place[uses == 1]]].reshape(-1, 3)
