"""Where the air under the free sheet can go: over the platen, through a vent, or nowhere."""

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from buckwright.forming.ground import Ground

__all__ = ["edges", "pressed_triangles", "triangle_over"]


def edges(triangles: NDArray[np.int32]) -> NDArray[np.int32]:
    """Sides of the triangles, each once, (E, 2)."""
    every = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    return np.unique(every, axis=0)


def triangle_over(
    points_xy: NDArray[np.float64], x: NDArray[np.float64], triangles: NDArray[np.int32]
) -> NDArray[np.int64]:
    """The triangle that hangs over each point (V, 2), the highest where several do; -1 where none does."""
    a, b, c = (x[triangles[:, k]] for k in range(3))
    low = np.minimum(np.minimum(a, b), c)[:, :2]
    high = np.maximum(np.maximum(a, b), c)[:, :2]
    over = np.full(len(points_xy), -1, np.int64)
    for n, point in enumerate(points_xy):
        near = np.flatnonzero(((low <= point) & (point <= high)).all(1))
        p, q, r = a[near, :2] - point, b[near, :2] - point, c[near, :2] - point
        areas = np.stack([_cross(q, r), _cross(r, p), _cross(p, q)], axis=1)
        inside = (areas >= 0.0).all(1) | (areas <= 0.0).all(1)
        if inside.any():
            height = (areas * np.stack([a[near, 2], b[near, 2], c[near, 2]], axis=1)).sum(1) / areas.sum(1)
            over[n] = near[inside][np.nanargmax(np.where(np.isfinite(height), height, -np.inf)[inside])]
    return over


def _cross(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def pressed_triangles(
    x: NDArray[np.float64],
    triangles: NDArray[np.int32],
    free: NDArray[np.bool_],
    ground: Ground,
    vents_xy: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Triangles (T,) under which the air can leave, or which lie still.

    A free place drains while a part of it hangs over the platen, or over a vent.
    """
    ends = edges(triangles)
    ends = ends[free[ends].all(1)]
    graph = sparse.coo_matrix((np.ones(len(ends), np.int8), (ends[:, 0], ends[:, 1])), shape=(len(x), len(x)))
    count, label = connected_components(graph, directed=False)
    drained = np.zeros(count, np.bool_)
    drained[label[free & ~ground.has_buck(x)]] = True
    over = triangle_over(vents_xy, x, triangles)
    nodes = np.unique(triangles[over[over >= 0]])
    drained[label[nodes[free[nodes]]]] = True
    shut = free & ~drained[label]
    return ~shut[triangles].any(1)
