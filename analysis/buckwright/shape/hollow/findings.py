"""What there is to say of a hollow buck."""

from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, counted, verb

if TYPE_CHECKING:
    from buckwright.shape.hollow.cavity import Cavity

__all__ = ["KINDS", "about_cast", "about_no_hollow"]

FLAT = FindingKind(
    slug="nothing-to-hollow",
    title="Too flat to be hollow",
    why="A cavity lower than 5 mm saves next to nothing and has a weak roof.",
    rule="Cavities keep the wall from the whole surface and are at least 5 mm high.",
    source="house rule",
    remedies=("Print it solid, with infill.", "Make the wall thinner."),
)
CAST = FindingKind(
    slug="cast-before-use",
    title="To be cast before use",
    why="An empty shell without ribs is pushed in by the atmosphere, and its skin softens.",
    rule=(
        "Each cavity has a pour hole where its floor has most room and an air hole in each part of the floor, as far "
        "from the pour hole as it goes; channels keep a wall of their own, so that nothing runs into them."
    ),
    source="house rule",
    remedies=("Turn it over, level it and pour until the air holes are full.",),
)
KINDS = (FLAT, CAST)


def about_no_hollow(wall_mm: float) -> list[Finding]:
    """What is told where there was no room for a cavity.

    Parameters
    ----------
    wall_mm : thickness of the shell

    Returns
    -------
    list of Finding
    """
    return [
        FLAT.found(
            "note",
            f"The buck is nowhere high enough for a cavity under a wall of {wall_mm:g} mm: it stays solid.",
            "Print it solid, or make the wall thinner.",
            setting="hollow.wall_mm",
        )
    ]


def about_cast(cavity: "Cavity") -> list[Finding]:
    """What is told of a shell to be cast full.

    Parameters
    ----------
    cavity : with a floor

    Returns
    -------
    list of Finding
    """
    wide = max(hole.diameter_mm for hole in cavity.pours)
    words = (
        f"The shell takes {cavity.volume_mm3 / 1000.0:.0f} cm3 of plaster or resin, through "
        f"{counted(len(cavity.pours), 'pour hole')} of up to {wide:.0f} mm; "
        f"{counted(len(cavity.airs), 'air hole')} {verb(len(cavity.airs), 'let')} the air out."
    )
    return [CAST.found("note", words, "Cast it full before the first pull.", setting="hollow.kind")]
