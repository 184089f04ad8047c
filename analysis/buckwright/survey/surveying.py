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
from buckwright.survey.draft import DraftStates, draft_states
from buckwright.survey.regions import UndercutRegion, Undercuts, undercut_regions
from buckwright.survey.release import Release, StrainRange, judge_release
from buckwright.survey.sideways import sideways_mm
from buckwright.survey.undercut import Reach, find_trapped

__all__ = ["PartRelease", "SectionAt", "Surveyed", "ThicknessAt", "survey"]

type ThicknessAt = Callable[[NDArray[np.float64]], NDArray[np.float64]]
type SectionAt = Callable[[float], CrossSection]

_PIXELS = 1000
# A step no higher than a thin print layer does not hold a sheet that is many times as thick: house rule.
_GIVE_MM = 0.1
# A band that leaves less open than this cannot be flexed like a flap: house rule.
_ALL_ROUND_DEG = 300.0
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


@dataclass(frozen=True, slots=True, eq=False)
class Surveyed:
    """A survey of a mesh that stands on its foot plane.

    Attributes
    ----------
    columns : of the mesh; None where the survey was kept from an earlier run
    reach, states : per face
    sideways : (F,) mm
    undercuts : regions
    releases : one for each region
    wanted_deg : wanted draft
    """

    columns: Columns | None
    reach: Reach
    states: DraftStates
    sideways: NDArray[np.float64]
    undercuts: Undercuts
    releases: tuple[Release, ...]
    wanted_deg: float

    @property
    def release(self) -> PartRelease:
        """Whether the part releases."""
        return PartRelease(tuple(self.undercuts.regions), self.releases)

    @property
    def locked_faces(self) -> NDArray[np.bool_]:
        """Faces of the regions that lock the part."""
        locked = np.array([release.verdict == "locked" for release in self.releases] + [False])
        return locked[self.undercuts.region_of_face]

    def undercut_dicts(self, *, lift_mm: float) -> list[dict[str, Any]]:
        """The section `undercuts` of the report, heights counted from the platen."""
        entries = []
        for region, release in zip(self.undercuts.regions, self.releases, strict=True):
            x, y, z = region.centre_mm
            moved = {
                "centre_mm": (x, y, z + lift_mm),
                "z_low_mm": region.z_low + lift_mm,
                "z_high_mm": region.z_high + lift_mm,
                "release": release.to_dict(),
            }
            entries.append(region.to_dict() | moved)
        return entries


def survey(
    mesh: Mesh,
    section_at: SectionAt,
    *,
    wanted_deg: float,
    sheet_mm: float,
    allowable: StrainRange,
    floor_z: float = _FOOT_MM,
    speck_mm2: float = 1.0,
    thickness_at: ThicknessAt | None = None,
) -> Surveyed:
    """Survey a closed mesh that stands on z = 0.

    Faces wholly at or below `floor_z` belong to the base and are not judged; trapped regions smaller than
    `speck_mm2` are not listed. `thickness_at` tells the forecast thickness of the sheet at
    places (N, 3), nan where it is not known.
    """
    columns = Columns(mesh)
    reach = find_trapped(mesh, columns, floor_z=floor_z)
    extent = float(mesh.size[:2].max())
    relief = relief_of(mesh, pixel_mm=max(extent / _PIXELS, 1e-3))
    sideways = sideways_mm(mesh, reach, columns, relief, give_mm=_GIVE_MM)
    undercuts = undercut_regions(mesh, reach, sideways, columns, speck_under_mm2=speck_mm2)
    states = draft_states(
        mesh, reach.drafts_deg, wanted_deg=wanted_deg, trapped=reach.trapped, left_out=reach.left_out
    )
    centres = np.array([region.centre_mm for region in undercuts.regions], np.float64).reshape(-1, 3)
    thick = np.full(len(centres), np.nan) if thickness_at is None else thickness_at(centres)
    releases = tuple(
        _release(
            region,
            section_at,
            sheet_mm=sheet_mm,
            allowable=allowable,
            trim_z=max(floor_z, 0.0),
            thickness_mm=float(here),
        )
        for region, here in zip(undercuts.regions, thick, strict=True)
    )
    return Surveyed(columns, reach, states, sideways, undercuts, releases, wanted_deg)


def _release(
    region: UndercutRegion,
    section_at: SectionAt,
    *,
    sheet_mm: float,
    allowable: StrainRange,
    trim_z: float,
    thickness_mm: float,
) -> Release:
    """Judge a region: as a ring of the sculpt's own girth if it goes all round, else of its own width."""
    all_round = region.encircles_deg > _ALL_ROUND_DEG
    diameter = _girth(section_at, region) if all_round else region.plan_diameter_mm
    flap = None
    if region.reaches_floor and not all_round:
        flap = max(region.z_high - trim_z, sheet_mm)
    return judge_release(
        sideways_mm=region.sideways_mm,
        depth_mm=region.depth_mm,
        ring_diameter_mm=max(diameter, 1e-3),
        flap_length_mm=flap,
        sheet_mm=sheet_mm,
        allowable=allowable,
        thickness_mm=thickness_mm if np.isfinite(thickness_mm) else None,
    )


def _girth(section_at: SectionAt, region: UndercutRegion) -> float:
    """Diameter of a circle with the outline's hull at the height of the region's middle."""
    section = section_at(min(max(region.centre_mm[2], region.z_low), region.z_high))
    hull = section.hull()
    polygons = hull.to_polygons()
    if not polygons:
        return region.plan_diameter_mm
    outline = np.asarray(polygons[0])
    return float(np.linalg.norm(outline - np.roll(outline, 1, axis=0), axis=1).sum() / np.pi)
