"""What there is to say of a print on the flat sheet."""

from buckwright.findings import Finding, FindingKind, counted, percent

__all__ = ["KINDS", "about_artwork", "moves_words"]

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
PIPS = FindingKind(
    slug="no-room-for-pips",
    title="No room for register pips",
    why="Pips beside the sculpt show on the part whether the print came where it should.",
    rule="Four pips, 20 mm apart or more, each with 2 mm of level base to every side.",
    source="house rule",
    remedies=("Make the land wider.", "Make the base a rectangle: its corners have room."),
)
KINDS = (LIMITS, PIPS)

_ALL = 4
_LITTLE = 0.002  # of the part; house rule


def about_artwork(folded_share: float, moves: str, *, pips: int | None = None) -> list[Finding]:
    """Findings about a print.

    Parameters
    ----------
    folded_share : of the part's area near folds
    moves : how far a print on the part is carried sideways, from `moves_words`
    pips : register pips that found room; None where none were asked for

    Returns
    -------
    list of Finding
    """
    return [*_limits(folded_share, moves), *_without_room(pips)]


def moves_words(farthest_mm: float, mean_mm: float) -> str:
    """How far a print moves.

    Parameters
    ----------
    farthest_mm, mean_mm : how far a print on the part is carried sideways, at most and on average

    Examples
    --------
    >>> moves_words(12.4, 3.64)
    'moves by 12 mm at most, 3.6 mm on average (estimate)'
    """
    return f"moves by {farthest_mm:.0f} mm at most, {mean_mm:.1f} mm on average (estimate)"


def _without_room(pips: int | None) -> list[Finding]:
    if pips is None or pips == _ALL:
        return []
    few = f"only {counted(pips, 'register pip')}" if pips else "no register pip"
    words = f"The flat round the sculpt has room for {few}."
    return [
        PIPS.found("note", words, "Make the land wider, or the base a rectangle.", setting="base.land_mm")
    ]


def _limits(folded_share: float, moves: str) -> list[Finding]:
    if folded_share > _LITTLE:
        words = f"Near folds ({percent(folded_share)} of the part) the print will not be where the picture shows it."
        return [LIMITS.found("warn", words, "Keep lettering away from them, or get rid of the folds first.")]
    words = f"On its way to the part the print {moves}, sideways."
    return [LIMITS.found("note", words, "Form a sheet with the test grid first.")]
