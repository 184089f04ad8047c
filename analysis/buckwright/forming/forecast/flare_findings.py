"""What there is to say of the flare at the trim line."""

from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, at_words
from buckwright.forming.forecast.thresholds import CLEAR_MM

if TYPE_CHECKING:
    from buckwright.forming.forecast.flare import Flare

__all__ = ["FLARED", "about_flare"]

FLARED = FindingKind(
    slug="flared-edge",
    title="The edge flares out",
    why="Near the flange the sheet leaves the wall in a curve; a part that is cut there ends in that curve.",
    rule="How far the forecast sheet is off the wall at the trim line; it should lie on it for 4 mm below.",
    source="forecast; the 4 mm, and that a riser is raised by no more than 15 mm for it: house rules",
    remedies=(
        "Raise the riser.",
        "Trim higher up the wall.",
        "Give the wall more draft or the frame more room.",
    ),
)

_MOST_RISE_MM = 15.0  # a riser is not raised by more only to lift the part out of the flare: house rule


def about_flare(flare: "Flare | None") -> list[Finding]:
    """Whether the part ends in the sheet's curve over the foot, or so near that a low cut would.

    Parameters
    ----------
    flare : None where there is no trim line

    Returns
    -------
    list of Finding
    """
    if flare is None:
        return []
    if not flare.matters:
        return _near_flare(flare)
    where = "" if flare.at_mm is None else f", most at {at_words(flare.at_mm)}"
    words = (
        f"At the trim line the sheet stands off the wall by up to {flare.stands_off_mm:.1f} mm, along "
        f"{flare.share:.0%} of its length{where}: the part's edge would flare out."
    )
    if flare.clear_mm is None or flare.clear_mm > _MOST_RISE_MM:
        advice = "Give the wall more draft or the frame more room, or trim higher up, clear of the flare."
        return [FLARED.found("note", words, advice, setting="forecast.gap_mm")]
    advice = f"Raise the riser by {flare.clear_mm:.1f} mm, and the edge lies on the wall."
    return [FLARED.found("note", words, advice, setting="base.riser_mm")]


def _near_flare(flare: "Flare") -> list[Finding]:
    """The edge lies on the wall, but with little to spare for where it is cut."""
    if flare.at_mm is None or flare.margin_mm is None:
        return []
    words = (
        f"The trim line is {flare.margin_mm:.1f} mm over the flare of the sheet, less than {CLEAR_MM:g} mm, "
        f"at {at_words(flare.at_mm)}: a cut a little low flares out there."
    )
    advice = f"Raise the riser by {CLEAR_MM - flare.margin_mm:.1f} mm, or cut on the line there."
    return [FLARED.found("note", words, advice, at_mm=flare.at_mm, setting="base.riser_mm")]
