"""What there is to say of the edge and of holes near it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, counted

if TYPE_CHECKING:
    from buckwright.workshop.edge.holes import PartHole
    from buckwright.workshop.edge.profile import PrintedEdge

__all__ = ["EDGE_KINDS", "HOLE_KINDS", "about_holes", "about_line", "about_printed"]

NEAR = FindingKind(
    slug="hole-near-edge",
    title="Hole near the edge",
    why="A strap or a rivet tears a narrow rim, and thin formed sheet tears soonest.",
    rule="A hole is drilled at least 10 mm from the trim line, and at least twice its diameter or half of it "
    "and 10 mm, whichever is less.",
    source="makers' practice, read: twice the diameter, at least 8 to 10 mm; the rim of wide holes: house rule",
    remedies=("Move the hole away from the edge.", "Back it with a washer or a patch."),
)
BELOW = FindingKind(
    slug="hole-trimmed-off",
    title="Hole below the trim line",
    why="What lies below the trim line is cut off.",
    rule="Every place that is drilled lies above the trim line.",
    source="geometry",
    remedies=("Move the hole up.", "Lower the trim line."),
)
OFF = FindingKind(
    slug="hole-off-buck",
    title="Hole beside the buck",
    why="A place that is not on the sculpt is moved to the nearest one, which may not be the one that was meant.",
    rule="The given place lies within 5 mm of the buck.",
    source="house rule",
    remedies=("Give the place on the sculpt's surface, in the sculpt's own coordinates.",),
)
RISES = FindingKind(
    slug="trim-line-rises",
    title="The trim line is not level",
    why="A height gauge marks a level line only; where the line rises over a body it has to be carried over from paper.",
    rule="Told where the trim line follows the body and rises by half a millimetre or more.",
    source="judgement",
    remedies=("Lay the paper strip on the ledge and cut along its upper edge.", "Set body.trim to 'level'."),
)
TIGHT = FindingKind(
    slug="printed-edge-too-tight",
    title="Printed edge cannot follow",
    why="Where the edge turns more tightly than the profile is wide, its legs would stand in one another's slot.",
    rule="The middle of each leg stands clear of the slot all along the trim line.",
    source="geometry",
    remedies=(
        "Cut the profile there and mitre its ends.",
        "Make its wall thinner, or round the corner of the trim line.",
        "Use the flat edge.",
    ),
)
HOLE_KINDS = (NEAR, BELOW, OFF)
EDGE_KINDS = (TIGHT, RISES)

_FAR_MM = 5.0
_SETTINGS = {"rivet": "edge.rivets_mm", "slot": "edge.slots_mm", "fan": "edge.fans_mm"}


def about_holes(holes: "Sequence[PartHole]", distances_mm: Sequence[float]) -> list[Finding]:
    """Findings about holes in the part.

    Parameters
    ----------
    holes : on the buck; numbered as on the drilling template
    distances_mm : of each to the trim line, negative below it

    Returns
    -------
    list of Finding
    """
    from buckwright.workshop.edge.holes import HOLE_NAMES, least_edge_mm

    found = []
    for n, (hole, away) in enumerate(zip(holes, distances_mm, strict=True), 1):
        name, setting = f"Hole {n} ({HOLE_NAMES[hole.kind]})", _SETTINGS[hole.kind]
        x, y, z = (float(v) for v in hole.at_mm)
        if hole.off_mm > _FAR_MM:
            words = f"{name} was given {hole.off_mm:.0f} mm beside the buck, and was moved onto it."
            found.append(OFF.found("warn", words, "Check its place.", at_mm=(x, y, z), setting=setting))
        if away < 0.0:
            words = f"{name} lies below the trim line and is cut off."
            found.append(BELOW.found("warn", words, "Move it up.", at_mm=(x, y, z), setting=setting))
        elif away < least_edge_mm(hole):
            words = f"{name} is {away:.1f} mm from the trim line; at least {least_edge_mm(hole):.0f} mm is wanted."
            found.append(
                NEAR.found("warn", words, "Move it away from that line.", at_mm=(x, y, z), setting=setting)
            )
    return found


def about_printed(edges: "Sequence[PrintedEdge]") -> list[Finding]:
    """Findings about printed edges.

    Parameters
    ----------
    edges : outside and round openings

    Returns
    -------
    list of Finding
    """
    found = []
    for edge in edges:
        places = edge.tight_mm
        if not len(places) and not edge.handles:
            continue
        where = f"at {counted(len(places), 'place')}" if len(places) else "everywhere"
        words = f"The printed edge cannot follow the trim line {where}: a leg is left out there."
        if edge.handles:
            words += f" It has {counted(edge.handles, 'opening')} through its legs."
        at = tuple(float(v) for v in places[0]) if len(places) else None
        found.append(
            TIGHT.found("note", words, "Cut it there and mitre the ends.", at_mm=at, setting="edge.profile")  # type: ignore[arg-type]
        )
    return found


def about_line(rises_mm: float, *, profile: str) -> list[Finding]:
    """Findings about a trim line that follows a body.

    Parameters
    ----------
    rises_mm : by how much it rises; 0 where it is level
    profile : the printed edge that is asked for, or 'off'
    """
    if rises_mm <= 0.0:
        return []
    words = f"The trim line follows the body and rises by up to {rises_mm:.1f} mm over its level places."
    if profile != "off":
        words += " The printed edge is made for a level line only and was left out."
    advice = "Lay the paper strip on the ledge and cut along its upper edge."
    return [RISES.found("note" if profile == "off" else "warn", words, advice, setting="body.trim")]
