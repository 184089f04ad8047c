"""Take-up blocks that were given or sought, and what the forecast says with and without them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.shape.base.blocks import Block
from buckwright.shape.take_up.raising import ENOUGH, Raised, higher_riser
from buckwright.shape.take_up.seeking import Fold, Trial, gains, seek_blocks, sum_of
from buckwright.shape.take_up.settings import TakeUpSettings
from buckwright.shape.take_up.trying import Trying, room_of

__all__ = ["TakenUp", "as_given", "as_sought"]

_GIVEN_RADIUS_MM = 4.0  # of a block whose radius nobody says: house rule


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenUp:
    """Blocks that stay, and what the forecast says with and without them.

    Attributes
    ----------
    blocks : in the buck's frame
    given : whether they were given
    too_low : how many were given that do not rise over the flange
    webs : webs that cross the trim line without blocks
    before_mm, after_mm : length of all folds that cross the trim line, without and with the blocks; None
        without a forecast
    over_before_mm, over_after_mm : what of that is above the trim line
    trials : what was tried
    raised : a higher riser on which webs are half as long; None where none was found, or none is needed
    """

    blocks: tuple[Block, ...]
    given: bool
    too_low: int = 0
    webs: int = 0
    before_mm: float | None = None
    after_mm: float | None = None
    over_before_mm: float | None = None
    over_after_mm: float | None = None
    trials: tuple[Trial, ...] = ()
    raised: Raised | None = None

    @property
    def helps(self) -> bool:
        """Whether the forecast has shorter webs with the blocks, and no more of them above the trim line."""
        if self.before_mm is None or self.after_mm is None:
            return False
        return self.after_mm < self.before_mm and (self.over_after_mm or 0.0) <= (self.over_before_mm or 0.0)

    @property
    def halves(self) -> bool:
        """Whether no more than half of the webs is left."""
        if self.before_mm is None or self.after_mm is None:
            return False
        return self.after_mm <= ENOUGH * self.before_mm

    def to_dict(self) -> dict[str, Any]:
        """The section `take_up` of the report."""
        return {
            "given": self.given,
            "webs": self.webs,
            "web_length_without_mm": self.before_mm,
            "web_length_mm": self.after_mm,
            "above_trim_without_mm": self.over_before_mm,
            "above_trim_mm": self.over_after_mm,
            "blocks": [
                {
                    "at_mm": [one.x_mm, one.y_mm, one.top_mm],
                    "radius_mm": one.radius_mm,
                    "draft_deg": one.draft_deg,
                }
                for one in self.blocks
            ],
            "tried": [
                {
                    "offset_mm": one.offset_mm,
                    "radius_mm": one.radius_mm,
                    "top_mm": one.top_mm,
                    "blocks": one.blocks,
                    "web_length_mm": one.length_mm,
                    "above_trim_mm": one.over_mm,
                }
                for one in self.trials
            ],
            "higher_riser": None if self.raised is None else self.raised.to_dict(),
        }


def as_given(
    tops: NDArray[np.float64], radii: NDArray[np.float64], settings: TakeUpSettings, trying: Trying
) -> TakenUp:
    """Blocks just where they are given.

    Parameters
    ----------
    tops : (B, 3) float64, mm, their tops over the foot of the part
    radii : (B,) float64, mm; 0 takes that of the settings
    settings : the table [take_up]
    trying : how they are tried out

    Returns
    -------
    TakenUp
    """
    bare = trying.blank_with(())
    assert bare.plan is not None
    lift, usual = bare.plan.foot_z_mm, settings.radius_mm or _GIVEN_RADIUS_MM
    blocks = tuple(
        Block(x_mm=x, y_mm=y, top_mm=z + lift, radius_mm=radius or usual, draft_deg=settings.draft_deg)
        for (x, y, z), radius in zip(tops.tolist(), radii.tolist(), strict=True)
        if z + lift > bare.plan.flange_z_mm
    )
    too_low = len(tops) - len(blocks)
    if trying.quality is None:
        return TakenUp(blocks=blocks, given=True, too_low=too_low)
    before = trying.folds_on(bare, trying.quality)
    after = trying.folds_on(trying.blank_with(blocks), trying.quality) if blocks else before
    return replace(_told(blocks, before, after, trying), given=True, too_low=too_low)


def as_sought(settings: TakeUpSettings, trying: Trying, *, flange: bool) -> TakenUp:
    """Blocks where webs cross the trim line, kept where they help.

    Parameters
    ----------
    settings : the table [take_up]
    trying : how they are tried out
    flange : whether the base has a flange for them

    Returns
    -------
    TakenUp : without blocks where none helps, and where nothing is forecast
    """
    if trying.quality is None or not flange:
        return TakenUp(blocks=(), given=False)
    bare = trying.blank_with(())
    assert bare.plan is not None
    before = trying.folds_on(bare, "preview")

    def try_out(blocks: Sequence[Block]) -> list[Fold]:
        return trying.folds_on(trying.blank_with(tuple(blocks)), "preview")

    found = seek_blocks(trying.webs(before), before, room_of(bare, settings), try_out, trying.told)
    blocks, after = found.blocks, list(found.folds)
    raised = None
    if trying.webs(before) and sum_of(after, "length_mm") > ENOUGH * sum_of(before, "length_mm"):
        raised = higher_riser(settings, trying, before, riser_mm=bare.plan.riser_mm)
    if trying.quality == "fine":
        before = trying.folds_on(bare, "fine")
        after = trying.folds_on(trying.blank_with(blocks), "fine") if blocks else before
        blocks, after = (blocks, after) if gains(after, before) else ((), before)
    return _told(blocks, before, after, trying, trials=found.trials, raised=raised)


def _told(
    blocks: tuple[Block, ...],
    before: Sequence[Fold],
    after: Sequence[Fold],
    trying: Trying,
    *,
    trials: tuple[Trial, ...] = (),
    raised: Raised | None = None,
) -> TakenUp:
    return TakenUp(
        blocks=blocks,
        given=False,
        webs=len(trying.webs(list(before))),
        before_mm=sum_of(before, "length_mm"),
        after_mm=sum_of(after, "length_mm"),
        over_before_mm=sum_of(before, "over_mm"),
        over_after_mm=sum_of(after, "over_mm"),
        trials=trials,
        raised=raised,
    )
