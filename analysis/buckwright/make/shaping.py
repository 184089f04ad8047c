"""From the sculpt to the buck: fill, base, vents, channels, fixings, lettering."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold

from buckwright.errors import JobError, MeshError
from buckwright.forming.sheets.materials import SheetMaterial
from buckwright.job import Job
from buckwright.make.airing import Aired, air, contact_times, pockets_of
from buckwright.make.clock import Clock
from buckwright.make.foretelling import Foretold, foretell
from buckwright.make.keeping import Keys, Store
from buckwright.make.kept import KeptFill
from buckwright.make.looking import Looked
from buckwright.make.standing import Standing
from buckwright.mesh.triangles import Mesh
from buckwright.mesh.units import doubtful_size
from buckwright.relief.columns import Columns
from buckwright.shape.base.base_plan import BasePlan, BaseSettings, build_base, plan_base
from buckwright.shape.fill.draft_fill import Fill, fill_draft
from buckwright.shape.fill.plan_cells import CellSizes
from buckwright.shape.outline import solid_outline
from buckwright.shape.solid import as_mesh, as_solid, single_body, united
from buckwright.shape.solid_height import solid_height
from buckwright.shape.underside.channels import ChannelPlan, channel_outline, channel_tools, plan_channels
from buckwright.shape.underside.engraving import Engraving, engraving_tools, plan_engraving
from buckwright.shape.underside.fixings import FixingPlan, FixingSettings, fixing_tools, plan_fixings
from buckwright.shape.vents.drilling import drilled
from buckwright.shape.vents.placing import VentPlan
from buckwright.survey.pockets.find_pockets import Pockets

__all__ = ["Shaped", "shape_blank", "shape_buck"]

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
    """The buck and everything that was decided for it.

    The solid of `fill` is not kept; `fill_mark` tells its faces in `blank` and `solid`.
    """

    fill: Fill
    fill_mark: int
    blank: Manifold
    base: BasePlan
    aired: Aired
    channels: ChannelPlan
    fixings: FixingPlan
    engraving: Engraving | None
    solid: Manifold
    dropped: int
    foretold: Foretold | None

    def base_dict(self) -> dict[str, Any]:
        """The section `base` of the report."""
        return self.base.to_dict() | {
            "channels": self.channels.to_dict(),
            "fixings": self.fixings.to_dict(),
            "engraving": None if self.engraving is None else self.engraving.to_dict(),
        }


def shape_buck(
    standing: Standing,
    looked: Looked,
    job: Job,
    material: SheetMaterial,
    clock: Clock,
    store: Store,
    keys: Keys,
) -> Shaped:
    """Make the buck, taking from the store what is kept of its stages.

    Raises
    ------
    SolidError
        A solid operation failed, or the buck falls into pieces.
    JobError
        Measures that do not fit together.
    MeshError
        The sculpt is too small to be true.
    """
    fill, base, blank, dropped = _blank(standing, looked, job, clock, store, keys)
    mesh = as_mesh(blank)
    pockets = store.recall("pockets", keys.pockets, lambda: _pockets(mesh, base, job, clock))
    foretold = None if job.forecast.quality == "off" else foretell(mesh, base, job, clock)
    with clock.step("placing vents"):
        columns = Columns(mesh)
        last = foretold.touched_last if foretold is not None and job.forecast.place_vents else None
        aired = air(pockets, columns, base, standing, job, material, touched_last=last)
        channels, fixings, engraving = _underside(aired.plan, base, columns, job)
    with clock.step("drilling"):
        extra = (*channel_tools(channels), *fixing_tools(fixings))
        if engraving is not None:
            extra = (*extra, *engraving_tools(engraving))
        solid = drilled(blank, aired.plan, extra=extra)
    if foretold is not None and aired.plan.vents:
        foretold = replace(foretold, evacuation_s=contact_times(foretold.forecast, aired.plan, job))
    if last is not None and foretold is not None:
        tops = np.array([vent.top_mm for vent in aired.plan.vents], np.float64).reshape(-1, 3)
        foretold = foretold.drained(base, job, clock, tops)
    return Shaped(
        fill=fill.figures,
        fill_mark=fill.mark,
        blank=blank,
        base=base,
        aired=aired,
        channels=channels,
        fixings=fixings,
        engraving=engraving,
        solid=solid,
        dropped=dropped,
        foretold=foretold,
    )


def shape_blank(
    standing: Standing, looked: Looked, job: Job, clock: Clock, store: Store, keys: Keys
) -> tuple[BasePlan, Manifold]:
    """The buck before anything is drilled into it; errors as for `shape_buck`."""
    _, base, blank, _ = _blank(standing, looked, job, clock, store, keys)
    return base, blank


def _blank(
    standing: Standing, looked: Looked, job: Job, clock: Clock, store: Store, keys: Keys
) -> tuple[KeptFill, BasePlan, Manifold, int]:
    _refuse_specks(standing.mesh)
    fill: KeptFill = store.recall("fill", keys.fill, lambda: _filled(standing, looked, job, clock))
    with clock.step("building the base"):
        base, blank, dropped = _based(fill.body.solid, standing, job, looked.wanted_deg)
    return fill, base, blank, dropped


def _pockets(mesh: Mesh, base: BasePlan, job: Job, clock: Clock) -> Pockets | None:
    if not job.vents.enabled:
        return None
    with clock.step("finding pockets of air"):
        return pockets_of(mesh, base, job, clock)


def _refuse_specks(mesh: Mesh) -> None:
    doubt = doubtful_size(mesh.size)
    if doubt is not None and float(mesh.size.max()) < _LEAST_SCULPT_MM:
        raise MeshError(f"no buck can be made of this. {doubt}")


def _filled(standing: Standing, looked: Looked, job: Job, clock: Clock) -> KeptFill:
    """Fill what the sheet cannot leave.

    The solid of the sculpt is made from its mesh, and what comes next goes on from the arrays of the filled
    one, whether they were kept or not: a solid that was put together again merges other coplanar faces.
    """
    extent = float(standing.mesh.size[:2].max())
    cell = job.fill.cell_mm or max(extent / _CELLS_ACROSS, _LEAST_CELL_MM)
    with clock.step("filling undercuts"):
        fill = fill_draft(
            standing.mesh,
            Columns(standing.mesh) if looked.columns is None else looked.columns,
            looked.reach.drafts_deg,
            wall_deg=looked.wanted_deg,
            mode=job.fill.mode,
            keep_tight=job.fill.keep_tight,
            locked_faces=looked.locked_faces,
            tolerance_mm=job.fill.tolerance_mm,
            settings=CellSizes(cell_mm=cell, wall_cell_mm=cell / 2.0, rim_cell_mm=cell / 4.0),
            solid=as_solid(standing.mesh),
            tick=clock.tick,
        )
        return KeptFill.of(fill)


def _based(
    filled: Manifold, standing: Standing, job: Job, draft_deg: float
) -> tuple[BasePlan, Manifold, int]:
    """Plan and build the base, set the filled sculpt on it."""
    chosen = job.base
    foot = solid_outline(filled.slice(_FOOT_SLICE_MM))
    plan = plan_base(
        foot,
        part_height_mm=float(filled.bounding_box()[5]),
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
    body = filled.translate((0.0, 0.0, plan.foot_z_mm))
    blank, dropped = single_body(united([body, build_base(plan)]), sliver_mm3=_SLIVER_MM3)
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
        lambda points: solid_height(columns, points),
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
