"""What a higher riser would do where blocks do too little: webs end lower over the part's foot."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from buckwright.settings import settings_of
from buckwright.shape.base.settings import BaseSettings
from buckwright.shape.take_up.seeking import Fold, seek_blocks, sum_of
from buckwright.shape.take_up.settings import TakeUpSettings
from buckwright.shape.take_up.trying import Trying, room_of

__all__ = ["ENOUGH", "Raised", "higher_riser"]

_TIMES = (2.0, 3.0)
"""A low riser leaves a web no room to end below the trim line; what these do was measured on the two steep
parts of the guide."""
ENOUGH = 0.5
"""Of the webs' length: what is left then is worth a block, or a taller base. House rule."""
_LOW_BLOCKS = ((0.0, 0.08, 0.10), (0.0, 0.08, 0.12), (0.0, 0.08, 0.15))
"""Narrow and well below the trim line: what served best on a high riser."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Raised:
    """What a higher riser would do.

    Attributes
    ----------
    riser_mm : its height
    blocks : how many take-up blocks go with it; 0 where it does without
    length_mm : of all folds that cross the trim line then
    over_mm : what of that is above the trim line
    """

    riser_mm: float
    blocks: int
    length_mm: float
    over_mm: float

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json."""
        return {
            "riser_mm": self.riser_mm,
            "blocks": self.blocks,
            "web_length_mm": self.length_mm,
            "above_trim_mm": self.over_mm,
        }


def higher_riser(
    settings: TakeUpSettings, trying: Trying, before: Sequence[Fold], *, riser_mm: float
) -> Raised | None:
    """The least of a few higher risers on which webs are half as long as they are now.

    Parameters
    ----------
    settings : the table [take_up]
    trying : how blocks are tried out
    before : folds on the base as it is, without blocks
    riser_mm : of that base

    Returns
    -------
    Raised or None : None where none of them does
    """
    if trying.raised is None:
        return None
    highest_mm = settings_of(BaseSettings)["riser_mm"].high
    for times in _TIMES:
        riser = times * riser_mm
        if riser > highest_mm:
            break
        found = _on(settings, trying.raised(riser), riser)
        if _halves(found, before):
            return found
    return None


def _on(settings: TakeUpSettings, trying: Trying, riser_mm: float) -> Raised:
    """With blocks where they make the webs shorter."""
    bare = trying.blank_with(())
    folds = trying.folds_on(bare, "preview")
    found = seek_blocks(
        trying.webs(folds),
        folds,
        room_of(bare, settings),
        lambda blocks: trying.folds_on(trying.blank_with(tuple(blocks)), "preview"),
        lambda _share: None,
        arrangements=_LOW_BLOCKS,
    )
    return Raised(
        riser_mm=riser_mm,
        blocks=len(found.blocks),
        length_mm=sum_of(found.folds, "length_mm"),
        over_mm=sum_of(found.folds, "over_mm"),
    )


def _halves(found: Raised, before: Sequence[Fold]) -> bool:
    shorter = found.length_mm <= ENOUGH * sum_of(before, "length_mm")
    return shorter and found.over_mm <= sum_of(before, "over_mm")
