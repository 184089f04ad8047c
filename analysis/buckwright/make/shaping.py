"""From the sculpt to the buck: fill, base, vents, channels, fixings, lettering."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from buckwright.errors import MeshError
from buckwright.forming.evacuation import ATMOSPHERE_PA, drilled_discharge, evacuation_time_s
from buckwright.forming.sheets import SheetMaterial
from buckwright.job import Job
from buckwright.make.clock import Clock
from buckwright.make.looking import Looked
from buckwright.make.standing import Standing
from buckwright.mesh.triangles import Mesh
from buckwright.mesh.units import doubtful_size
from buckwright.relief.columns import Columns
from buckwright.relief.raster import relief_of
from buckwright.shape.base import BasePlan, BaseSettings, build_base, plan_base
from buckwright.shape.ceiling import ceiling
from buckwright.shape.channels import ChannelPlan, channel_outline, channel_tools, plan_channels
from buckwright.shape.drills import drilled
from buckwright.shape.engrave import Engraving, engraving_tools, plan_engraving
from buckwright.shape.face_hole import FaceHole, face_hole
from buckwright.shape.fill import Fill, fill_draft
from buckwright.shape.fixings import FixingPlan, FixingSettings, fixing_tools, plan_fixings
from buckwright.shape.outline import solid_outline
from buckwright.shape.plan_cells import PatchSettings
from buckwright.shape.solid import as_mesh, one_piece, united
from buckwright.shape.vents import FOOT, VentPlan, VentSettings, plan_vents, ring_points
from buckwright.survey.pockets import Pockets, find_pockets, least_pocket_depth_mm, vent_points

__all__ = ["Aired", "Shaped", "shape_buck"]

_POCKET_PIXELS = 768
_SLIVER_MM3 = 1.0
# How often the spacing in a pocket that empties too slowly is halved.
_MORE_ROUNDS = 2
# The foot outline is taken this far above the foot plane, clear of rounding at the flat bottom.
_FOOT_SLICE_MM = 0.01
# The cells of the fill grow with the sculpt, so that a large sculpt costs no more than a small one.
_CELLS_ACROSS = 350.0
_LEAST_CELL_MM = 0.2
# A sculpt smaller than this was read in a wrong unit: no base can be built under it. House rule.
_LEAST_SCULPT_MM = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Aired:
    """How the air under the sheet gets out.

    Attributes
    ----------
    pockets : where the sheet seals off air
    plan : vents that were fitted
    pocket_of_vent : index of the pocket that each vent serves, -1 for the foot ring
    evacuation_s : time to empty each pocket to the target, inf where it has no vent
    """

    pockets: Pockets | None
    plan: VentPlan
    evacuation_s: tuple[float, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Shaped:
    """The buck and everything that was decided for it."""

    fill: Fill
    blank: Manifold
    base: BasePlan
    aired: Aired
    channels: ChannelPlan
    fixings: FixingPlan
    engraving: Engraving | None
    solid: Manifold
    dropped: int

    def base_dict(self) -> dict[str, Any]:
        """The section `base` of the report."""
        return self.base.to_dict() | {
            "channels": self.channels.to_dict(),
            "fixings": self.fixings.to_dict(),
            "engraving": None if self.engraving is None else self.engraving.to_dict(),
        }


def shape_buck(standing: Standing, looked: Looked, job: Job, material: SheetMaterial, clock: Clock) -> Shaped:
    """Make the buck.

    Raises
    ------
    SolidError
        A solid operation failed, or the buck falls into pieces.
    JobError
        Measures that do not fit together.
    MeshError
        The sculpt is too small to be true.
    """
    _refuse_specks(standing.mesh)
    with clock.step("filling undercuts"):
        fill = _filled(standing, looked, job)
    with clock.step("building the base"):
        base, blank, dropped = _based(fill, job, looked.wanted_deg)
    with clock.step("finding pockets of air"):
        mesh = as_mesh(blank)
        columns = Columns(mesh)
        pockets = _pockets(mesh, base, job, clock) if job.vents.enabled else None
    with clock.step("placing vents"):
        aired = _aired(pockets, columns, base, job, material)
        channels, fixings, engraving = _underside(aired.plan, base, columns, job)
    with clock.step("drilling"):
        extra = (*channel_tools(channels), *fixing_tools(fixings))
        if engraving is not None:
            extra = (*extra, *engraving_tools(engraving))
        solid = drilled(blank, aired.plan, extra=extra)
    return Shaped(fill, blank, base, aired, channels, fixings, engraving, solid, dropped)


def _refuse_specks(mesh: Mesh) -> None:
    doubt = doubtful_size(mesh.size)
    if doubt is not None and float(mesh.size.max()) < _LEAST_SCULPT_MM:
        raise MeshError(f"no buck can be made of this. {doubt}")


def _filled(standing: Standing, looked: Looked, job: Job) -> Fill:
    extent = float(standing.mesh.size[:2].max())
    cell = job.fill.cell_mm or max(extent / _CELLS_ACROSS, _LEAST_CELL_MM)
    settings = PatchSettings(cell_mm=cell, wall_cell_mm=cell / 2.0, rim_cell_mm=cell / 4.0)
    return fill_draft(
        standing.mesh,
        looked.columns,
        looked.reach.drafts_deg,
        wall_deg=looked.wanted_deg,
        mode=job.fill.mode,
        keep_tight=job.fill.keep_tight,
        locked_faces=looked.locked_faces,
        tolerance_mm=job.fill.tolerance_mm,
        settings=settings,
        solid=standing.solid,
    )


def _based(fill: Fill, job: Job, draft_deg: float) -> tuple[BasePlan, Manifold, int]:
    """Plan and build the base, set the filled sculpt on it."""
    chosen = job.base
    foot = solid_outline(fill.solid.slice(_FOOT_SLICE_MM))
    height = float(fill.solid.bounding_box()[5])
    plan = plan_base(
        foot,
        part_height_mm=height,
        sheet_mm=job.sheet.thickness_mm,
        draft_deg=draft_deg,
        settings=BaseSettings(
            style=chosen.style,
            footprint=chosen.footprint,
            riser_mm=chosen.riser_mm,
            flange_mm=chosen.flange_mm,
            land_mm=chosen.land_mm,
            fillet_mm=chosen.fillet_mm,
            corner_mm=chosen.corner_mm,
            step_mm=chosen.trim_step_mm,
            channel_mm=job.vents.channel_depth_mm,
            most_mm=chosen.most_mm,
        ),
    )
    body = fill.solid.translate((0.0, 0.0, plan.foot_z_mm))
    blank, dropped = one_piece(united([body, build_base(plan)]), sliver_mm3=_SLIVER_MM3)
    return plan, blank, dropped


def _pockets(mesh: Mesh, base: BasePlan, job: Job, clock: Clock) -> Pockets:
    extent = float(mesh.size[:2].max())
    return find_pockets(
        relief_of(mesh, pixel_mm=extent / _POCKET_PIXELS),
        min_depth_mm=job.vents.min_pocket_mm or least_pocket_depth_mm(job.sheet.thickness_mm),
        sharpest_radius_mm=max(job.sheet.thickness_mm, 0.25),
        foot_mm=base.flange_z_mm,
        tick=clock.tick,
    )


def _face_hole(job: Job, material: SheetMaterial) -> FaceHole:
    given = job.vents.hole_mm
    marks = material.vent_diameter_mm
    return face_hole(
        sheet_mm=job.sheet.thickness_mm if given is None else given,
        low_mm=marks.low if given is None else given,
        high_mm=marks.high if given is None else given,
        printer_min_hole_mm=job.vents.printer_min_hole_mm,
        when_small=job.vents.when_small,
    )


def _aired(
    pockets: Pockets | None, columns: Columns, base: BasePlan, job: Job, material: SheetMaterial
) -> Aired:
    """Fit vents to the pockets and the foot ring; add some where a pocket would empty too slowly."""
    face = _face_hole(job, material)
    chosen = job.vents
    settings = VentSettings(
        skin_mm=chosen.skin_mm,
        back_bore_mm=chosen.back_bore_mm,
        wall_mm=chosen.wall_mm,
        channel_mm=chosen.channel_depth_mm,
    )
    spacing = chosen.spacing_mm
    wanted = _pocket_points(pockets, spacing)
    ring = np.zeros((0, 2))
    if chosen.enabled and chosen.foot_ring and base.foot_ring is not None:
        ring = ring_points(base.foot_ring, spacing_mm=spacing)
    plan = _planned(wanted, ring, columns, face, settings)
    times = _times(pockets, plan, job)
    for _ in range(_MORE_ROUNDS):
        slow = {i for i, seconds in enumerate(times) if seconds > chosen.target_s}
        spacing /= 2.0
        if not slow or pockets is None:
            break
        finer = [point for point in _pocket_points(pockets, spacing) if point[0] in slow]
        if len(finer) == sum(point[0] in slow for point in wanted):
            break
        wanted = sorted(
            [point for point in wanted if point[0] not in slow] + finer, key=lambda point: point[0]
        )
        plan = _planned(wanted, ring, columns, face, settings)
        times = _times(pockets, plan, job)
    return Aired(pockets, plan, tuple(times))


def _pocket_points(
    pockets: Pockets | None, spacing_mm: float
) -> list[tuple[int, tuple[float, float, float]]]:
    return [] if pockets is None else vent_points(pockets, spacing_mm=spacing_mm)


def _planned(
    wanted: list[tuple[int, tuple[float, float, float]]],
    ring: NDArray[np.float64],
    columns: Columns,
    face: FaceHole,
    settings: VentSettings,
) -> VentPlan:
    points = np.array([point for _, point in wanted], np.float64).reshape(-1, 3)
    foot = np.column_stack([ring, np.zeros(len(ring))])
    serves = [pocket for pocket, _ in wanted] + [FOOT] * len(ring)
    return plan_vents(np.concatenate([points, foot]), serves, columns, face=face, settings=settings)


def _times(pockets: Pockets | None, plan: VentPlan, job: Job) -> list[float]:
    """Seconds to bring each pocket from an atmosphere to the target through its own vents."""
    if pockets is None or not pockets.pockets:
        return []
    chosen = job.vents
    count = np.bincount(
        [vent.pocket for vent in plan.vents if vent.pocket >= 0], minlength=len(pockets.pockets)
    )
    across = 2.0 * np.sqrt(plan.face.area_mm2 / np.pi)
    discharge = float(drilled_discharge(chosen.skin_mm, across))
    volumes = np.array([pocket.volume_mm3 for pocket in pockets.pockets])
    seconds = np.full(len(volumes), np.inf)
    served = count > 0
    seconds[served] = evacuation_time_s(
        volumes[served],
        count[served] * plan.face.area_mm2,
        discharge=discharge,
        target_pa=chosen.target_share * ATMOSPHERE_PA,
        plenum_pa=chosen.plenum_kpa * 1e3,
    )
    return [float(value) for value in seconds]


def _underside(
    plan: VentPlan, base: BasePlan, columns: Columns, job: Job
) -> tuple[ChannelPlan, FixingPlan, Engraving | None]:
    """Channels join the vents, fixings keep clear of both, letters take what is left."""
    spots = np.array([vent.top_mm[:2] for vent in plan.vents], np.float64).reshape(-1, 2)
    bores = np.array([vent.back_bore_mm for vent in plan.vents], np.float64)
    channels = plan_channels(
        spots,
        base.underside,
        bores_mm=bores,
        width_mm=job.vents.channel_width_mm,
        depth_mm=job.vents.channel_depth_mm,
        wall_mm=job.vents.wall_mm,
    )
    taken = channel_outline(channels)
    fixings = plan_fixings(
        base.underside,
        lambda points: ceiling(columns, points),
        settings=FixingSettings(kind=job.base.fixing, count=job.base.fixings),
        keep_out=taken,
    )
    if not job.base.engrave or not (job.job.name or job.job.number):
        return channels, fixings, None
    for hole in fixings.holes:
        taken = taken + _disc(hole.x_mm, hole.y_mm, hole.diameter_mm / 2.0)
    lettering = plan_engraving(job.job.name, base.underside, job_number=job.job.number, keep_out=taken)
    return channels, fixings, lettering


def _disc(x: float, y: float, radius: float) -> Any:
    from manifold3d import CrossSection

    return CrossSection.circle(radius, 48).translate((x, y))
