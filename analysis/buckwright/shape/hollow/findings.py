"""What there is to say of a hollow buck."""

from buckwright.findings import Finding, FindingKind

__all__ = ["KINDS", "about_hollow"]

FLAT = FindingKind(
    slug="nothing-to-hollow",
    title="Too flat to be hollow",
    why="A cavity lower than 5 mm saves next to nothing and has a weak roof.",
    rule="Cavities keep the wall from the whole surface and are at least 5 mm high.",
    source="house rule",
    remedies=("Print it solid, with infill.", "Make the wall thinner."),
)
KINDS = (FLAT,)


def about_hollow(*, found: bool, wall_mm: float) -> list[Finding]:
    """Findings about the hollow.

    Parameters
    ----------
    found : whether there was room for a cavity
    wall_mm : thickness of the shell

    Returns
    -------
    list of Finding
    """
    if found:
        return []
    return [
        FLAT.found(
            "note",
            f"The buck is nowhere high enough for a cavity under a wall of {wall_mm:g} mm: it stays solid.",
            "Print it solid, or make the wall thinner.",
            setting="hollow.wall_mm",
        )
    ]
