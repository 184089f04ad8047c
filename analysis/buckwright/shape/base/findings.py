"""What there is to say of the base."""

from buckwright.findings import Finding, FindingKind

__all__ = ["KINDS", "MEASURES", "about_base"]

MEASURES = FindingKind(
    slug="base-measures",
    title="The base is not as asked",
    why="Measures that do not fit together are changed so that a base can be built; the changes are told.",
    rule="A fillet is no larger than 0.8 of the riser, an edge rounding no larger than 0.6 of the plate.",
    source="house rule",
    remedies=(
        "Set the measures so that they fit together.",
        "Make the part or its land smaller for a small platen.",
    ),
)
KINDS = (MEASURES,)


def about_base(notes: tuple[str, ...]) -> list[Finding]:
    """Findings about a base plan.

    Parameters
    ----------
    notes : of the plan, each a sentence without its capital and full stop

    Returns
    -------
    list of Finding : one for each note
    """
    return [MEASURES.found("note", note[0].upper() + note[1:].rstrip(".") + ".") for note in notes]
