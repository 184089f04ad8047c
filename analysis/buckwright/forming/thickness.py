"""Thickness of the formed sheet at its nodes and at any place on the buck."""

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from buckwright.forming.membrane import Reference

__all__ = ["at_points", "formed_area_mm2", "nodal_thickness", "thinnest"]

_NEAR = 8  # triangles tried for each place


def formed_area_mm2(points: NDArray[np.float64], triangles: NDArray[np.int32]) -> NDArray[np.float64]:
    """Area of each triangle (T,) of a surface (N, 3)."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return np.asarray(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1))


def nodal_thickness(points: NDArray[np.float64], ref: Reference) -> NDArray[np.float64]:
    """Thickness at each node over the nominal one before forming, (N,): volume over area of its triangles.

    The sum of thickness times a third of the area around each node is the volume of the flat sheet, by
    construction. Above 1 the sheet lies in folds finer than the cell, and the value is their mean.
    """
    count, corners = len(points), ref.triangles.ravel()
    area = np.bincount(corners, np.repeat(formed_area_mm2(points, ref.triangles), 3), count)
    volume = np.bincount(corners, np.repeat(ref.area_mm2 * ref.weight, 3), count)
    return np.asarray(volume / np.maximum(area, 1e-300))


def thinnest(
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    covering: NDArray[np.bool_],
    area: NDArray[np.float64],
    volume: NDArray[np.float64],
) -> tuple[float, tuple[float, float, float]]:
    """Least thickness over the nominal one, and where, (3,), among the `covering` triangles (T,).

    A mean over a node's triangles and those of its neighbours: the thinnest single node hangs on the mesh.
    `area` and `volume` (T,) are those of the formed triangles.
    """
    corners = triangles[covering]
    a, v = (np.bincount(corners.ravel(), np.repeat(x[covering], 3), len(points)) for x in (area, volume))
    a2, v2 = (np.bincount(corners.ravel(), np.repeat(x[corners].sum(1), 3), len(points)) for x in (a, v))
    thickness = np.where(a2 > 0.0, v2 / np.maximum(a2, 1e-300), np.inf)
    node = int(np.argmin(thickness))
    x, y, z = points[node].tolist()
    return float(thickness[node]), (x, y, z)


def at_points(
    places: NDArray[np.float64],
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    *values: NDArray[np.float64],
) -> tuple[NDArray[np.float64], ...]:
    """Values of the nodes, each (N,), carried to places (M, 3): linear on the nearest triangle of the sheet.

    Returns
    -------
    The values (M,), and last how far each place is from the sheet (M,), mm: large where it bridges over it
    """
    tree = cKDTree(points[triangles].mean(1))
    best = np.full(len(places), np.inf)
    found = [np.full(len(places), np.nan) for _ in values]
    near = tree.query(places, k=min(_NEAR, len(triangles)))[1].reshape(len(places), -1)
    for k in range(near.shape[1]):
        corners = triangles[near[:, k]]
        weights, away = _nearest(places, *(points[corners[:, m]] for m in range(3)))
        better = away < best
        best[better] = away[better]
        for value, of_nodes in zip(found, values):
            value[better] = (weights * of_nodes[corners]).sum(1)[better]
    return *found, best


def _nearest(
    p: NDArray[np.float64], a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Weights (M, 3) of the point of each triangle that is nearest to p, and its distance (M,)."""
    u, v, w = b - a, c - a, p - a
    uu, uv, vv = (u * u).sum(1), (u * v).sum(1), (v * v).sum(1)
    wu, wv = (w * u).sum(1), (w * v).sum(1)
    det = np.maximum(uu * vv - uv * uv, 1e-300)
    s, t = (vv * wu - uv * wv) / det, (uu * wv - uv * wu) / det
    inside = (s >= 0.0) & (t >= 0.0) & (s + t <= 1.0)
    options = [np.stack([1.0 - s - t, s, t], axis=1)]
    for i, j in ((0, 1), (1, 2), (2, 0)):
        corner = (a, b, c)
        start, along = corner[i], corner[j] - corner[i]
        r = np.clip(((p - start) * along).sum(1) / np.maximum((along * along).sum(1), 1e-300), 0.0, 1.0)
        weights = np.zeros((len(p), 3))
        weights[:, i], weights[:, j] = 1.0 - r, r
        options.append(weights)
    away = np.stack(
        [np.linalg.norm(o[:, :1] * a + o[:, 1:2] * b + o[:, 2:] * c - p, axis=1) for o in options], axis=1
    )
    away[~inside, 0] = np.inf
    chosen = np.argmin(away, axis=1)
    rows = np.arange(len(p))
    return np.stack(options, axis=1)[rows, chosen], away[rows, chosen]
