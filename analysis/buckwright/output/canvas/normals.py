"""Unit normals of faces, fast enough to be recomputed for every file and picture."""

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh

__all__ = ["normals_and_areas", "unit_normals"]

_CHUNK = 32768


def unit_normals(mesh: Mesh) -> NDArray[np.float64]:
    """Outward unit normal of every face.

    Parameters
    ----------
    mesh : any triangles

    Returns
    -------
    (F, 3) float64; zero where a face has no area

    Examples
    --------
    >>> flat = Mesh.from_arrays([(0, 0, 0), (2, 0, 0), (0, 2, 0)], [(0, 1, 2)])
    >>> unit_normals(flat).tolist()
    [[0.0, 0.0, 1.0]]
    """
    return normals_and_areas(mesh)[0]


def normals_and_areas(mesh: Mesh) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Outward unit normal and area of every face.

    Parameters
    ----------
    mesh : any triangles

    Returns
    -------
    (F, 3) float64, (F,) float64 : normals, zero where a face has no area, and areas, mm2

    Notes
    -----
    One array per component and a few ten thousand faces at a time, so that everything stays in the
    processor's cache: several times as fast as one `numpy.cross` over a million faces.
    """
    points = np.ascontiguousarray(mesh.vertices.T)
    units, areas = np.empty((mesh.face_count, 3)), np.empty(mesh.face_count)
    for start in range(0, mesh.face_count, _CHUNK):
        chosen = slice(start, start + _CHUNK)
        a, b, c = (points[:, corner] for corner in mesh.faces[chosen].T)
        u, v = b - a, c - a
        x, y, z = u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]
        length = np.sqrt(x * x + y * y + z * z)
        areas[chosen] = length / 2
        length[length == 0.0] = np.inf
        for axis, part in enumerate((x, y, z)):
            np.divide(part, length, out=units[chosen, axis])
    return units, areas
