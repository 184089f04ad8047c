"""How take-up blocks are tried out: a base with them, and the folds of the sheet on it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from buckwright.shape.base.blocks import Block
from buckwright.shape.base.building import Blank
from buckwright.shape.take_up.seeking import Fold, Room
from buckwright.shape.take_up.settings import TakeUpSettings

__all__ = ["Quality", "Trying", "room_of"]

type Quality = Literal["preview", "fine"]


@dataclass(frozen=True, slots=True, eq=False)
class Trying:
    """How blocks are tried out.

    Attributes
    ----------
    blank_with : blocks -> the filled sculpt on its base with them
    folds_on : (blank, quality) -> folds that cross the trim line
    quality : of the forecast that is asked for; None for none
    least_web_mm : a shorter fold is no web and gets no block
    told : called with the share that is done
    raised : riser in mm -> the same on a base with that riser; None where nobody asks
    """

    blank_with: Callable[[tuple[Block, ...]], Blank]
    folds_on: Callable[[Blank, Quality], list[Fold]]
    quality: Quality | None
    least_web_mm: float
    told: Callable[[float], None]
    raised: "Callable[[float], Trying] | None" = None

    def webs(self, folds: list[Fold]) -> list[Fold]:
        """Folds that are long enough to be told as webs."""
        return [fold for fold in folds if fold.length_mm >= self.least_web_mm]


def room_of(blank: Blank, settings: TakeUpSettings) -> Room:
    """Where blocks may stand on a base.

    Parameters
    ----------
    blank : without blocks
    settings : the table [take_up]

    Returns
    -------
    Room
    """
    assert blank.plan is not None
    return Room(
        wall=blank.plan.levels[0][1],
        trim_mm=blank.plan.trim_z_mm,
        floor_mm=blank.plan.flange_z_mm,
        top_mm=blank.plan.trim_z_mm - settings.below_trim_mm,
        draft_deg=settings.draft_deg,
        radius_mm=settings.radius_mm,
    )
