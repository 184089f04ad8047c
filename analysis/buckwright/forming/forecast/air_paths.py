"""Where the air under the free sheet can go: over the platen, through a vent, or nowhere."""

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from buckwright.forming.forecast.landing import LandingSurface
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns

__all__ = ["free_places", "pressed_triangles", "triangle_over"]


def triangle_over(
    points_xy: NDArray[np.float64], x: NDArray[np.float64], triangles: NDArray[np.int32]
) -> NDArray[np.int32]:
    """The triangle of the sheet over each point, the highest where several are.

    Parameters
    ----------
    points_xy : (V, 2 or more) float64, mm
    x : (N, 3) float64, mm, nodes of the sheet
    triangles : (T, 3) int32

    Returns
    -------
    (V,) int32; -1 where there is none
    """
    near = _near(points_xy, x, triangles)
    over = Columns(Mesh(x, triangles[near])).top(points_xy)[1]
    return np.where(over < 0, np.int32(-1), near[over]) if len(near) else over


def _near(
    points_xy: NDArray[np.float64], x: NDArray[np.float64], triangles: NDArray[np.int32]
) -> NDArray[np.int32]:
    """Triangles (K,) whose box in plan holds one of the points; points are few, triangles many."""
    if not len(points_xy):
        return np.zeros(0, np.int32)
    a, b, c = (np.ascontiguousarray(x[:, 0])[corner] for corner in triangles.T)
    along = np.sort(points_xy[:, 0])
    first = np.searchsorted(along, np.minimum(np.minimum(a, b), c), side="left")
    last = np.searchsorted(along, np.maximum(np.maximum(a, b), c), side="right")
    beside = np.flatnonzero(last > first)
    across = x[:, 1][triangles[beside]]
    low, high = across.min(axis=1), across.max(axis=1)
    y = points_xy[np.argsort(points_xy[:, 0], kind="stable"), 1]
    held = np.zeros(len(beside), np.bool_)
    begin, end = first[beside], last[beside]
    for step in range(int((end - begin).max(initial=0))):
        there = begin + step < end
        at = y[np.minimum(begin + step, len(y) - 1)]
        held |= there & (at >= low) & (at <= high)
    return beside[held].astype(np.int32)


def free_places(ends: NDArray[np.int32], free: NDArray[np.bool_]) -> tuple[int, NDArray[np.int32]]:
    """Regions of connected free nodes.

    Parameters
    ----------
    ends : (E, 2) int32, neighbours
    free : (N,) bool

    Returns
    -------
    int, (N,) int32 : number of regions, and the region of each node; every node at rest is a region of its
    own
    """
    number = np.cumsum(free, dtype=np.int32) - np.int32(1)
    a, b = (number[nodes] for nodes in ends[free[ends[:, 0]] & free[ends[:, 1]]].T)
    loose = int(number[-1]) + 1
    graph = sparse.coo_matrix((np.ones(len(a), np.int8), (a, b)), shape=(loose, loose))
    count, among = connected_components(graph, directed=False)
    label = np.empty(len(free), np.int32)
    label[free] = among
    label[~free] = np.arange(count, count + len(free) - loose)
    return int(count) + len(free) - loose, label


def pressed_triangles(
    x: NDArray[np.float64],
    triangles: NDArray[np.int32],
    ends: NDArray[np.int32],
    free: NDArray[np.bool_],
    ground: LandingSurface,
    vents_xy: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Triangles that bear pressure: air can leave from under them, or they lie at rest.

    Parameters
    ----------
    x : (N, 3) float64, mm, nodes of the sheet
    triangles : (T, 3) int32
    ends : (E, 2) int32, sides of the triangles
    free : (N,) bool
    ground : buck and platen
    vents_xy : (V, 2) float64, mm

    Returns
    -------
    (T,) bool

    Notes
    -----
    A free region evacuates as long as part of it hangs over the platen or over a vent.
    """
    count, label = free_places(ends, free)
    drained = np.zeros(count, np.bool_)
    loose = np.flatnonzero(free)
    drained[label[loose[~ground.has_buck(x[loose])]]] = True
    over = triangle_over(vents_xy, x, triangles)
    nodes = np.unique(triangles[over[over >= 0]])
    drained[label[nodes[free[nodes]]]] = True
    shut = free & ~drained[label]
    return ~shut[triangles].any(1)
