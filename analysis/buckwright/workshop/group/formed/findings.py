"""What there is to say of the sheet over a group."""

from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, counted

if TYPE_CHECKING:
    from buckwright.workshop.group.formed.stage import GroupFormed

__all__ = ["KINDS", "about_formed"]

WEBS = FindingKind(
    slug="webs-between-bucks",
    title="Webs between bucks",
    why="Between neighbours the sheet has to come down twice; what it cannot draw in it folds.",
    rule="No web of the forecast over the group lies nearer to two bases than the spacing between them.",
    source="the forecast over the whole group, in preview; its criterion of webs is this tool's own",
    remedies=(
        "Give more spacing, 1.75 to 2 times the height.",
        "Form fewer in one pull, or one at a time with a reducing set.",
        "Set take-up blocks between them, below the trim line.",
    ),
)
BRIDGES = FindingKind(
    slug="bridges-between-bucks",
    title="Bridges between bucks",
    why="Where the sheet stays up between two bucks, their feet do not form, and the flare reaches the trim line.",
    rule="Half-way between two bases the sheet comes down to the trim line at least.",
    source="the forecast over the whole group, in preview",
    remedies=("Give more spacing.", "Raise the trim line: a higher riser."),
)
THINNER = FindingKind(
    slug="thinner-in-a-group",
    title="Thinner in a group",
    why="Neighbours take sheet from one another: each has less of it to draw from than alone in its frame.",
    rule="The weakest spot over the group is at least 0.9 of that of one buck alone.",
    source="two forecasts side by side; the share is a judgement",
    remedies=("Give more spacing.", "Use thicker sheet, or form fewer in one pull."),
)
KINDS = (WEBS, BRIDGES, THINNER)

_SHARE = 0.9


def about_formed(formed: "GroupFormed", alone_mm: float | None) -> list[Finding]:
    """Findings about the forecast over a group.

    Parameters
    ----------
    formed : the forecast over all bucks
    alone_mm : weakest spot of one buck alone; None where that is not known
    """
    found = []
    if formed.between:
        longest = max(formed.between, key=lambda web: web.length_mm)
        words = (
            f"{counted(len(formed.between), 'web')} between the bucks, the longest {longest.length_mm:.0f} mm, "
            f"up to {longest.height_mm:.0f} mm over the platen."
        )
        found.append(WEBS.found("warn", words, "Give more spacing.", setting="group.spacing_mm"))
    highest = formed.bridges[0] if formed.bridges else None
    if highest is not None and formed.trim_mm is not None and highest.lowest_mm > formed.trim_mm:
        words = (
            f"Between bucks {highest.first} and {highest.second}, {highest.apart_mm:.0f} mm apart, the sheet stays "
            f"{highest.lowest_mm:.0f} mm over the platen; the trim line is at {formed.trim_mm:.0f} mm."
        )
        found.append(BRIDGES.found("warn", words, "Give more spacing.", setting="group.spacing_mm"))
    weakest = formed.forecast.figures.weakest_mm
    if alone_mm is not None and weakest < _SHARE * alone_mm:
        words = f"Over the group the weakest spot is {weakest:.2f} mm, alone {alone_mm:.2f} mm."
        found.append(THINNER.found("note", words, "Give more spacing.", setting="group.spacing_mm"))
    return found
