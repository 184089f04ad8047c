"""Thickness of the formed sheet at its nodes and at any point on the buck."""

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.membrane import Reference

__all__ = ["at_points", "formed_area_mm2", "nodal_thickness"]


def formed_area_mm2(points: NDArray[np.float64], triangles: NDArray[np.int32]) -> NDArray[np.float64]:
    """Area of each triangle of a surface.

    Parameters
    ----------
    points : (N, 3) float64, mm
    triangles : (T, 3) int32

    Returns
    -------
    (T,) float64, mm2
    """
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return np.asarray(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1))


def nodal_thickness(points: NDArray[np.float64], ref: Reference) -> NDArray[np.float64]:
    """Thickness at each node over the nominal one before forming: volume over area of its triangles.

    Parameters
    ----------
    points : (N, 3) float64, mm, the formed sheet
    ref : the stress-free sheet

    Returns
    -------
    (N,) float64, a ratio

    Notes
    -----
    The sum of thickness times a third of the area around each node is the volume of the flat sheet, by
    construction. Above 1 the sheet lies in folds finer than the cell, and the value is their mean.
    """
    count, corners = len(points), ref.triangles.ravel()
    area = np.bincount(corners, np.repeat(formed_area_mm2(points, ref.triangles), 3), count)
    volume = np.bincount(corners, np.repeat(ref.area_mm2 * ref.weight, 3), count)
    return np.asarray(volume / np.maximum(area, 1e-300))


def at_points(
    places: NDArray[np.float64],
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    *values: NDArray[np.float64],
) -> tuple[NDArray[np.float64], ...]:
    """Values of the nodes at given points: linear on the nearest triangle of the sheet.

    Parameters
    ----------
    places : (M, 3) float64, mm
    points : (N, 3) float64, mm, the formed sheet
    triangles : (T, 3) int32
    *values : (N,) float64 each

    Returns
    -------
    (M,) float64 for each of the values, and last the distance of each point from the sheet, mm: large where
    the sheet bridges over it
    """
    import igl  # its binary takes half a second to load

    if not len(places):
        return *(np.empty(0) for _ in values), np.empty(0)
    squared, face, nearest = igl.point_mesh_squared_distance(places, points, triangles.astype(np.int64))
    corners = triangles[face]
    weights = igl.barycentric_coordinates(nearest, *(np.ascontiguousarray(points[c]) for c in corners.T))
    found = [(weights * value[corners]).sum(1) for value in values]
    return *found, np.sqrt(squared)
