"""What there is to say of halves."""

from dataclasses import replace
from math import isnan
from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, counted, percent
from buckwright.pose.findings import about_entry

if TYPE_CHECKING:
    from buckwright.pose.halves.planning import Halves

__all__ = ["GAIN", "KINDS", "LOCKS", "NAMES", "SEAM", "SEVERAL", "about_halves"]

NAMES = ("A", "B")

LOCKS = FindingKind(
    slug="half-locks",
    title="A half would still lock",
    why="A plane can only free what looks away from it on both sides. What turns back keeps holding the sheet.",
    rule="Each half is surveyed along its pull like a sculpt; regions that lock are counted.",
    source="geometry: surface that has other surface over it along the pull",
    remedies=(
        "Take another of the planes.",
        "Let the fill of that half's buck close it.",
        "For one deep place: leave it out of the buck and set it on the part as a piece of its own, or make it a loose insert that is drawn out sideways after the pull.",
    ),
)
SEAM = FindingKind(
    slug="seam-overlap",
    title="How the halves go together",
    why="Two thin edges glued butt to butt hold badly. A land that reaches over the other half gives glue or rivets something to hold on.",
    rule="The land stands out by the thickness that the other half's part has on average: that of the sheet times outline over formed area.",
    source="constant volume; the overlap of 6 mm is common practice, no source",
    remedies=("Set another overlap, or 0 for a butt seam with a strip behind it.",),
)
GAIN = FindingKind(
    slug="halving-gains",
    title="What halving is good for",
    why="A second buck is a second print and a seam to finish; it must be worth that.",
    rule="Share of the sculpt's detail that is hidden under fill, cut off or in clefts: in the best setup in one piece, and in two halves. Told as a warning where halving gains less than 5 points.",
    source="house rule",
    remedies=("Make one buck where halving gains little.",),
)
SEVERAL = FindingKind(
    slug="half-in-pieces",
    title="A half falls apart",
    why="A half of several bodies gives several bucks, each with a part of its own.",
    rule="Bodies of each half are counted.",
    source="geometry",
    remedies=("Take another plane.", "Leave the bodies on one base: the riser joins them."),
)
KINDS = (LOCKS, SEAM, GAIN, SEVERAL)

_LEAST_GAIN = 0.05


def about_halves(halves: "Halves") -> list[Finding]:
    """Findings about the plane that was taken."""
    # places of repairs are those of the sculpt's own axes, not of a buck: they are left out
    told = (*about_entry(halves.arrived.entered),)
    found = [*halves.arrived.findings, *(replace(one, at_mm=None) for one in told)]
    for name, half, surveyed in zip(NAMES, halves.halves, halves.surveys, strict=True):
        release = surveyed.release
        if release.locked:
            words = (
                f"Half {name} still locks in {counted(release.locked, 'place')}, "
                f"up to {release.widest_mm:.1f} mm sideways."
            )
            found.append(
                LOCKS.found(
                    "warn", words, "Take another plane, or let its fill close it.", setting="halves.plane"
                )
            )
        if half.bodies > 1:
            words = f"Half {name} is {counted(half.bodies, 'body', 'bodies')}."
            found.append(SEVERAL.found("warn", words, setting="halves.plane"))
    whole, hidden = halves.whole_hidden_share, halves.plane.hidden_share
    if not isnan(whole):
        words = (
            f"In one piece {percent(whole)} of the detail would be hidden, in two halves {percent(hidden)}."
        )
        little = whole - hidden < _LEAST_GAIN
        advice = "One buck may do." if little else ""
        found.append(GAIN.found("warn" if little else "note", words, advice))
    seam = halves.seam
    if seam.overlap_mm > 0.0:
        words = (
            f"Part A reaches {seam.overlap_mm:g} mm over part B; its land stands out by {seam.step_mm:.2f} mm, "
            f"the mean thickness of part B{_keys(seam.keys)}."
        )
        found.append(SEAM.found("note", words, setting="halves.overlap_mm"))
    return found


def _keys(count: int) -> str:
    return (
        f"; {counted(count, 'key')} fit them together one way only"
        if count
        else "; there is no room for keys"
    )
