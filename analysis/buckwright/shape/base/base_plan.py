"""The base under a sculpt: riser, root fillet, and flange or plinth, as plan and as solid.

The riser continues the part's outline downwards, so that the trim line lies above the flare: a sheet never
forms a sharp inside corner against the platen but flares out to it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from manifold3d import CrossSection, Manifold

from buckwright.errors import JobError
from buckwright.shape.base.blocks import Block, block_feet, block_solid, skirts
from buckwright.shape.base.plates import ARC_STEPS, SPARE_MM, plate_levels
from buckwright.shape.base.settings import BaseSettings
from buckwright.shape.loft import grown, loft
from buckwright.shape.outline import footprint, rounded_inside, without_holes
from buckwright.shape.solid import united
from buckwright.stand import Stand

__all__ = ["BasePlan", "build_base", "plan_base"]

OVERLAP_MM = 0.02
"""How far the base reaches up around the part's foot, so that the union is no mere contact."""

LEAST_DRAFT_DEG = 0.5
"""Upright walls of the base would grip the sheet; house rule."""
LEAST_ROOF_MM = 2.0
"""Solid left above a channel in the flange; common practice, no source."""
BASE_DETAIL_MM = 0.02
"""How far the base's outline may leave the part's: less than a print shows, and a third fewer faces."""

_REPORTED = (
    "foot_z_mm",
    "trim_z_mm",
    "flange_z_mm",
    "draft_deg",
    "riser_mm",
    "flange_mm",
    "land_mm",
    "fillet_mm",
    "edge_mm",
    "trim_step_mm",
)


@dataclass(frozen=True, slots=True, eq=False)
class BasePlan:
    """A base, decided but not yet built. Heights count from the platen, z = 0.

    Attributes
    ----------
    levels : (z_mm, outline) of the loft, top first
    style : 'flange', 'plinth', or 'female' for the block of a female mould
    foot_z_mm : where the part's foot plane stands
    trim_z_mm : height of the trim line (the top of the riser)
    top_z_mm : top of the base, a hair above the foot
    flange_z_mm : upper side of the plate; equal to `foot_z_mm` for a plinth
    draft_deg : draft of the base's walls
    riser_mm, flange_mm, land_mm, fillet_mm, edge_mm, trim_step_mm : as built
    part : outline of the part at its foot
    underside : outline on the platen
    foot_ring : line along which the wall meets the land, where air is caught; None without a land
    size_mm : length, width and height of the base
    dead_mm : height over the platen that the sheet does not reach
    plate : outline of the plate's top before its edge is rounded
    over : whether the part stands upside down in it, as in a female mould
    notes : plain words about what differs from the settings
    blocks : take-up blocks on the flange
    """

    levels: tuple[tuple[float, CrossSection], ...]
    style: str
    foot_z_mm: float
    trim_z_mm: float
    top_z_mm: float
    flange_z_mm: float
    draft_deg: float
    riser_mm: float
    flange_mm: float
    land_mm: float
    fillet_mm: float
    edge_mm: float
    trim_step_mm: float
    part: CrossSection
    underside: CrossSection
    foot_ring: CrossSection | None
    size_mm: tuple[float, float, float]
    dead_mm: float
    plate: CrossSection
    notes: tuple[str, ...]
    over: bool = False
    blocks: tuple[Block, ...] = ()

    @property
    def stand(self) -> Stand:
        """How the part stands in it."""
        return Stand(self.foot_z_mm, self.over)

    @property
    def judged_above_mm(self) -> float:
        """Height above which the sheet must come off: the trim line, or all of a female mould."""
        return 0.0 if self.over else self.trim_z_mm

    def to_dict(self) -> dict[str, Any]:
        """The entry `base` in report.json.

        Returns
        -------
        dict : style, measures, mm, and notes
        """
        figures = {name: round(float(getattr(self, name)), 4) for name in _REPORTED}
        size = [round(float(side), 3) for side in self.size_mm]
        return {"style": self.style, **figures, "size_mm": size, "notes": list(self.notes)}


