"""Closed lines in which a level plane cuts a mesh, followed from edge to edge.

trimesh joins the ends of a cut by their places, and takes a wrong turn where two lines nearly touch, as they
do under the folds of a sheet.
"""

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh

__all__ = ["level_cut"]

type Points = NDArray[np.float64]


def level_cut(mesh: Mesh, z_mm: float) -> list[Points]:
    """Cut a mesh at a height.

    Parameters
    ----------
    mesh : mm; at most two faces at each edge
    z_mm : height of the plane; corners that lie in it count as above

    Returns
    -------
    list of (N, 3) float64, mm : closed lines, the last point joined to the first; lines that end at a rim of
    the mesh are left out
    """
    high = mesh.vertices[:, 2] >= z_mm
    faces = mesh.faces[np.ptp(high[mesh.faces].astype(np.int8), axis=1) > 0]
    sides = np.sort(np.stack([faces, np.roll(faces, -1, axis=1)], axis=2), axis=2)
    crossed = high[sides[..., 0]] != high[sides[..., 1]]  # two sides of each face
    edges, number = np.unique(sides[crossed], axis=0, return_inverse=True)
    a, b = mesh.vertices[edges[:, 0]], mesh.vertices[edges[:, 1]]
    share = (z_mm - a[:, 2]) / (b[:, 2] - a[:, 2])
    places = a + share[:, None] * (b - a)
    return [places[ring] for ring in _rings(number.reshape(-1, 2), len(edges))]


def _rings(pairs: NDArray[np.integer], count: int) -> list[list[int]]:
    """Closed chains among pairs of numbers, each number in at most two of them."""
    beside: list[list[int]] = [[] for _ in range(count)]
    for one, other in pairs.tolist():
        beside[one].append(other)
        beside[other].append(one)
    seen, rings = [False] * count, []
    for start in range(count):
        chain, at = [], start
        while not seen[at]:
            seen[at] = True
            chain.append(at)
            at = next((one for one in beside[at] if not seen[one]), start)
        if len(chain) > 2 and start in beside[chain[-1]]:
            rings.append(chain)
    return rings
