"""Distances by which a surface is moved in some places, fading beside them."""

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh
from buckwright.shape.offset.allowance import joined_vertices
from buckwright.shape.offset.face_planes import ramp

__all__ = ["spread_out"]

_FADE = 0.25
"""A move that is wanted in one place fades beside it by this share of the way; house rule."""


def spread_out(mesh: Mesh, distance_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """Raise distances at vertices so that they fade gently beside where they are wanted.

    Parameters
    ----------
    mesh : any triangles
    distance_mm : (V,) wanted, >= 0

    Returns
    -------
    (V,) float64, nowhere less; along an edge they differ by at most a quarter of its length
    """
    most = float(distance_mm.max(initial=0.0))
    edges = joined_vertices(mesh)
    gentle: NDArray[np.float64] = most - ramp(
        mesh.vertices, most - distance_mm, edges.indptr, edges.indices, _FADE
    )
    return gentle
