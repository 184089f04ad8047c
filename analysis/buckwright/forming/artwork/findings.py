"""What there is to say of a print on the flat sheet."""

from buckwright.findings import Finding, FindingKind, percent

__all__ = ["KINDS", "about_artwork"]

LIMITS = FindingKind(
    slug="artwork-limits",
    title="Print on the sheet",
    why=(
        "The picture is drawn so that the forecast sheet carries it to its place. A real sheet that slides, is "
        "unevenly warm or lies askew in its frame carries it elsewhere."
    ),
    rule=(
        "The sheet is taken to stick where it touches, unless a friction is set; near folds, within three cells of "
        "the net, nothing is promised. Ink is taken to stretch with the sheet."
    ),
    source="this tool's own method (docs: print on the flat sheet)",
    remedies=(
        "Form one sheet with the test grid first, and compare it with the picture of how it lands.",
        "Keep lettering and sharp edges away from folds and off steep walls.",
        "Lay the sheet by its marks, the printed side where the settings say.",
    ),
)
KINDS = (LIMITS,)

_LITTLE = 0.002  # of the part; house rule


def about_artwork(folded_share: float, farthest_mm: float) -> list[Finding]:
    """Findings about a print.

    Parameters
    ----------
    folded_share : of the part's area near folds
    farthest_mm : how far a print on the part is carried sideways, at most

    Returns
    -------
    list of Finding
    """
    if folded_share > _LITTLE:
        words = f"Near folds ({percent(folded_share)} of the part) the print will not be where the picture shows it."
        return [LIMITS.found("warn", words, "Keep lettering away from them, or get rid of the folds first.")]
    words = f"The print moves by up to {farthest_mm:.0f} mm sideways on its way to the part."
    return [LIMITS.found("note", words, "Form a sheet with the test grid first.")]
