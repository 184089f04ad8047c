"""From the sculpt to the buck: fill, base, vents, channels, fixings, lettering."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold

from buckwright.errors import JobError, MeshError
from buckwright.forming.sheets import SheetMaterial
from buckwright.job import Job
from buckwright.make.airing import Aired, air, pockets_of
from buckwright.make.clock import Clock
from buckwright.make.looking import Looked
from buckwright.make.standing import Standing
from buckwright.mesh.triangles import Mesh
from buckwright.mesh.units import doubtful_size
from buckwright.relief.columns import Columns
from buckwright.shape.base import BasePlan, BaseSettings, build_base, plan_base
from buckwright.shape.ceiling import ceiling
from buckwright.shape.channels import ChannelPlan, channel_outline, channel_tools, plan_channels
from buckwright.shape.drills import drilled
from buckwright.shape.engrave import Engraving, engraving_tools, plan_engraving
from buckwright.shape.fill import Fill, fill_draft
from buckwright.shape.fixings import FixingPlan, FixingSettings, fixing_tools, plan_fixings
from buckwright.shape.outline import solid_outline
from buckwright.shape.plan_cells import PatchSettings
from buckwright.shape.solid import as_mesh, one_piece, united
from buckwright.shape.vents import VentPlan

__all__ = ["Shaped", "shape_buck"]

_SLIVER_MM3 = 1.0
# The foot outline is taken this far above the foot plane, clear of rounding at the flat bottom.
_FOOT_SLICE_MM = 0.01
# The cells of the fill grow with the sculpt, so that a large sculpt costs no more than a small one.
_CELLS_ACROSS = 350.0
_LEAST_CELL_MM = 0.2
# A sculpt smaller than this was read in a wrong unit: no base can be built under it. House rule.
_LEAST_SCULPT_MM = 1.0
# Nothing stands on a smaller base: house rule.
_LEAST_BASE_MM2 = 1.0


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
        base, blank, dropped = _based(fill, standing, job, looked.wanted_deg)
    with clock.step("finding pockets of air"):
        mesh = as_mesh(blank)
        columns = Columns(mesh)
        pockets = pockets_of(mesh, base, job, clock) if job.vents.enabled else None
    with clock.step("placing vents"):
        aired = air(pockets, columns, base, standing, job, material)
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


def _based(fill: Fill, standing: Standing, job: Job, draft_deg: float) -> tuple[BasePlan, Manifold, int]:
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
        given=_outline_on_platen(standing, job),
    )
    body = fill.solid.translate((0.0, 0.0, plan.foot_z_mm))
    blank, dropped = one_piece(united([body, build_base(plan)]), sliver_mm3=_SLIVER_MM3)
    return plan, blank, dropped


def _outline_on_platen(standing: Standing, job: Job) -> CrossSection | None:
    """The outline that the job draws, seen down the pull."""
    if job.base.outline_mm is None:
        return None
    corners = np.array(job.base.outline_mm)
    # lines that cross enclose what either way round encloses
    outline = CrossSection([standing.placed(corners)[:, :2]], FillRule.NonZero)
    if outline.area() < _LEAST_BASE_MM2:
        raise JobError(
            f"outline_mm encloses only {outline.area():.3g} mm2 seen down the pull; draw it round the part"
        )
    return outline


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
        platen_holes=np.array(job.vents.platen_holes_mm or (), np.float64).reshape(-1, 2),
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


def _disc(x: float, y: float, radius: float) -> CrossSection:
    return CrossSection.circle(radius, 48).translate((x, y))