@dataclass(frozen=True, slots=True)
class _Sizes:
    """The measures of a base once the rules have filled in what was not set."""

    riser: float
    flange: float
    land: float
    fillet: float
    edge: float


def plan_base(
    outline: CrossSection,
    *,
    part_height_mm: float,
    sheet_mm: float,
    draft_deg: float,
    settings: BaseSettings | None = None,
    channel_mm: float = 2.5,
    edge_mm: float | None = None,
    dead_mm: float = 0.0,
    given: CrossSection | None = None,
    blocks: Sequence[Block] = (),
) -> BasePlan:
    """Decide the measures of the base under a part.

    Parameters
    ----------
    outline : CrossSection, mm; one piece without holes: what the part covers at its foot (see
        `outline.solid_outline`)
    part_height_mm : float, over 0 to 2000, height of the part above its foot
    sheet_mm : float, 0 < sheet_mm <= 12
    draft_deg : float, 0..45, wanted draft; at least 0.5 degree is given
    settings : BaseSettings, optional
        The table [base]; None among its measures takes the rule below. The trim step stands outwards,
        because a groove round the wall would be an undercut of its own: its lower lip looks up into the sheet
        that has been drawn into it.
    channel_mm : float
        Depth of the channels that the flange must hold.
    edge_mm : float, optional
        Rounding of the plate's upper edge.
    dead_mm : float
        Height over the platen that the sheet does not reach, as where a frame stands on a gasket.
    given : CrossSection, mm, optional
        Outline on the platen instead of footprint and land. Where it comes too near to the part it is
        widened, and parts of it that do not touch the base are left out; the notes say so.
    blocks : sequence of Block
        Take-up blocks; the flange reaches under them. A plinth has no flange for them.

    Raises
    ------
    JobError
        A size out of range, or measures that do not fit together.

    Notes
    -----
    Rules for what is not set (all common practice without a source unless one is named):

    - concave corners of riser and plate, seen from above, are rounded by as much as the walls spread
    downwards: a sheet follows no sharper ones, and the walls keep their draft there;
    - root fillet: sheet + 1.5 mm (a male form's radius is the sheet + 1..2 mm: Bridgewood's guide);
    - edge rounding: the greater of 1.5 mm and 1.5 sheets;
    - riser: 12 mm, more where the fillet, four sheets of flare and 4 mm to the trim line need it, or 8 % of a
    tall part; what of it the sheet does not reach is added;
    - flange thickness: 5 % of the part's height + two sheets + 1 mm, at least 5 mm and at least the channel +
    2 mm; a plinth has its riser's height added to it;
    - land: 10 % of the part's height, between 10 and 25 mm.
    """
    chosen = settings or BaseSettings()
    _check_numbers(part_height_mm, sheet_mm, draft_deg)
    draft = max(draft_deg, LEAST_DRAFT_DEG)
    sizes, notes = _sizes(chosen, part_height_mm, sheet_mm, channel_mm, edge_mm, dead_mm)
    slope = float(np.tan(np.deg2rad(draft)))
    if chosen.style == "flange":
        levels, ring, plate, widened = _flange_levels(outline, chosen, sizes, draft, given, blocks)
    elif blocks:
        raise JobError("take-up blocks stand on a flange: set the style of the base to flange")
    else:
        levels, ring, plate, widened = _plinth_levels(outline, chosen, sizes, slope, given)
    if widened:
        notes.append("the given outline of the base was widened where it came too close to the part")
    foot = sizes.flange + sizes.riser
    x0, y0, x1, y1 = levels[-1][1].bounds()
    size = (float(x1 - x0), float(y1 - y0), foot)
    return BasePlan(
        levels=tuple(levels),
        style=chosen.style,
        foot_z_mm=foot,
        trim_z_mm=foot,
        top_z_mm=levels[0][0],
        flange_z_mm=sizes.flange if chosen.style == "flange" else foot,
        draft_deg=draft,
        riser_mm=sizes.riser,
        flange_mm=sizes.flange,
        land_mm=sizes.land,
        fillet_mm=sizes.fillet,
        edge_mm=sizes.edge,
        trim_step_mm=chosen.trim_step_mm,
        part=outline,
        underside=levels[-1][1],
        foot_ring=ring,
        size_mm=size,
        dead_mm=dead_mm,
        plate=plate,
        notes=(*notes, *_size_note(size, chosen.platen_mm)),
        blocks=tuple(blocks),
    )


