"""What there is to say of a measurement."""

from buckwright.findings import Finding, FindingKind

__all__ = ["SCALED", "about_size"]

SCALED = FindingKind(
    slug="scaled-to-measure",
    title="Scaled to measure",
    why="What is worn or set over something must have one size exactly; all others follow.",
    rule="The sculpt is scaled evenly so that the measurement is what is wanted on the inside of the part. Shrinkage is allowed for as always; the sheet's thickness lies outside of it.",
    source="geometry; the girth is that of the convex outline, as a tape lies",
    remedies=("Try a slice on first: size.slice.", "Add room for padding to the wanted measurement."),
)


def about_size(factor: float, measured: str) -> list[Finding]:
    """Findings about scaling to a measurement.

    Parameters
    ----------
    factor : by which the sculpt was scaled for it; 1 where it was left as it is
    measured : what is measured now, in words
    """
    if factor == 1.0:
        return []
    return [SCALED.found("note", f"Scaled by {factor:.4g}, so that {measured}.", setting="size.wanted_mm")]
