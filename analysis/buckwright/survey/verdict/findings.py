"""What there is to say of the part on the finished buck."""

from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, Severity, at_words, counted

if TYPE_CHECKING:
    from buckwright.survey.shortfall import DraftShortfall
    from buckwright.survey.surveying import PartRelease

__all__ = ["BUCK_DRAFT", "KINDS", "LOCKS", "STILL_TRAPPED", "about_draft", "about_verdict"]

LOCKS = FindingKind(
    slug="part-locks",
    title="The part locks on the buck",
    why="The cold part would have to be cut or broken off, and the buck may go with it.",
    rule=(
        "The buck above the trim line is surveyed anew. A region locks when passing it strains the cold part, at its "
        "forecast thickness, by more than the low end of the sheet's range."
    ),
    source="snap-fit formulas for small strains; strain ranges from the table of sheets (buckwright sheets)",
    remedies=(
        "Fill undercuts (fill.mode 'full' or 'locked').",
        "Use a finer fill grid, or smooth the sculpt there.",
        "Tilt the pull.",
        "Split the form.",
    ),
)
STILL_TRAPPED = FindingKind(
    slug="still-trapped",
    title="Still trapped after filling",
    why="A full fill should leave nothing to flex past; a spot that is left scuffs the part when it is pulled.",
    rule="Told when a spot needs more than 0.1 mm of sideways flex.",
    source="house rule",
    remedies=("Use a finer fill grid.", "Smooth the sculpt there."),
)
BUCK_DRAFT = FindingKind(
    slug="buck-draft",
    title="Too little draft on the buck",
    why="The sheet shrinks onto steep walls and grips them, whoever made the wall: sculptor or fill.",
    rule=(
        "The buck above the trim line is surveyed anew. Told of places of 1 mm2 or more whose draft is short by more "
        "than half a degree, where a full fill should have left none; a warning from 0.5 % of the surface."
    ),
    source="house rule; the wanted draft is that of the sheet (buckwright sheets), more for texture",
    remedies=("Use a finer fill grid.", "Lower the tolerance of the fill.", "Smooth the sculpt there."),
)
KINDS = (LOCKS, STILL_TRAPPED, BUCK_DRAFT)

# As of the sculpt: less of the surface than this is not worth a warning. House rule.
_WORTH_A_WARNING = 0.005


def about_verdict(release: "PartRelease", *, fill_mode: str, free_mm: float, lift_mm: float) -> list[Finding]:
    """Findings about the release of the part.

    Parameters
    ----------
    release : what was found on the buck
    fill_mode : 'full', 'locked' or 'none'
    free_mm : sideways flex that counts as none
    lift_mm : height over the platen from which the regions count, the trim line
    """
    if release.locked:
        worst = next(r for r, v in zip(release.regions, release.releases) if v.verdict == "locked")
        words = (
            f"The part will lock on this buck in {counted(release.locked, 'place')}; the worst needs "
            f"{worst.sideways_mm:.1f} mm of sideways flex at {at_words(worst.centre_mm, lift_mm)}."
        )
        x, y, z = worst.centre_mm
        at = (x, y, z + lift_mm)
        if fill_mode == "full":
            advice = "Use a finer fill grid, or smooth the sculpt there."
            return [LOCKS.found("stop", words, advice, at_mm=at, setting="fill.cell_mm")]
        advice = "Fill all undercuts, or those that lock; or tilt the pull, or split the form there."
        return [LOCKS.found("stop", words, advice, at_mm=at, setting="fill.mode")]
    if fill_mode == "full" and release.widest_mm > free_mm:
        words = f"One spot still needs {release.widest_mm:.2f} mm of sideways flex after filling."
        return [STILL_TRAPPED.found("warn", words, "Use a finer fill grid.", setting="fill.cell_mm")]
    return []


def about_draft(short: "DraftShortfall", *, filled: bool, lift_mm: float) -> list[Finding]:
    """Findings about the draft of the buck.

    Parameters
    ----------
    short : what falls short of the wanted draft
    filled : whether the fill was to give every wall its draft
    lift_mm : height over the platen from which the places count, the trim line

    Returns
    -------
    list of Finding : one, or none
    """
    if not filled or not short.places:
        return []
    worst = short.places[0]
    x, y, z = worst.centre_mm
    words = (
        f"{short.area_mm2:.0f} mm2 of the buck ({short.share:.1%}) in {counted(len(short.places), 'place')} has "
        f"less than the {short.wanted_deg:g} degrees of draft wanted; the largest, {worst.area_mm2:.0f} mm2 with "
        f"{max(worst.least_deg, 0.0):.1f} degrees, is at {at_words(worst.centre_mm, lift_mm)}."
    )
    severity: Severity = "warn" if short.share >= _WORTH_A_WARNING else "note"
    advice = "Use a finer fill grid, or smooth the sculpt there."
    at = (x, y, z + lift_mm)
    return [BUCK_DRAFT.found(severity, words, advice, at_mm=at, setting="fill.cell_mm")]
