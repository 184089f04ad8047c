"""What there is to say of the finished buck as its files hold it."""

from collections.abc import Sequence

from buckwright.findings import Finding, FindingKind, at_words, counted

__all__ = ["KINDS", "UNSOUND", "about_buck"]

UNSOUND = FindingKind(
    slug="unsound-buck",
    title="The buck is not sound",
    why="Slicers guess where a mesh is open or crosses itself, and may leave walls or layers out.",
    rule="Every edge has two faces, and no faces cross by more than 0.001 mm.",
    source="3MF core specification: a model is edge-manifold and consistently oriented",
    remedies=("Let the slicer repair it and look at its layers before you print.", "Use a finer fill grid."),
)
KINDS = (UNSOUND,)


def about_buck(
    *, watertight: bool, crossing_pairs: int, crossing_at_mm: Sequence[float] | None = None
) -> list[Finding]:
    """Findings about the stored buck.

    Parameters
    ----------
    watertight : whether every edge has two faces
    crossing_pairs : pairs of faces that cross
    crossing_at_mm : where they cross deepest

    Returns
    -------
    list of Finding : none for a sound buck
    """
    if watertight and not crossing_pairs:
        return []
    words, place = "The written buck is not watertight.", None
    if watertight:
        words = f"{counted(crossing_pairs, 'pair')} of faces of the buck cross."
        if crossing_at_mm is not None:
            place = crossing_at_mm[0], crossing_at_mm[1], crossing_at_mm[2]
            which = "it is" if crossing_pairs == 1 else "the deepest crossing is"
            words = f"{words[:-1]}; {which} at {at_words(place)}."
    advice = "Let the slicer repair it, and look at its layers before printing."
    return [UNSOUND.found("warn", words, advice, at_mm=place)]
