"""A triangulated height over the plane, closed below."""

import numpy as np
from manifold3d import triangulate
from numpy.typing import NDArray

from buckwright.mesh.adjacency import boundary_loops
from buckwright.mesh.triangles import Mesh

__all__ = ["closed_below"]


def closed_below(
    plane: NDArray[np.float64], height: NDArray[np.float64], triangles: NDArray[np.int32], bottom: float
) -> Mesh:
    """Give a plan triangulation vertical sides and a flat bottom that uses only the points of the border.

    Parameters
    ----------
    plane, height : (N, 2), (N,) float64, mm
    triangles : (T, 3) int32, counter-clockwise in the plane
    bottom : height of the bottom, under all others

    Returns
    -------
    Mesh : closed, wound outward
    """
    count = len(plane)
    loops = boundary_loops(triangles)
    ring = np.concatenate(loops)
    under = count + np.arange(len(ring), dtype=np.int32)
    top = np.column_stack([plane, height])
    flat = np.column_stack([plane[ring], np.full(len(ring), bottom)])
    lid = under[triangulate([plane[loop] for loop in loops])][:, ::-1]
    ends = np.cumsum([len(loop) for loop in loops])
    after = np.arange(1, len(ring) + 1)
    after[ends - 1] = np.concatenate([[0], ends[:-1]])
    a, b, a_low, b_low = ring, ring[after], under, under[after]
    sides = np.concatenate([np.column_stack([b, a, a_low]), np.column_stack([b, a_low, b_low])])
    faces = np.concatenate([triangles, lid, sides]).astype(np.int32)
    return Mesh(np.concatenate([top, flat]), faces).submesh(np.ones(len(faces), np.bool_))
