"""What there is to say of the underside."""

from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, counted

if TYPE_CHECKING:
    from buckwright.shape.underside.planning import Underside

__all__ = ["KINDS", "about_underside"]

PLATEN_HOLES = FindingKind(
    slug="platen-holes",
    title="Channels and platen holes",
    why="Air leaves the buck through the channels; where they meet a hole of the platen it is drawn off at once.",
    rule="A hole counts when a channel of the set width reaches it inside the outline of the base.",
    source="geometry",
    remedies=("Move the buck on the platen.", "Check the places of the holes."),
)
UNDERSIDE = FindingKind(
    slug="underside",
    title="Underside not as asked",
    why="Fixings and letters need solid that channels and bores have left.",
    rule="Fixings and letters keep a wall of 2 mm to channels, bores and each other.",
    source="house rule",
    remedies=("Ask for fewer fixings.", "Make the base larger.", "Shorten the name."),
)
KINDS = (PLATEN_HOLES, UNDERSIDE)


def about_underside(underside: "Underside", *, platen_holes: int, vents: int) -> list[Finding]:
    """Findings about channels, fixings and lettering.

    Parameters
    ----------
    underside : as planned
    platen_holes : how many holes of the platen were named
    vents : how many vents were made

    Returns
    -------
    list of Finding
    """
    notes = [
        UNDERSIDE.found("note", note[0].upper() + note[1:].rstrip(".") + ".") for note in underside.notes
    ]
    if not platen_holes or not vents:
        return notes
    if not underside.channels.holes:
        words = f"No channel can reach any of the {counted(platen_holes, 'hole')} of the platen."
        advice = (
            "The channels lead to the edge of the base instead. Move the buck, or check the holes' places."
        )
        return [PLATEN_HOLES.found("warn", words, advice, setting="vents.platen_holes_mm"), *notes]
    words = f"The channels lead to {counted(underside.channels.holes, 'hole')} of the platen under the base."
    return [PLATEN_HOLES.found("note", words), *notes]