def build_base(plan: BasePlan) -> Manifold:
    """Build the solid of a plan, standing on z = 0 with a flat underside.

    Parameters
    ----------
    plan : from `plan_base`

    Returns
    -------
    Manifold : closed, mm

    Raises
    ------
    SolidError
        The levels do not make a solid.
    """
    upright = [block_solid(block, edge_mm=plan.edge_mm) for block in plan.blocks]
    return united([loft(plan.levels), *upright]) if upright else loft(plan.levels)


def _check_numbers(part_height_mm: float, sheet_mm: float, draft_deg: float) -> None:
    if not 0 < part_height_mm <= 2000:
        raise JobError(f"the part's height must lie between 0 and 2000 mm, got {part_height_mm:g}")
    if not 0 < sheet_mm <= 12:
        raise JobError(f"the sheet must be between 0 and 12 mm thick, got {sheet_mm:g}")
    if not 0 <= draft_deg <= 45:
        raise JobError(f"the draft must lie between 0 and 45 degrees, got {draft_deg:g}")


def _sizes(
    chosen: BaseSettings,
    part_height_mm: float,
    sheet_mm: float,
    channel_mm: float,
    edge_mm: float | None,
    dead_mm: float,
) -> tuple[_Sizes, list[str]]:
    """Fill in the rules of `plan_base`, then trim what does not fit together."""

    def given(value: float | None, rule: float) -> float:
        return rule if value is None else float(value)

    fillet = given(chosen.fillet_mm, sheet_mm + 1.5)
    edge = given(edge_mm, max(1.5, 1.5 * sheet_mm))
    plate = max(5.0, 0.05 * part_height_mm + 2 * sheet_mm + 1.0, channel_mm + LEAST_ROOF_MM)
    flange = given(chosen.flange_mm, plate)
    least = max(12.0, fillet + 4 * sheet_mm + 4.0, 0.08 * part_height_mm)
    riser = given(chosen.riser_mm, least + max(dead_mm - flange, 0.0))
    land = given(chosen.land_mm, float(np.clip(0.1 * part_height_mm, 10.0, 25.0)))
    notes = []
    if flange < channel_mm + LEAST_ROOF_MM:
        raise JobError(
            f"a flange of {flange:g} mm cannot hold channels {channel_mm:g} mm deep: "
            f"make it at least {channel_mm + LEAST_ROOF_MM:g} mm, or the channels shallower"
        )
    if fillet > 0.8 * riser and chosen.style == "flange":
        notes.append(f"root fillet {fillet:.1f} mm reduced to {0.8 * riser:.1f} mm to fit the riser")
        fillet = 0.8 * riser
    block = flange if chosen.style == "flange" else flange + riser
    if edge > 0.6 * block:
        notes.append(f"edge rounding {edge:.1f} mm reduced to {0.6 * block:.1f} mm to fit the plate")
        edge = 0.6 * block
    return _Sizes(riser, flange, land, fillet, edge), notes


