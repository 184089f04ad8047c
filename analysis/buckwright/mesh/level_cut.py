"""Closed lines in which a level plane cuts a mesh, or a field on it, followed from edge to edge.

trimesh joins the ends of a cut by their places, and takes a wrong turn where two lines nearly touch, as they
do under the folds of a sheet.
"""

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh

__all__ = ["closed_cut", "level_cut"]

type Points = NDArray[np.float64]


def level_cut(mesh: Mesh, level: float, *, values: NDArray[np.float64] | None = None) -> list[Points]:
    """Cut a mesh at a height, or where other values at its vertices pass a level.

    Parameters
    ----------
    mesh : mm; at most two faces at each edge
    level : height of the plane, mm, or the value; corners at it count as above
    values : (V,) at the vertices, straight between them; None for their heights

    Returns
    -------
    list of (N, 3) float64, mm : closed lines, the last point joined to the first; lines that end at a rim of
    the mesh are left out
    """
    heights = mesh.vertices[:, 2] if values is None else values
    high = heights >= level
    faces = mesh.faces[np.ptp(high[mesh.faces].astype(np.int8), axis=1) > 0]
    sides = np.sort(np.stack([faces, np.roll(faces, -1, axis=1)], axis=2), axis=2)
    crossed = high[sides[..., 0]] != high[sides[..., 1]]  # two sides of each face
    edges, number = np.unique(sides[crossed], axis=0, return_inverse=True)
    a, b = mesh.vertices[edges[:, 0]], mesh.vertices[edges[:, 1]]
    low, top = heights[edges[:, 0]], heights[edges[:, 1]]
    share = (level - low) / (top - low)
    places = a + share[:, None] * (b - a)
    return [places[ring] for ring in _rings(number.reshape(-1, 2), len(edges))]


def closed_cut(mesh: Mesh, level: float, *, values: NDArray[np.float64] | None = None) -> list[Points]:
    """The lines of `level_cut`, each with its first point again at the end.

    Parameters
    ----------
    mesh, level, values : as for `level_cut`

    Returns
    -------
    list of (N + 1, 3) float64, mm
    """
    return [np.vstack([line, line[:1]]) for line in level_cut(mesh, level, values=values)]


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
