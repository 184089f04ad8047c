"""What there is to say of a group."""

from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, counted

if TYPE_CHECKING:
    from buckwright.workshop.group.planning import GroupPlan

__all__ = ["KINDS", "about_group"]

GROUP = FindingKind(
    slug="group-too-large",
    title="Too many for one pull",
    why="Bucks that stand too close leave the sheet no way down between them: it bridges, webs and thins.",
    rule="Between two bucks 1.75 times their height, at least 25 mm; to the frame the gap of one buck.",
    source="resin suppliers and makers, from memory, could not be confirmed; 25 mm between half-masks was read",
    remedies=(
        "Form the number that fits.",
        "Give a narrower spacing, no less than the height, and expect webs.",
        "Use a larger opening.",
    ),
)
CLOSE = FindingKind(
    slug="group-too-close",
    title="Bucks stand close",
    why="Between bucks nearer than they are high the sheet seldom reaches the platen.",
    rule="The spacing is at least the height.",
    source="resin suppliers, from memory, could not be confirmed",
    remedies=("Give more spacing.", "Form fewer in one pull."),
)
ALONE = FindingKind(
    slug="group-forecast",
    title="Forecast of one buck alone",
    why="Neighbours take sheet from one another, and webs stand between them.",
    rule="The forecast knows one buck in one frame.",
    source="how the forecast is made",
    remedies=(
        "Expect less thickness and more webs than it shows.",
        "Measure the first pull between the bucks.",
    ),
)
KINDS = (GROUP, CLOSE, ALONE)


def about_group(plan: "GroupPlan", *, height_mm: float, forecast: bool) -> list[Finding]:
    """Findings about a group.

    Parameters
    ----------
    plan : of the group
    height_mm : of the bucks
    forecast : whether there is one

    Returns
    -------
    list of Finding
    """
    found = []
    if not plan.fits:
        sizes = list(dict.fromkeys((max(sides), min(sides)) for sides in plan.needs_mm))
        needs = " or ".join(f"{long_side:g} x {short_side:g}" for long_side, short_side in sizes[:2])
        width, depth = plan.opening_mm
        opening = f"{width:g} mm, round" if plan.round_opening else f"{width:g} x {depth:g} mm"
        found.append(
            GROUP.found(
                "stop",
                f"{counted(plan.copies, 'buck')} need {needs} mm with {plan.spacing_mm:g} mm between them and "
                f"{plan.edge_mm:g} mm to the frame; the opening is {opening}: {plan.most} fit.",
                f"Form {plan.most} in one pull."
                if plan.most
                else "Form one at a time, or use a larger opening.",
                setting="group.copies",
            )
        )
    if plan.copies > 1 and plan.spacing_mm < height_mm:
        found.append(
            CLOSE.found(
                "warn",
                f"The bucks stand {plan.spacing_mm:g} mm apart and are {height_mm:.0f} mm tall.",
                "Give at least the height, better 1.75 times it.",
                setting="group.spacing_mm",
            )
        )
    if plan.fits and forecast:
        found.append(
            ALONE.found(
                "note",
                f"The forecast shows one buck alone, not {plan.copies}: webs between them are not in it.",
                setting="group.copies",
            )
        )
    return found
