"""What there is to say of a porous top."""

from buckwright.findings import Finding, FindingKind, percent

__all__ = ["KINDS", "about_porous"]

POROUS = FindingKind(
    slug="porous-top",
    title="A porous top",
    why="A top without skin lets air through everywhere; but the slicer has to be told to leave the skin out.",
    rule=(
        "The body 'porous' of the 3MF reaches from the platen or the cavity to the surface, inside a closed wall, where "
        "the surface is flat enough."
    ),
    source="common practice, no source; what the sheet shows of the infill was not measured",
    remedies=(
        "Give the body 'porous' no top and bottom layers and sparse infill.",
        "Cover it with a thin cloth where infill must not show.",
    ),
)
NO_POROUS = FindingKind(
    slug="no-porous-top",
    title="No place for a porous top",
    why="A buck that is steep everywhere, or narrower than its closed walls, keeps its skin.",
    rule="On the part's side of the trim line, inside the closed wall, less steep than asked, at least 25 mm2.",
    source="geometry",
    remedies=("Make the closed wall thinner.", "Allow steeper places."),
)
KINDS = (POROUS, NO_POROUS)


def about_porous(*, open_mm2: float | None, infill_share: float, split: bool) -> list[Finding]:
    """Findings about a porous top.

    Parameters
    ----------
    open_mm2 : its upper side seen along the pull; None where there is none
    infill_share : share that is filled
    split : whether the buck is printed in pieces

    Returns
    -------
    list of Finding
    """
    if open_mm2 is None:
        words = "No place of the part is flat and wide enough for a porous top: the buck keeps its skin."
        return [NO_POROUS.found("warn", words, "Make the closed wall thinner.", setting="porous.wall_mm")]
    words = (
        f"{open_mm2 / 100.0:.0f} cm2 of the top are porous: in buck.3mf the body 'porous' wants no top and bottom "
        f"layers and {percent(infill_share)} infill."
    )
    found = [
        POROUS.found(
            "note", words, "Set both in the slicer: a 3MF has no word for them that every slicer reads."
        )
    ]
    if split:
        words = "The buck is printed in pieces; the plates hold them without the porous top, only buck.3mf has it."
        found.append(POROUS.found("warn", words, "Print it in one piece.", setting="printer.bed_mm"))
    return found