def _flange_levels(
    outline: CrossSection,
    chosen: BaseSettings,
    sizes: _Sizes,
    draft_deg: float,
    given: CrossSection | None,
    blocks: Sequence[Block],
) -> tuple[list[tuple[float, CrossSection]], CrossSection, CrossSection, bool]:
    """Riser wall, fillet and plate as distances outward from the part's outline, top first."""
    foot = sizes.flange + sizes.riser
    draft = np.deg2rad(draft_deg)
    slope = float(np.tan(draft))
    # Without a ledge the walls of part and riser would coincide: 0.05 mm keeps the union clear of that.
    ledge = max(chosen.trim_step_mm, 0.05)
    profile = [(foot + OVERLAP_MM, ledge)]
    tangent_z = sizes.flange + sizes.fillet * (1 - np.sin(draft))
    tangent_x = ledge + (foot + OVERLAP_MM - tangent_z) * slope
    centre_x = tangent_x + sizes.fillet * np.cos(draft)
    if sizes.fillet > 0:
        for turn in np.linspace(draft, np.pi / 2, ARC_STEPS + 1):
            x = centre_x - sizes.fillet * np.cos(turn)
            profile.append((sizes.flange + sizes.fillet * (1 - np.sin(turn)), float(x)))
    else:
        profile.append((sizes.flange, float(tangent_x)))
    foot_x = profile[-1][1]
    wall = rounded_inside(outline, foot_x + SPARE_MM).simplify(BASE_DETAIL_MM)
    levels = [(z, without_holes(grown(wall, x))) for z, x in profile]
    plate, widened = _ground(
        wall,
        chosen,
        land_mm=foot_x + max(sizes.land, sizes.edge + 0.5),
        least_mm=foot_x + sizes.edge + 0.5,
        given=None if given is None else _at_the_top(given, sizes.flange, sizes.edge, slope),
    )
    ring = levels[-1][1]
    if blocks:
        plate += skirts(outline, blocks, flange_mm=sizes.flange, edge_mm=sizes.edge)
        plate = without_holes(plate)
        ring = without_holes(ring + block_feet(blocks, sizes.flange))
    # The plate's top and the fillet's foot share one height, so the flat between them is one level
    # lower by the smallest step that a loft can tell apart.
    levels[-1] = (sizes.flange + 1e-3, levels[-1][1])
    return levels + plate_levels(plate, sizes.flange, sizes.edge, slope), ring, plate, widened


def _plinth_levels(
    outline: CrossSection, chosen: BaseSettings, sizes: _Sizes, slope: float, given: CrossSection | None
) -> tuple[list[tuple[float, CrossSection]], CrossSection | None, CrossSection, bool]:
    """One block under the part; with a land its top edge is rounded, without one it is the trim step."""
    foot = sizes.flange + sizes.riser
    ledge = max(chosen.trim_step_mm, 0.05)
    land = max(sizes.land, ledge)
    height = foot + OVERLAP_MM
    plate, widened = _ground(
        outline,
        chosen,
        land_mm=land,
        least_mm=land if given is None else ledge,
        given=None if given is None else _at_the_top(given, height, min(sizes.edge, land / 2), slope),
    )
    # A step only as wide as the ledge stays sharp: it guides the knife along the trim line.
    edge = min(sizes.edge, land / 2) if land > 2 * ledge else 0.0
    ring = grown(outline, 0.05) if land > 2.0 else None
    return plate_levels(plate, height, edge, slope), ring, plate, widened


def _ground(
    outline: CrossSection,
    chosen: BaseSettings,
    *,
    land_mm: float,
    least_mm: float,
    given: CrossSection | None,
) -> tuple[CrossSection, bool]:
    """Outline of the plate's top before its edge is rounded, and whether a given one had to be widened."""
    if given is None:
        return footprint(outline, kind=chosen.footprint, land_mm=land_mm, corner_mm=chosen.corner_mm), False
    least = grown(outline, least_mm)
    # A corner that the rounding cuts by less is not worth a note.
    widened = (least - given).area() > 1e-3 * least.area()
    pieces = [without_holes(piece) for piece in (given + least).decompose()]
    return max(pieces, key=lambda piece: float((piece ^ least).area())), widened


def _at_the_top(given: CrossSection, height_mm: float, edge_mm: float, slope: float) -> CrossSection:
    """Where the walls over an outline on the platen end."""
    tangent_z = height_mm - edge_mm * (1 - np.sin(np.arctan(slope)))
    return grown(given, -float(tangent_z * slope))


def _size_note(size: tuple[float, float, float], platen_mm: tuple[float, float] | None) -> list[str]:
    if platen_mm is None:
        return []
    long_side, short_side = max(size[:2]), min(size[:2])
    if long_side <= max(platen_mm) and short_side <= min(platen_mm):
        return []
    return [
        f"the base is {size[0]:.0f} x {size[1]:.0f} mm, "
        f"larger than the platen of {platen_mm[0]:g} x {platen_mm[1]:g} mm: "
        "make the land narrower, the riser lower or the part smaller"
    ]
