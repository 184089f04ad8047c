"""What there is to say of the draft fill."""

from buckwright.findings import Finding, FindingKind

__all__ = ["KINDS", "VOLUME", "about_fill"]

VOLUME = FindingKind(
    slug="fill-volume",
    title="Solid under overhangs",
    why="What is filled is no longer the sculpt's shape there, costs print time, and shows as a smooth wall on the part.",
    rule="The least solid that gives every wall the wanted draft and lets the sheet come straight off.",
    source="geometry: the envelope of draft cones over the sculpt's edges",
    remedies=("Sink the sculpt to its widest outline.", "Tilt the pull.", "Fill locked areas only."),
)
KINDS = (VOLUME,)


def about_fill(*, mode: str, added_mm3: float) -> list[Finding]:
    """Findings about the fill.

    Parameters
    ----------
    mode : 'full', 'locked' or 'none'
    added_mm3 : volume of the fill

    Returns
    -------
    list of Finding
    """
    if mode == "none" or added_mm3 <= 1.0:
        return []
    words = f"Draft fill added {added_mm3 / 1000.0:.1f} cm3."
    return [VOLUME.found("note", words, setting="fill.mode")]
