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
    return Columns(Mesh(x, triangles)).top(points_xy)[1]


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
    kept, size = ends[free[ends].all(1)], len(free)
    graph = sparse.coo_matrix((np.ones(len(kept), np.int8), (kept[:, 0], kept[:, 1])), shape=(size, size))
    count, label = connected_components(graph, directed=False)
    return int(count), label


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
    drained[label[free & ~ground.has_buck(x)]] = True
    over = triangle_over(vents_xy, x, triangles)
    nodes = np.unique(triangles[over[over >= 0]])
    drained[label[nodes[free[nodes]]]] = True
    shut = free & ~drained[label]
    return ~shut[triangles].any(1)
