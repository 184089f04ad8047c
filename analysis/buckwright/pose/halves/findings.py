"""What there is to say of halves."""

from collections.abc import Sequence
from dataclasses import replace
from math import isnan
from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, counted, percent, rounded
from buckwright.pose.findings import about_entry, way_words
from buckwright.stand import Stand

if TYPE_CHECKING:
    from buckwright.pose.halves.cutting import Seam
    from buckwright.pose.halves.inserts import Insert
    from buckwright.pose.halves.planning import Halves
    from buckwright.pose.halves.proposing import Proposal

__all__ = [
    "GAIN",
    "HALVE",
    "INSERT",
    "KINDS",
    "LOCKS",
    "NAMES",
    "PROPOSALS",
    "SEAM",
    "SEVERAL",
    "about_halves",
    "about_inserts",
    "about_proposal",
]

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
HALVE = FindingKind(
    slug="halves-show-more",
    title="Halves would show more",
    why="What is buried under fill is lost. In two halves, each pulled off its own buck, it shows.",
    rule="Told where the part locks and a twentieth of the surface is trapped, or a quarter of the detail is hidden, and the best of a few planes hides at least 10 points less. `halves` looks more closely.",
    source="house rule; both measured as setups are",
    remedies=(
        "Halve the sculpt.",
        "Take another setup.",
        "Leave it to the fill.",
    ),
)
INSERT = FindingKind(
    slug="loose-insert",
    title="A place for an insert",
    why="One deep undercut need not decide over the whole part: what makes it can be a piece of its own.",
    rule="Told for up to three places that lock, reach 3 mm inwards or more and take at most a tenth of the surface. A loose insert must leave nine tenths of the place free on its way back; else only a bore is named.",
    source="geometry; the bounds are house rules",
    remedies=(
        "First choice: two halves.",
        "Second choice: a loose insert that stays in the part when it is pulled off, and is then drawn back.",
        "Or bore the place out of the buck and set that detail on the part as a piece of its own.",
    ),
)
INSIDE = FindingKind(
    slug="shell-closed",
    title="Shell closed for halving",
    why="The sheet lies on the outside. The inside of a helmet or a tube shows on no part, and as a hollow it would lock both halves.",
    rule="A hollow between the sculpt and its convex hull is closed where its walls have twice the area of its mouths or more, and the sculpt's volume over that area is at most 8 % of its size.",
    source="geometry; the bounds are house rules",
    remedies=("Close the sculpt yourself where it should end otherwise.",),
)
KINDS = (LOCKS, SEAM, GAIN, SEVERAL, INSIDE)
PROPOSALS = (HALVE, INSERT)

_LEAST_GAIN = 0.05


def about_halves(halves: "Halves") -> list[Finding]:
    """Findings about the plane that was taken."""
    # places of repairs are those of the sculpt's own axes, not of a buck: they are left out
    told = (*about_entry(halves.arrived.entered),)
    found = [*halves.arrived.findings, *(replace(one, at_mm=None) for one in told)]
    if halves.inside_mm3 > 0.0:
        words = f"The inside of the shell was closed ({halves.inside_mm3 / 1000.0:.0f} cm3): the sheet lies on the outside."
        found.append(INSIDE.found("note", words))
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
    for name in NAMES:
        found += [replace(one, at_mm=None) for one in about_inserts(halves.inserts_of(name), name)]
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
            f"the mean thickness of part B{_keys(seam)}."
        )
        found.append(SEAM.found("note", words, setting="halves.overlap_mm"))
    return found


def _keys(seam: "Seam") -> str:
    if seam.keys:
        return f"; {counted(seam.keys, 'key')} fit them together one way only"
    return "; there is no room for keys" if seam.key_mm > 0.0 else ""


def about_proposal(proposal: "Proposal", *, stand: Stand) -> list[Finding]:
    """Findings about what could be done in place of much fill.

    Parameters
    ----------
    proposal : from `propose`
    stand : how the sculpt stands in the buck
    """
    found, plane = [], proposal.plane
    if plane is not None:
        across = way_words(plane.normal)
        fill = sum(half.fill_volume_mm3 for half in plane.halves)
        words = (
            f"In one piece {percent(proposal.hidden_share)} of the detail is hidden, under "
            f"{_fill_words(proposal.fill_volume_mm3)} of fill; in two halves, cut across {across} at "
            f"{round(plane.offset_mm, 1) + 0.0:.1f} mm, about {percent(plane.hidden_share)}, under "
            f"{_fill_words(fill)}."
        )
        advice = "Halve the sculpt (buckwright halves)."
        found.append(HALVE.found("note", words, advice, setting="halves.normal"))
    for one in about_inserts(proposal.inserts):
        found.append(replace(one, at_mm=stand.place(one.at_mm or (0.0, 0.0, 0.0))))
    return found


def _fill_words(volume_mm3: float) -> str:
    return f"about {rounded(volume_mm3 / 1000.0)} cm3" if volume_mm3 >= 100.0 else "less than 0.1 cm3"


def about_inserts(inserts: "Sequence[Insert]", half: str = "") -> list[Finding]:
    """Findings about deep places that could be freed by themselves; their places as they were surveyed."""
    where = f"of half {half} " if half else ""
    found = []
    for one in inserts:
        words = (
            f"A place {where}locks by itself: {one.sideways_mm:.1f} mm inwards over "
            f"{rounded(one.area_mm2 / 100.0)} cm2, {rounded(one.volume_mm3 / 1000.0)} cm3 of room under it."
        )
        bore = f"a bore {one.bore_mm:.0f} mm wide and {one.depth_mm:.0f} mm deep down the pull"
        loose = (
            f"a loose insert, drawn back along {way_words(one.way)}, frees {percent(one.freed_share)} of it"
        )
        choice = f"{loose}; or {bore}" if one.can_be_loose else f"{bore}; a loose insert would be held"
        advice = f"Second choice beside halving: {choice}."
        found.append(INSERT.found("note", words, advice, at_mm=one.at_mm, setting="fill.mode"))
    return found
