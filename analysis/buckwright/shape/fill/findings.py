"""What there is to say of the draft fill."""

from buckwright.findings import Finding, FindingKind

__all__ = ["KINDS", "SINK_SAVES", "VOLUME", "about_fill"]

VOLUME = FindingKind(
    slug="fill-volume",
    title="Solid added under overhangs",
    why="What is filled is no longer the sculpt's shape there, costs print time, and shows as a smooth wall on the part.",
    rule="The least solid that gives every wall the wanted draft and lets the sheet come straight off.",
    source="geometry: the envelope of draft cones over the sculpt's edges",
    remedies=("Sink the sculpt to its widest outline.", "Tilt the pull.", "Fill locked areas only."),
)
SINK_SAVES = FindingKind(
    slug="sinking-saves",
    title="Sinking would save fill",
    why="A sculpt that narrows towards its foot needs a wall of fill all round; cut at its widest outline it needs none.",
    rule="Told when sinking to the widest outline saves at least a fifth of the fill.",
    source="house rule",
    remedies=("Set base.sink_mm to 'widest' if the part may end there.",),
)
KINDS = (VOLUME, SINK_SAVES)

# Sinking is worth a word when it saves this share of the fill; house rule.
_WORTH_SINKING = 0.2


def about_fill(*, mode: str, added_mm3: float, widest_mm: float, widest_saves_mm3: float) -> list[Finding]:
    """Findings about the fill.

    Parameters
    ----------
    mode : 'full', 'locked' or 'none'
    added_mm3 : volume of the fill
    widest_mm : height of the widest outline over the foot
    widest_saves_mm3 : volume that sinking to it would not need to fill

    Returns
    -------
    list of Finding
    """
    if mode == "none":
        return []
    found = []
    if added_mm3 > 1.0:
        words = f"Draft fill added {added_mm3 / 1000.0:.1f} cm3."
        found.append(VOLUME.found("note", words, setting="fill.mode"))
    if widest_mm > 1.0 and widest_saves_mm3 > _WORTH_SINKING * max(added_mm3, 1.0):
        words = (
            f"The outline is widest {widest_mm:.1f} mm above the foot; sinking the sculpt to there saves "
            f"about {widest_saves_mm3 / 1000.0:.0f} cm3 of fill."
        )
        advice = "Sink it to the widest outline if the part may end there."
        found.append(SINK_SAVES.found("note", words, advice, setting="base.sink_mm"))
    return found
