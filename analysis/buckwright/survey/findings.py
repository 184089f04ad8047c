"""What there is to say of the survey of a sculpt."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, Severity, at_words, counted, percent
from buckwright.stand import Stand

if TYPE_CHECKING:
    from buckwright.survey.surveying import Surveyed

__all__ = ["CRUMB_SHARE", "KINDS", "RELEASES", "TIGHT", "UNDERCUTS", "about_survey", "crumbs_of"]

UNDERCUTS = FindingKind(
    slug="undercuts",
    title="Trapped areas of the sculpt",
    why="Where the sculpt is wider above than below, the stiff formed part cannot come straight off.",
    rule=(
        "A face is trapped when something stands above it along the pull. A region locks when passing it would "
        "strain the cold part by more than the low end of the sheet's range."
    ),
    source="geometry; strain ranges from the table of sheets (buckwright sheets)",
    remedies=(
        "Fill the undercuts (fill.mode 'full', or 'locked' for those that lock).",
        "Tilt the pull.",
        "Sink the sculpt to its widest outline.",
        "Split the form.",
    ),
)
RELEASES = FindingKind(
    slug="releases",
    title="Nothing is trapped",
    why="The part comes straight off the sculpt.",
    rule="No face has anything standing above it along the pull.",
    source="geometry",
)
TIGHT = FindingKind(
    slug="tight-faces",
    title="Less draft than wanted",
    why="The sheet shrinks onto steep walls and grips them; the part is hard to pull off and may be scuffed.",
    rule="A face with some draft, but less than the wanted angle, is tight.",
    source="the wanted draft is that of the sheet (buckwright sheets), more for texture",
    remedies=(
        "Let the fill give those walls their draft (fill.mode 'full', fill.keep_tight off).",
        "Accept them where the wall is low.",
    ),
)
KINDS = (UNDERCUTS, RELEASES, TIGHT)

# Less of the surface than this is not worth a line: house rule.
_WORTH_TELLING = 0.005
CRUMB_SHARE = 0.25
"""Of the sheet's thickness: a region that reaches sideways by less is counted apart, and a place on the buck that is
smaller every way, or has less area than a square of that side, holds no sheet. The sharpest radius of a good
vacuum is about the sheet's own thickness. House rule, on the careful side."""


def about_survey(
    surveyed: "Surveyed",
    *,
    sheet: str,
    sheet_mm: float,
    strain_limit: float,
    strain_mark: str,
    fill_mode: str,
    keep_tight: bool,
    stand: Stand,
) -> list[Finding]:
    """Findings about the sculpt as it is.

    Parameters
    ----------
    surveyed : the survey
    sheet : title of the sheet
    sheet_mm : its thickness
    strain_limit, strain_mark : what the sheet tolerates at least (ratio), and how well that is known
    fill_mode, keep_tight : settings of the fill
    stand : how the sculpt stands in the buck
    """
    tolerates = f"{sheet} tolerates about {strain_limit:.1%} strain{_known_how(strain_mark)}"
    return [
        *_undercuts(surveyed, sheet_mm, tolerates, fill_mode, stand),
        *_tight(surveyed, sheet, fill_mode, keep_tight),
    ]


def _known_how(mark: str) -> str:
    return " (figure from memory)" if mark == "from memory" else ""


def _undercuts(
    surveyed: "Surveyed", sheet_mm: float, tolerates: str, fill_mode: str, stand: Stand
) -> list[Finding]:
    regions, releases = surveyed.undercuts.regions, surveyed.releases
    if not regions:
        return [RELEASES.found("note", "Nothing is trapped: the part comes straight off the sculpt.")]
    crumbs = crumbs_of([region.sideways_mm for region in regions], sheet_mm=sheet_mm)
    verdicts = [release.verdict for release, crumb in zip(releases, crumbs, strict=True) if not crumb]
    worst = regions[0]
    locked = verdicts.count("locked")
    at = stand.place(worst.centre_mm)
    strain = max((release.strain for release in releases), default=0.0)
    words = (
        f"{'Before fill, the' if fill_mode == 'full' else 'The'} sculpt has "
        f"{counted(len(verdicts), 'trapped region')}: {locked} locked, "
        f"{verdicts.count('flexes off')} can be flexed off, {verdicts.count('comes off')} release freely"
        f"{_crumbs(sum(crumbs), CRUMB_SHARE * sheet_mm)}. "
        f"The worst needs {worst.sideways_mm:.1f} mm of sideways flex at {at_words(at)} "
        f"and up to {strain:.1%} strain; {tolerates}."
    )
    if fill_mode == "full":
        advice = "Draft fill removes them; the pictures of the buck show where."
        return [UNDERCUTS.found("note", words, advice, at_mm=at)]
    severity: Severity = "warn" if any(one.verdict == "locked" for one in releases) else "note"
    advice = "Fill the locked areas, tilt the pull, split the form, or flatten the sculpt there."
    return [UNDERCUTS.found(severity, words, advice, at_mm=at, setting="fill.mode")]


def crumbs_of(sideways_mm: Sequence[float], *, sheet_mm: float) -> list[bool]:
    """Which regions are counted apart, as crumbs; none where there are only such.

    Examples
    --------
    >>> crumbs_of([3.0, 0.2], sheet_mm=1.0), crumbs_of([0.2], sheet_mm=1.0)
    ([False, True], [False])
    """
    crumbs = [sideways < CRUMB_SHARE * sheet_mm for sideways in sideways_mm]
    return [False] * len(crumbs) if all(crumbs) else crumbs


def _crumbs(count: int, shallow_mm: float) -> str:
    if not count:
        return ""
    return f", and {counted(count, 'crumb')} less than {shallow_mm:.2g} mm deep, a quarter of the sheet's thickness"


def _tight(surveyed: "Surveyed", sheet: str, fill_mode: str, keep_tight: bool) -> list[Finding]:
    share = surveyed.states.tight_share
    if share < _WORTH_TELLING:
        return []
    words = (
        f"{percent(share)} of the surface has some draft, but less than the {surveyed.wanted_deg:g} degrees wanted "
        f"for {sheet}."
    )
    if fill_mode != "full":
        return [TIGHT.found("note", words, "A full draft fill would correct them.", setting="fill.mode")]
    if keep_tight:
        advice = "They stay as sculpted. Turn off Keep Tight Faces to let the fill correct them."
    else:
        advice = "Draft fill corrects them. Turn on Keep Tight Faces to leave them as sculpted."
    return [TIGHT.found("note", words, advice, setting="fill.keep_tight")]
