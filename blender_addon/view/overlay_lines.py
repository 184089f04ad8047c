"""Outlines of chosen faces: the edges between them and the others.

Worked out once for each result. Arrays in, arrays out; this module must not import Blender.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["outlines"]


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
