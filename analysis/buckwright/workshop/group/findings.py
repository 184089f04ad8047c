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
KINDS = (GROUP, CLOSE)


def about_group(plan: "GroupPlan", *, height_mm: float) -> list[Finding]:
    """Findings about a group.

    Parameters
    ----------
    plan : of the group
    height_mm : of the tallest buck

    Returns
    -------
    list of Finding
    """
    found = []
    if not plan.fits:
        sizes = list(dict.fromkeys((max(sides), min(sides)) for sides in plan.needs_mm))
        needs = " or ".join(f"{_mm(long_side)} x {_mm(short_side)}" for long_side, short_side in sizes[:2])
        width, depth = plan.opening_mm
        opening = f"{width:g} mm, round" if plan.round_opening else f"{width:g} x {depth:g} mm"
        found.append(
            GROUP.found(
                "stop",
                f"{_bucks(plan)} need {needs} mm with {plan.spacing_mm:g} mm between them and "
                f"{plan.edge_mm:g} mm to the frame; the opening is {opening}: {_that_fit(plan)}.",
                f"Form {_that_fit(plan).removesuffix(' fit')} in one pull."
                if plan.most or any(one.most for one in plan.beside)
                else "Form one at a time, or use a larger opening.",
                setting="group.others" if plan.beside else "group.copies",
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
    return found


def _mm(side: float) -> str:
    return f"{side:.2f}".rstrip("0").rstrip(".")


def _bucks(plan: "GroupPlan") -> str:
    if not plan.beside:
        return counted(plan.copies, "buck")
    each = ", ".join(f"{one.copies} of {one.name}" for one in plan.beside)
    return f"{counted(plan.count, 'buck')} ({plan.copies} of this one, {each})"


def _that_fit(plan: "GroupPlan") -> str:
    if not plan.beside:
        return f"{plan.most} fit"
    kinds = [("this one", plan.most), *((one.name, one.most) for one in plan.beside)]
    each = ", ".join(f"{most} of {name}" for name, most in kinds if most)
    return f"{each} fit" if each else "0 fit"
