"""What there is to say of the vents: which were made, which were not, and how fast they evacuate the pockets."""

from typing import TYPE_CHECKING

import numpy as np

from buckwright.findings import Finding, FindingKind, at_words, counted, verb

if TYPE_CHECKING:
    from buckwright.shape.vents.fitting import Vented
    from buckwright.shape.vents.vent import VentPlan
    from buckwright.shape.vents.settings import VentSettings
    from buckwright.survey.pockets.find_pockets import Pockets

__all__ = ["KINDS", "about_vents"]

OFF = FindingKind(
    slug="vents-off",
    title="No vents",
    why="Air that cannot leave keeps the sheet off the buck: detail stays soft, and bubbles show on the part.",
    rule="Told when vents are switched off.",
    source="house rule",
    remedies=("Turn the vents on.", "Drill the low spots by hand."),
)
BARE = FindingKind(
    slug="pocket-without-vent",
    title="A pocket without a vent",
    why="Air stays trapped there, the sheet bridges, and the part has no crisp detail at that place.",
    rule="A vent needs its bore, and a wall of solid round it, all the way down to the platen.",
    source="the wall is common practice, no source",
    remedies=(
        "Drill that spot by hand.",
        "Allow narrower bores or thinner walls.",
        "Move a vent there by hand.",
    ),
)
SHARED = FindingKind(
    slug="pocket-shares-vent",
    title="Pockets that share a vent",
    why="Two vents too close to each other would break the wall between them.",
    rule="Bores keep the set wall between them.",
    source="house rule",
)
SLOW = FindingKind(
    slug="slow-evacuation",
    title="A pocket evacuates slowly",
    why="The sheet cools within about a second of touching; air that leaves later than that leaves soft detail.",
    rule="Time to bring the pocket's air from an atmosphere to the wanted share through its vents; an upper estimate.",
    source="orifice flow after ISO 6358-1:2013; the target is a house rule",
    remedies=(
        "Allow wider holes.",
        "Place the vents closer together.",
        "Keep the sheet hot a little longer.",
    ),
)
VENTED = FindingKind(
    slug="vents",
    title="The vents",
    why="Pockets are places where a taut sheet, coming down, would close off air above the buck.",
    rule="Each pocket deeper than the minimum gets a vent at its deepest place; the foot gets a ring of them.",
    source="geometry; spacing is common practice, no source",
)
PLACED = FindingKind(
    slug="placed-vent",
    title="A vent placed by hand was moved or left out",
    why="A bore without its wall would break out of the surface.",
    rule="A vent may move by up to 3 mm to keep its wall; where even that does not help it is left out.",
    source="house rule",
    remedies=("Move it.", "Allow narrower bores and thinner walls."),
)
NOTE = FindingKind(
    slug="vent-openings",
    title="How the vents open",
    why="Small holes close up in printing; what the printer cannot make has to be drilled or is made as a slot.",
    rule="A hole no wider than the sheet is thick does not mark; the printer's smallest hole is a setting.",
    source="thermoforming handbooks (from memory); Proc. IMechE E 2023, doi 10.1177/09544089231173294, for slots",
    remedies=("Drill the marked places.", "Set the smallest hole that your printer leaves open."),
)
KINDS = (OFF, BARE, SHARED, SLOW, VENTED, PLACED, NOTE)

# A move that nobody sees is not worth a word.
_MOVED_MM = 0.05


def about_vents(vented: "Vented", pockets: "Pockets | None", vents: "VentSettings") -> list[Finding]:
    """Findings about the vents of a buck and the pockets that they drain.

    Parameters
    ----------
    vented : the vents that were fitted
    pockets : None where vents are switched off
    vents : settings

    Returns
    -------
    list of Finding
    """
    if pockets is None:
        words = "Vents are switched off."
        return [
            OFF.found("warn", words, "Drill the low spots by hand, or turn them on.", setting="vents.enabled")
        ]
    by_hand = vents.at_mm is not None
    return [
        *(_placed(vented.plan) if by_hand else []),
        *_bare(vented, pockets, by_hand),
        *_slow(vented, vents.target_s),
        _drained(vented),
        *(NOTE.found("note", note[0].upper() + note[1:].rstrip(".") + ".") for note in vented.plan.notes),
    ]


def _bare(vented: "Vented", pockets: "Pockets", by_hand: bool) -> list[Finding]:
    from buckwright.shape.vents.placing import TOO_NEAR

    times = np.array(vented.evacuation_s)
    bare = set(np.flatnonzero(~np.isfinite(times)).tolist())
    beside = bare & {pocket for *_, pocket, why in vented.plan.dropped if why == TOO_NEAR}
    found = []
    if alone := sorted(bare - beside):
        place = pockets.pockets[alone[0]].deepest_mm
        count = counted(len(alone), "air pocket")
        if by_hand:
            have = "has" if len(alone) == 1 else "have"
            words = f"{count} {have} none of the placed vents, the largest at {at_words(place)}."
            advice = "Place one there, or go back to automatic vents."
            found.append(BARE.found("warn", words, advice, at_mm=place, setting="vents.at_mm"))
        else:
            words = f"{count} could not be vented: no room. The largest is at {at_words(place)}."
            advice = "Expect soft detail there, or drill by hand; narrower bores may fit."
            found.append(BARE.found("warn", words, advice, at_mm=place, setting="vents.back_bore_mm"))
    if beside:
        words = f"{counted(len(beside), 'air pocket')} {verb(len(beside), 'share')} a neighbouring vent: another would be too close."
        found.append(SHARED.found("note", words))
    return found


def _slow(vented: "Vented", target_s: float) -> list[Finding]:
    times = np.array(vented.evacuation_s)
    slow = times[np.isfinite(times) & (times > target_s)]
    if not len(slow):
        return []
    words = f"{counted(len(slow), 'pocket')} {verb(len(slow), 'need')} up to {slow.max():.1f} s to evacuate (target {target_s:g} s)."
    return [
        SLOW.found(
            "warn",
            words,
            "Allow wider holes, or keep the sheet hot a little longer.",
            setting="vents.hole_mm",
        )
    ]


def _drained(vented: "Vented") -> Finding:
    served = sum(np.isfinite(vented.evacuation_s))
    words = f"{counted(len(vented.plan.vents), 'vent')} {verb(len(vented.plan.vents), 'drain')} {counted(int(served), 'air pocket')} and the foot of the part."
    return VENTED.found("note", words)


def _placed(plan: "VentPlan") -> list[Finding]:
    """What became of vents that were placed by hand, where it was not what was asked."""
    from buckwright.shape.vents.vent import FOOT

    found = []
    for x, y, z, pocket, why in plan.dropped:
        if pocket != FOOT:
            words = f"The vent placed at {at_words((x, y, z))} was not made: {why}."
            advice = "Move it, or allow narrower bores and thinner walls."
            found.append(PLACED.found("warn", words, advice, at_mm=(x, y, z), setting="vents.wall_mm"))
    for vent in plan.vents:
        if vent.pocket != FOOT and vent.moved_mm > _MOVED_MM:
            words = (
                f"A placed vent moved by {vent.moved_mm:.1f} mm to {at_words(vent.top_mm)} to keep its walls."
            )
            found.append(PLACED.found("note", words, at_mm=vent.top_mm))
    return found
