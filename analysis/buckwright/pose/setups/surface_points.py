"""Points spread over a surface, each with its share of the area and how much detail lies around it."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.normals import normals_and_areas
from buckwright.pose.setups.walls import NO_WALLS, Walls, walls_of

__all__ = ["SurfacePoints", "spread_points"]

# The R2 sequence: M. Roberts, "The unreasonable effectiveness of quasirandom sequences" (2018).
_R2 = np.array([0.7548776662466927, 0.5698402909980532])
# What lies within this share of the size belongs to one feature. House rule: 5 mm on a part of 100 mm.
_FEATURE = 0.05
# Sides of a thin wall that look away from each other are not one feature.
_SAME_SIDE = -0.5
# A plain surface counts by this much of the most detailed one, so that smooth sculpts are judged by area.
_PLAIN = 0.1
# Normals that spread this much (1 - length of their mean) count as full detail: a ridge of 65 degrees has it.
_FULL = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class SurfacePoints:
    """Points on a surface.

    Attributes
    ----------
    places, normals : (N, 3) float64, mm and unit vectors
    area_mm2 : of the surface for which each point stands
    detail : (N,) float64, 0.1 on a plain surface to 1.1 where the normals change most
    walls : of a shell, which point lies across the wall; `NO_WALLS` of any other body
    """

    places: NDArray[np.float64]
    normals: NDArray[np.float64]
    area_mm2: float
    detail: NDArray[np.float64]
    walls: Walls = NO_WALLS

    def with_walls(self, size_mm: float) -> "SurfacePoints":
        """The same points, paired across the walls of a shell of that size."""
        spacing = float(np.sqrt(self.area_mm2))
        walls = walls_of(self.places, self.normals, self.detail, spacing_mm=spacing, size_mm=size_mm)
        return replace(self, walls=walls)

    def thinned(self, step: int) -> "SurfacePoints":
        """Every so many of the points, each for as much more of the surface; not paired."""
        few = slice(step // 2, None, step)
        count = len(self.places[few])
        return SurfacePoints(
            np.ascontiguousarray(self.places[few]),
            np.ascontiguousarray(self.normals[few]),
            self.area_mm2 * len(self.places) / max(count, 1),
            np.ascontiguousarray(self.detail[few]),
        )


def spread_points(mesh: Mesh, count: int, *, size_mm: float) -> SurfacePoints:
    """Spread points over a mesh by area, the same ones for the same mesh in any attitude.

    Parameters
    ----------
    mesh : with some area
    count : how many
    size_mm : of the whole, to which a feature is measured

    Notes
    -----
    Equal steps along the summed area of the faces choose the face, a low-discrepancy sequence the place in
    it: large faces get many points, small ones now and then one. Detail is the spread of the normals within
    a twentieth of the size.
    """
    normals, areas = normals_and_areas(mesh)
    ends = np.cumsum(areas)
    face = np.searchsorted(ends, (np.arange(count) + 0.5) * (ends[-1] / count), side="right")
    face = np.minimum(face, mesh.face_count - 1)
    u, v = ((np.arange(count)[:, None] * _R2) % 1.0).T
    folded = u + v > 1.0
    u, v = np.where(folded, 1.0 - u, u), np.where(folded, 1.0 - v, v)
    a, b, c = (mesh.vertices[mesh.faces[face, k]] for k in range(3))
    places = a + u[:, None] * (b - a) + v[:, None] * (c - a)
    chosen = np.ascontiguousarray(normals[face])
    return SurfacePoints(
        np.ascontiguousarray(places),
        chosen,
        float(ends[-1]) / count,
        _PLAIN + np.minimum(_spread(places, chosen, _FEATURE * size_mm) / _FULL, 1.0),
    )


def _spread(places: NDArray[np.float64], normals: NDArray[np.float64], reach: float) -> NDArray[np.float64]:
    """How much the normals around each point differ: 1 less the length of their mean."""
    i, j = cKDTree(places).query_pairs(reach, output_type="ndarray").T
    same = np.einsum("nk,nk->n", normals[i], normals[j]) > _SAME_SIDE
    i, j = np.concatenate([i[same], j[same]]), np.concatenate([j[same], i[same]])
    count = 1.0 + np.bincount(i, minlength=len(places))
    mean = np.stack(
        [normals[:, k] + np.bincount(i, weights=normals[j, k], minlength=len(places)) for k in range(3)]
    )
    spread: NDArray[np.float64] = 1.0 - np.linalg.norm(mean / count, axis=0)
    return spread
