"""The survey of a closed part: draft, reach, undercuts, and whether a formed part releases."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from manifold3d import CrossSection
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.relief.raster import relief_of
from buckwright.stand import Stand
from buckwright.survey.draft import DraftStates, FaceState, draft_states
from buckwright.survey.finer import Parts, reach_on_parts
from buckwright.survey.regions import UndercutRegion, Undercuts, undercut_regions
from buckwright.survey.release import Release, StrainRange, judge_release
from buckwright.survey.sideways import sideways_mm
from buckwright.survey.undercut import Reach

__all__ = ["FaceAnswers", "Grip", "PartRelease", "Surveyed", "ThicknessAt", "survey"]

type ThicknessAt = Callable[[NDArray[np.float64]], NDArray[np.float64]]
"""Tells the thickness of the formed sheet at places (N, 3), mm, nan where it is not known."""

_PIXELS = 1000
# Faces with longer sides are asked near their corners too; on smaller ones the middle is as good.
_CORNERS_OVER_PX = 4.0
# A step no higher than a thin print layer does not hold a sheet that is many times as thick: house rule.
_GIVE_MM = 0.1
# A band that leaves less open than this cannot be flexed like a flap: house rule.
_ALL_ROUND_DEG = 300.0
# Of several parts of a face the worst counts; the base is the mildest.
_BY_SEVERITY = np.array([FaceState.BASE, FaceState.FREE, FaceState.TIGHT, FaceState.TRAPPED], np.uint8)
_SEVERITY = np.argsort(_BY_SEVERITY)
# What lies no higher than this is on the foot plane; storing in single precision moves it less.
_FOOT_MM = 1e-4


@dataclass(frozen=True, slots=True)
class PartRelease:
    """Whether a part releases.

    Attributes
    ----------
    regions : what holds it, the worst first
    releases : one for each region
    """

    regions: tuple[UndercutRegion, ...]
    releases: tuple[Release, ...]

    @property
    def locked(self) -> int:
        """Regions that lock the part."""
        return sum(release.verdict == "locked" for release in self.releases)

    @property
    def widest_mm(self) -> float:
        """Greatest sideways movement that a listed region needs."""
        return max((region.sideways_mm for region in self.regions), default=0.0)


@dataclass(frozen=True, slots=True)
class Grip:
    """What must give where a region holds the part.

    Attributes
    ----------
    region : what holds it
    ring_diameter_mm : of the ring that must widen: the sculpt's own girth where the region goes all round,
        else the region's own width
    flap_length_mm : of the flap that may bend aside instead; None where there is none
    """

    region: UndercutRegion
    ring_diameter_mm: float
    flap_length_mm: float | None

    def release(
        self, *, sheet_mm: float, allowable: StrainRange, thickness_mm: float | None = None
    ) -> Release:
        """Whether the part comes off here.

        Parameters
        ----------
        sheet_mm : thickness of the sheet
        allowable : strain that it tolerates
        thickness_mm : of the formed part here, None where it is not known

        Returns
        -------
        Release
        """
        return judge_release(
            sideways_mm=self.region.sideways_mm,
            depth_mm=self.region.depth_mm,
            ring_diameter_mm=self.ring_diameter_mm,
            flap_length_mm=self.flap_length_mm,
            sheet_mm=sheet_mm,
            allowable=allowable,
            thickness_mm=thickness_mm,
        )


@dataclass(frozen=True, slots=True, eq=False)
class FaceAnswers:
    """Results of a survey, one value for each face; of several parts of a face, the worst.

    Attributes
    ----------
    state : (F,) uint8, values of `FaceState`
    draft_deg : (F,) float64, nan without area
    depth_mm : (F,) float64, how deep under the overhang, 0 where not covered
    sideways_mm : (F,) float64
    region : (F,) int32, -1 outside of the regions
    """

    state: NDArray[np.uint8]
    draft_deg: NDArray[np.float64]
    depth_mm: NDArray[np.float64]
    sideways_mm: NDArray[np.float64]
    region: NDArray[np.int32]


@dataclass(frozen=True, slots=True, eq=False)
class Surveyed:
    """A survey of a mesh that stands on its foot plane.

    Attributes
    ----------
    columns : of the mesh; None where the survey was kept from an earlier run
    parts : the parts of faces that were asked; None where every face was asked as it is
    reach, states : one value for each part
    sideways : (P,) mm
    undercuts : regions of parts
    grips, releases : one for each region
    wanted_deg : wanted draft
    """

    columns: Columns | None
    parts: Parts | None
    reach: Reach
    states: DraftStates
    sideways: NDArray[np.float64]
    undercuts: Undercuts
    grips: tuple[Grip, ...]
    releases: tuple[Release, ...]
    wanted_deg: float

    @property
    def release(self) -> PartRelease:
        """Whether the part releases."""
        return PartRelease(tuple(self.undercuts.regions), self.releases)

    @property
    def answers(self) -> FaceAnswers:
        """What was found on each part that was asked."""
        return FaceAnswers(
            state=self.states.state,
            draft_deg=self.reach.drafts_deg,
            depth_mm=self.reach.depth_mm,
            sideways_mm=self.sideways,
            region=self.undercuts.region_of_face,
        )

    @property
    def of_faces(self) -> FaceAnswers:
        """What was found on each face of the mesh that was given: the worst of its parts."""
        found = self.answers
        if self.parts is None:
            return found
        worst = self.parts.greatest
        unlisted = len(self.undercuts.regions)
        region = -worst(-np.where(found.region < 0, unlisted, found.region))
        return FaceAnswers(
            state=_BY_SEVERITY[worst(_SEVERITY[found.state])],
            draft_deg=worst(found.draft_deg),
            depth_mm=worst(found.depth_mm),
            sideways_mm=worst(found.sideways_mm),
            region=np.where(region == unlisted, -1, region).astype(np.int32),
        )

    @property
    def locked_faces(self) -> NDArray[np.bool_]:
        """Faces of the mesh that was given with a part in a region that locks the part."""
        locked = np.array([release.verdict == "locked" for release in self.releases] + [False])
        held = locked[self.undercuts.region_of_face]
        return held if self.parts is None else self.parts.greatest(held)

    @property
    def free_faces(self) -> NDArray[np.bool_]:
        """Faces of the mesh that was given that are not trapped, or not wholly."""
        free = ~self.reach.trapped
        return free if self.parts is None else self.parts.greatest(free)

    def asked(self, mesh: Mesh) -> Mesh:
        """The faces that `answers` belong to: the parts, or the mesh that was given.

        Parameters
        ----------
        mesh : the mesh that was surveyed

        Returns
        -------
        Mesh : its parts, or itself
        """
        return mesh if self.parts is None else self.parts.mesh

    def undercut_dicts(self, stand: Stand) -> list[dict[str, Any]]:
        """The section `undercuts` of the report, heights counted from the platen."""
        entries = []
        for region, release in zip(self.undercuts.regions, self.releases, strict=True):
            low, high = stand.span(region.z_low, region.z_high)
            moved = {
                "centre_mm": stand.place(region.centre_mm),
                "z_low_mm": low,
                "z_high_mm": high,
                "release": release.to_dict(),
            }
            entries.append(region.to_dict() | moved)
        return entries


def survey(
    mesh: Mesh,
    *,
    wanted_deg: float,
    sheet_mm: float,
    allowable: StrainRange,
    floor_z: float = _FOOT_MM,
    speck_mm2: float = 1.0,
) -> Surveyed:
    """Survey a closed mesh that stands on z = 0.

    Faces wholly at or below `floor_z` belong to the base and are not judged; trapped regions smaller than
    `speck_mm2` are not listed.
    """
    columns = Columns(mesh)
    reach, parts = reach_on_parts(mesh, columns, floor_z=floor_z)
    asked = mesh if parts is None else parts.mesh
    relief = relief_of(mesh, pixel_mm=max(float(mesh.size[:2].max()) / _PIXELS, 1e-3))
    corners_over = _CORNERS_OVER_PX * relief.pixel_mm
    sideways = sideways_mm(asked, reach, columns, relief, give_mm=_GIVE_MM, corners_over_mm=corners_over)
    undercuts = undercut_regions(asked, reach, sideways, columns, speck_under_mm2=speck_mm2)
    states = draft_states(
        asked, reach.drafts_deg, wanted_deg=wanted_deg, trapped=reach.trapped, left_out=reach.left_out
    )
    trim_z = max(floor_z, 0.0)
    grips = tuple(_grip(region, mesh, sheet_mm=sheet_mm, trim_z=trim_z) for region in undercuts.regions)
    releases = tuple(grip.release(sheet_mm=sheet_mm, allowable=allowable) for grip in grips)
    return Surveyed(columns, parts, reach, states, sideways, undercuts, grips, releases, wanted_deg)


def _grip(region: UndercutRegion, mesh: Mesh, *, sheet_mm: float, trim_z: float) -> Grip:
    all_round = region.encircles_deg > _ALL_ROUND_DEG
    diameter = _girth(mesh, region) if all_round else region.plan_diameter_mm
    flap = None
    if region.reaches_floor and not all_round:
        flap = max(region.z_high - trim_z, sheet_mm)
    return Grip(region, max(diameter, 1e-3), flap)


def _girth(mesh: Mesh, region: UndercutRegion) -> float:
    """Diameter of a circle with the outline's hull at the height of the region's middle."""
    points = _points_at(mesh, min(max(region.centre_mm[2], region.z_low), region.z_high))
    polygons = CrossSection.hull_points(points).to_polygons() if len(points) > 2 else []
    if not polygons:
        return region.plan_diameter_mm
    outline = np.asarray(polygons[0])
    return float(np.linalg.norm(outline - np.roll(outline, 1, axis=0), axis=1).sum() / np.pi)


def _points_at(mesh: Mesh, z: float) -> NDArray[np.float64]:
    """Where the edges of a mesh pass through a height, (N, 2): every corner of the section there."""
    over = mesh.vertices[:, 2] > z
    crossing = mesh.faces[over[mesh.faces].any(axis=1) & ~over[mesh.faces].all(axis=1)]
    sides = np.concatenate([crossing, np.roll(crossing, 1, axis=1)]).reshape(2, -1).T
    low, high = mesh.vertices[sides[over[sides[:, 0]] != over[sides[:, 1]]]].transpose(1, 0, 2)
    share = (z - low[:, 2]) / (high[:, 2] - low[:, 2])
    points: NDArray[np.float64] = low[:, :2] + (high - low)[:, :2] * share[:, None]
    return points
