"""The filled sculpt set on its base: the blank, before anything is drilled into it."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold
from numpy.typing import NDArray

from buckwright.errors import JobError
from buckwright.mesh.triangles import Mesh
from buckwright.shape.base.base_plan import BasePlan, build_base, plan_base
from buckwright.shape.base.blocks import Block
from buckwright.shape.base.settings import BaseSettings
from buckwright.shape.outline import solid_outline
from buckwright.shape.solid import SLIVER_MM3, as_mesh, single_body, united

__all__ = ["Blank", "build_blank", "planned"]

# The foot outline is taken this far above the foot plane, clear of rounding at the flat bottom.
_FOOT_SLICE_MM = 0.01
# Nothing stands on a smaller base: house rule.
_LEAST_BASE_MM2 = 1.0


@dataclass(frozen=True, eq=False)
class Blank:
    """A buck without vents, channels and fixings.

    Attributes
    ----------
    plan : of the base; None for a buck that was read from a file
    solid : standing on z = 0; None for a buck that was read from a file
    dropped : slivers that were left out
    given : mesh of a buck that was read from a file
    """

    plan: BasePlan | None
    solid: Manifold | None
    dropped: int = 0
    given: Mesh | None = None

    @cached_property
    def mesh(self) -> Mesh:
        """Its triangles."""
        if self.given is not None:
            return self.given
        assert self.solid is not None
        return as_mesh(self.solid)


def build_blank(
    filled: Manifold,
    outline_xy: NDArray[np.float64] | None,
    *,
    base: BaseSettings,
    sheet_mm: float,
    draft_deg: float,
    channel_mm: float,
    dead_mm: float = 0.0,
    blocks: Sequence[Block] = (),
) -> Blank:
    """Plan and build the base, and set the filled sculpt on it.

    Parameters
    ----------
    filled : the sculpt with its fill, standing on z = 0
    outline_xy : (N, 2) corners of the base on the platen, mm; None follows the settings
    base : settings
    sheet_mm, draft_deg : thickness of the sheet, wanted draft
    channel_mm : depth of the channels that the flange must hold
    dead_mm : height over the platen that the sheet does not reach
    blocks : take-up blocks on the flange

    Returns
    -------
    Blank

    Raises
    ------
    JobError
        Measures that do not fit together.
    SolidError
        The base cannot be built, or the buck falls into pieces.
    """
    plan = planned(
        filled,
        outline_xy,
        base=base,
        sheet_mm=sheet_mm,
        draft_deg=draft_deg,
        channel_mm=channel_mm,
        dead_mm=dead_mm,
        blocks=blocks,
    )
    body = filled.translate((0.0, 0.0, plan.foot_z_mm))
    solid, dropped = single_body(united([body, build_base(plan)]), sliver_mm3=SLIVER_MM3)
    return Blank(plan, solid, dropped)


def planned(
    filled: Manifold,
    outline_xy: NDArray[np.float64] | None,
    *,
    base: BaseSettings,
    sheet_mm: float,
    draft_deg: float,
    channel_mm: float,
    dead_mm: float,
    blocks: Sequence[Block] = (),
) -> BasePlan:
    """Plan the base; parameters and errors as `build_blank`."""
    return plan_base(
        solid_outline(filled.slice(_FOOT_SLICE_MM)),
        part_height_mm=float(filled.bounding_box()[5]),
        sheet_mm=sheet_mm,
        draft_deg=draft_deg,
        settings=base,
        channel_mm=channel_mm,
        dead_mm=dead_mm,
        given=None if outline_xy is None else _given_outline(outline_xy),
        blocks=blocks,
    )


def _given_outline(corners: NDArray[np.float64]) -> CrossSection:
    # lines that cross enclose what either way round encloses
    outline = CrossSection([corners], FillRule.NonZero)
    if outline.area() < _LEAST_BASE_MM2:
        raise JobError(
            f"outline_mm encloses only {outline.area():.3g} mm2 seen down the pull; draw it around the part"
        )
    return outline
