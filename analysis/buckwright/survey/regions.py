"""Trapped faces grouped into regions, each with the figures that decide whether a part releases from it."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from buckwright.mesh.adjacency import shells
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.survey.undercut import Reach

__all__ = ["UndercutRegion", "Undercuts", "undercut_regions"]

_VOLUME_SAMPLES = 20_000
_MOST_SPLITS = 64
_TOUCH = 1e-6
"""Share of the largest extent within which a region counts as touching the floor."""


@dataclass(frozen=True, slots=True)
class UndercutRegion:
    """A connected group of trapped faces.

    Attributes
    ----------
    area_mm2 : area of its faces
    volume_mm3 : free space directly under its overhanging faces, down to the next surface or the floor
    depth_mm : greatest height of the top surface above one of its faces
    sideways_mm : greatest sideways movement that one of its faces needs
    centre_mm : middle of the face that needs it
    z_low, z_high : mm, lowest and highest corner
    plan_diameter_mm : mean width in plan (perimeter of its hull / pi; the diameter if that is a circle)
    reaches_floor : whether it runs down to the floor
    encircles_deg : angle that it covers around the axis of the sculpt, 0..360
    faces : number of faces
    """

    area_mm2: float
    volume_mm3: float
    depth_mm: float
    sideways_mm: float
    centre_mm: tuple[float, float, float]
    z_low: float
    z_high: float
    plan_diameter_mm: float
    reaches_floor: bool
    encircles_deg: float
    faces: int

    def to_dict(self) -> dict[str, Any]:
        """One entry of `undercuts` in report.json, without `release`, which the judge of release adds.

        Returns
        -------
        dict : numbers, a truth value and the centre as a list
        """
        return {
            "area_mm2": self.area_mm2,
            "volume_mm3": self.volume_mm3,
            "depth_mm": self.depth_mm,
            "sideways_mm": self.sideways_mm,
            "centre_mm": list(self.centre_mm),
            "z_low_mm": self.z_low,
            "z_high_mm": self.z_high,
            "plan_diameter_mm": self.plan_diameter_mm,
            "reaches_floor": self.reaches_floor,
            "encircles_deg": self.encircles_deg,
            "faces": self.faces,
        }


@dataclass(frozen=True, slots=True, eq=False)
class Undercuts:
    """All undercuts of a sculpt.

    Attributes
    ----------
    regions : worst (greatest sideways movement) first
    region_of_face : (F,) int32, index into `regions`; -1 for faces that are not trapped or belong to a speck
    speck_count, speck_area_mm2 : number of regions too small to list, and their total area
    speck_under_mm2, speck_under_mm : a region smaller in area, or needing less movement, is a speck
    """

    regions: tuple[UndercutRegion, ...]
    region_of_face: NDArray[np.int32]
    speck_count: int
    speck_area_mm2: float
    speck_under_mm2: float
    speck_under_mm: float


def undercut_regions(
    mesh: Mesh,
    reach: Reach,
    sideways: NDArray[np.float64],
    columns: Columns,
    *,
    axis_xy: tuple[float, float] | None = None,
    speck_under_mm2: float = 1.0,
    speck_under_mm: float = 0.05,
) -> Undercuts:
    """Group the trapped faces into connected regions and measure them.

    Parameters
    ----------
    mesh, reach, columns : the sculpt in the pull frame, its `find_trapped` and its columns
    sideways : (F,) float64, mm, from `sideways_mm`
    axis_xy : axis for `encircles_deg`, mm; the middle of the bounding box by default
    speck_under_mm2, speck_under_mm : regions smaller than this, or needing less movement, are pooled as
        specks

    Returns
    -------
    Undercuts : regions worst first; ties in movement by area

    Notes
    -----
    Faces are connected through shared edges. Volumes are summed over columns under the overhanging faces, one
    per face and more for large ones (about 20 000 in all): exact for flat opposing surfaces.
    """
    labels, count = _label(mesh, reach.trapped)
    areas = mesh.areas()
    trapped = np.flatnonzero(labels >= 0)
    order = trapped[np.argsort(labels[trapped], kind="stable")]
    first = np.searchsorted(labels[order], np.arange(count))
    area = np.bincount(labels[trapped], weights=areas[trapped], minlength=count)
    widest = np.maximum.reduceat(sideways[order], first) if count else np.zeros(0)
    listed = (area >= speck_under_mm2) & (widest >= speck_under_mm)
    ranked = np.flatnonzero(listed)
    ranked = ranked[np.lexsort((-area[ranked], -widest[ranked]))]
    floor = reach.floor_z if np.isfinite(reach.floor_z) else float(mesh.bounds[0, 2])
    volumes = _volumes(mesh, reach, columns, floor)
    axis = np.asarray(mesh.bounds[:, :2].mean(axis=0) if axis_xy is None else axis_xy)
    ends = np.append(first[1:], len(order))
    groups = [order[first[label] : ends[label]] for label in ranked]
    place = np.full(count + 1, -1, np.int32)
    place[ranked] = np.arange(len(ranked))
    return Undercuts(
        regions=tuple(
            _measured(mesh, reach, faces, areas, volumes, sideways, axis, floor) for faces in groups
        ),
        region_of_face=place[labels],
        speck_count=int(count - listed.sum()),
        speck_area_mm2=float(area[~listed].sum()),
        speck_under_mm2=speck_under_mm2,
        speck_under_mm=speck_under_mm,
    )


def _label(mesh: Mesh, trapped: NDArray[np.bool_]) -> tuple[NDArray[np.int32], int]:
    """Number of the connected region of each face, -1 where it is not trapped; number of regions."""
    labels = np.full(mesh.face_count, -1, np.int32)
    labels[trapped], count = shells(Mesh(mesh.vertices, mesh.faces[trapped]))
    return labels, count


def _volumes(mesh: Mesh, reach: Reach, columns: Columns, floor: float) -> NDArray[np.float64]:
    """Free space under each overhanging face, (F,) mm3."""
    volumes = np.zeros(mesh.face_count)
    faces = np.flatnonzero(reach.leaning)
    if not len(faces):
        return volumes
    corners = mesh.vertices[mesh.faces[faces]]
    sides = corners[:, 1:, :2] - corners[:, :1, :2]
    plan = np.abs(sides[:, 0, 0] * sides[:, 1, 1] - sides[:, 0, 1] * sides[:, 1, 0]) / 2.0
    share = max(float(plan.sum()) / _VOLUME_SAMPLES, 1e-300)
    splits = np.clip(np.ceil(np.sqrt(plan / share)), 1, _MOST_SPLITS).astype(np.int64)
    for split in np.unique(splits):
        chosen = splits == split
        weights = _sub_middles(int(split))
        points = np.einsum("sk,fkx->fsx", weights, corners[chosen]).reshape(-1, 3)
        gap = points[:, 2] - np.maximum(columns.below(points)[0], floor)
        mean_gap = np.maximum(gap, 0.0).reshape(-1, len(weights)).mean(axis=1)
        volumes[faces[chosen]] = mean_gap * plan[chosen]
    return volumes


def _sub_middles(split: int) -> NDArray[np.float64]:
    """Barycentric middles of the `split`^2 equal triangles that a triangle divides into."""
    i, j = np.meshgrid(np.arange(split), np.arange(split), indexing="ij")
    upright = np.stack([i, j], axis=-1)[i + j < split] + 1.0 / 3.0
    inverted = np.stack([i, j], axis=-1)[i + j < split - 1] + 2.0 / 3.0
    both = np.concatenate([upright, inverted]) / split
    return np.column_stack([1.0 - both.sum(axis=1), both])


def _measured(
    mesh: Mesh,
    reach: Reach,
    faces: NDArray[np.int64],
    areas: NDArray[np.float64],
    volumes: NDArray[np.float64],
    sideways: NDArray[np.float64],
    axis: NDArray[np.float64],
    floor: float,
) -> UndercutRegion:
    """Figures of one region."""
    corners = mesh.vertices[mesh.faces[faces]]
    worst = faces[sideways[faces].argmax()]
    x, y, z = (float(value) for value in mesh.vertices[mesh.faces[worst]].mean(axis=0))
    low, high = float(corners[:, :, 2].min()), float(corners[:, :, 2].max())
    touch = _TOUCH * reach.slack_mm / 1e-9
    return UndercutRegion(
        area_mm2=float(areas[faces].sum()),
        volume_mm3=float(volumes[faces].sum()),
        depth_mm=float(reach.depth_mm[faces].max()),
        sideways_mm=float(sideways[worst]),
        centre_mm=(x, y, z),
        z_low=low,
        z_high=high,
        plan_diameter_mm=_mean_width(corners[:, :, :2].reshape(-1, 2)),
        reaches_floor=low <= floor + touch,
        encircles_deg=_encircled_deg(corners[:, :, :2] - axis),
        faces=len(faces),
    )


def _mean_width(points_xy: NDArray[np.float64]) -> float:
    """Mean width of the hull of points in the plane: its perimeter / pi (Cauchy)."""
    try:
        return float(ConvexHull(points_xy).area) / np.pi
    except QhullError:  # all on one line: the perimeter is the line, there and back
        offset = points_xy - points_xy[0]
        far = points_xy[np.argmax((offset**2).sum(axis=1))]
        return 2.0 * float(np.linalg.norm(points_xy - far, axis=1).max()) / np.pi


def _encircled_deg(corners_xy: NDArray[np.float64]) -> float:
    """Angle around the origin covered by triangles (N, 3, 2) in the plane, degrees."""
    following = np.roll(corners_xy, -1, axis=1)
    turns = corners_xy[..., 0] * following[..., 1] - corners_xy[..., 1] * following[..., 0]
    if ((turns > 0.0).all(axis=1) | (turns < 0.0).all(axis=1)).any():
        return 360.0  # a triangle contains the axis
    angles = np.degrees(np.arctan2(corners_xy[..., 1], corners_xy[..., 0]))
    turned = (angles - angles[:, :1] + 180.0) % 360.0 - 180.0
    start = (angles[:, 0] + turned.min(axis=1)) % 360.0
    end = start + turned.max(axis=1) - turned.min(axis=1)
    order = np.argsort(start)
    start, end = start[order], end[order]
    # an arc that runs past 360 covers the start; then add what each arc covers beyond those before it
    wrapped = max(float(end.max()) - 360.0, 0.0)
    reached = np.maximum.accumulate(np.concatenate([[wrapped], end[:-1]]))
    added = np.minimum(end, 360.0) - np.maximum(start, reached)
    return float(min(np.maximum(added, 0.0).sum() + wrapped, 360.0))
