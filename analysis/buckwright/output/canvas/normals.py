"""Unit normals of faces, fast enough to be recomputed for every file and picture."""

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh, area_parts

__all__ = ["normals_and_areas", "unit_normals"]


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
    """
    units, areas = np.empty((mesh.face_count, 3)), np.empty(mesh.face_count)
    for chosen, normal, length in area_parts(mesh):
        areas[chosen] = length / 2
        length[length == 0.0] = np.inf
        for axis, part in enumerate(normal):
            np.divide(part, length, out=units[chosen, axis])
    return units, areas
