"""A female mould: what a buck's sheet would touch down to the flange, turned over and cut out of a block.

So there is a wall between the trim line and the land, the rim is rounded as a root fillet is, and the walls
of the cavity have the draft of the part and its fill. There is no ledge at the trim line: in a cavity it
would be an inside corner that traps air. The block stands on the platen with drafted walls and a rounded
upper edge, for the sheet drapes over it first.
"""

from dataclasses import replace

import attrs
import numpy as np
from manifold3d import CrossSection, Manifold
from numpy.typing import NDArray

from buckwright.errors import JobError
from buckwright.shape.base.base_plan import BASE_DETAIL_MM, BasePlan
from buckwright.shape.base.building import Blank, planned
from buckwright.shape.base.plates import plate_levels
from buckwright.shape.base.settings import BaseSettings
from buckwright.shape.loft import grown, loft
from buckwright.shape.outline import without_holes
from buckwright.shape.solid import SLIVER_MM3, single_body, united

__all__ = ["LEAST_FLOOR_MM", "build_mould"]

LEAST_FLOOR_MM = 6.0
"""Under the deepest place: six or more printed layers each side of a channel; house rule."""
_DEPTH_SHARE = 0.1
"""A deeper cavity stands on a thicker floor: house rule."""
_ROOF_MM = 2.0  # over a channel, as in a flange
_ROUNDER_MM = 1.5  # a convex radius is the sheet and 1 to 2 mm: Bridgewood's guide, as in a base
_STRAIGHT_MM = 2.0
"""Of straight wall between the trim line and the rounded rim, to cut along: house rule."""
_LEAST_WALL_MM = 5.0  # of the block beside the widest place of the cavity; house rule
_SEEN_MM2 = 1.0
_OVER_MM = 1.0  # the cavity's tool reaches over the land, so that no skin is left
_CLEAR_MM = 2.0  # the land stands at least so far over the clamp plane; house rule


def build_mould(
    filled: Manifold,
    outline_xy: NDArray[np.float64] | None,
    *,
    base: BaseSettings,
    floor_mm: float | None,
    sheet_mm: float,
    draft_deg: float,
    channel_mm: float,
    dead_mm: float = 0.0,
) -> Blank:
    """Make the female mould of a filled sculpt.

    Parameters
    ----------
    filled : the sculpt with its fill, standing on z = 0
    outline_xy : (N, 2) corners of the block's land around the standing sculpt, mm; None follows the settings
    base : its riser, fillet and land as of a buck; the block takes the place of the flange. A riser
        that is left out is as high as the fillet and 2 mm: every millimetre makes the part thinner
    floor_mm : thickness under the deepest place; None takes a tenth of the depth, at least 6 mm, the channels
        and 2 mm, and what lifts the land over the clamp plane
    sheet_mm, draft_deg : thickness of the sheet, wanted draft
    channel_mm : depth of the channels that the floor must hold
    dead_mm : height over the platen that the sheet does not reach

    Returns
    -------
    Blank

    Raises
    ------
    JobError
        Measures that do not fit together.
    SolidError
        The block cannot be built.
    """
    plan = planned(
        filled,
        outline_xy,
        base=attrs.evolve(
            base, style="flange", flange_mm=None, trim_step_mm=0.0, riser_mm=_riser(base, sheet_mm)
        ),
        sheet_mm=sheet_mm,
        draft_deg=draft_deg,
        channel_mm=channel_mm,
        dead_mm=0.0,
    )
    depth = float(filled.bounding_box()[5]) + plan.riser_mm
    floor = _floor(floor_mm, depth, channel_mm, dead_mm)
    high = floor + depth
    body = filled.translate((0.0, 0.0, plan.foot_z_mm))
    slope = float(np.tan(np.deg2rad(plan.draft_deg)))
    tool = _turned(united([body, _wall(plan, slope)]), plan.flange_z_mm + high)
    plate = _mirrored(_plate(plan, filled))
    levels = tuple(plate_levels(plate, high, plan.edge_mm, slope))
    block = loft(levels)
    solid, dropped = single_body(block - tool, sliver_mm3=SLIVER_MM3)
    x0, y0, x1, y1 = levels[-1][1].bounds()
    block_plan = replace(
        plan,
        levels=levels,
        style="female",
        foot_z_mm=high - plan.riser_mm,
        trim_z_mm=high - plan.riser_mm,
        top_z_mm=high,
        flange_z_mm=0.0,
        flange_mm=floor,
        part=_mirrored(plan.part),
        underside=levels[-1][1],
        foot_ring=None,
        size_mm=(float(x1 - x0), float(y1 - y0), high),
        dead_mm=dead_mm,
        plate=plate,
        over=True,
    )
    return Blank(block_plan, solid, dropped)


def _riser(base: BaseSettings, sheet_mm: float) -> float:
    """From the trim line to the land."""
    if base.riser_mm is not None:
        return base.riser_mm
    return (sheet_mm + _ROUNDER_MM if base.fillet_mm is None else base.fillet_mm) + _STRAIGHT_MM


def _floor(given: float | None, depth: float, channel_mm: float, dead_mm: float) -> float:
    needed = channel_mm + _ROOF_MM
    if given is not None and given < needed:
        raise JobError(
            f"a floor of {given:g} mm cannot hold channels {channel_mm:g} mm deep: make it at least "
            f"{needed:g} mm, or the channels shallower"
        )
    lifted = dead_mm + _CLEAR_MM - depth if dead_mm else 0.0
    return max(LEAST_FLOOR_MM, needed, _DEPTH_SHARE * depth, lifted) if given is None else given


def _wall(plan: BasePlan, slope: float) -> Manifold:
    """Riser and fillet without the flange; on they go, so that the turned body reaches over the land."""
    levels = [level for level in plan.levels if level[0] > plan.flange_z_mm]
    below = grown(levels[-1][1], _OVER_MM * slope)
    return loft([*levels, (plan.flange_z_mm - _OVER_MM, below)])


def _plate(plan: BasePlan, filled: Manifold) -> CrossSection:
    """The outline of the land: that of a flange, wider where the cavity is wider than its mouth."""
    held = without_holes(grown(filled.project().simplify(BASE_DETAIL_MM), max(plan.land_mm, _LEAST_WALL_MM)))
    outside = held - plan.plate
    return plan.plate if outside.area() < _SEEN_MM2 else without_holes(plan.plate + held)


def _turned(body: Manifold, z_mm: float) -> Manifold:
    """Turned over about the x axis, what was at z = 0 then at `z_mm`."""
    return body.rotate((180.0, 0.0, 0.0)).translate((0.0, 0.0, z_mm))


def _mirrored(outline: CrossSection) -> CrossSection:
    """An outline as it lies when its body is turned over about the x axis."""
    return outline.mirror((0.0, 1.0))
