"""What there is to say of the vents: which were made, which were not, and how fast they evacuate the pockets."""

from typing import TYPE_CHECKING

import numpy as np

from buckwright.findings import Finding, FindingKind, at_words, counted, verb

if TYPE_CHECKING:
    from buckwright.shape.vents.fitting import Vented
    from buckwright.shape.vents.settings import VentSettings
    from buckwright.shape.vents.vent import VentPlan
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
    rule="A vent needs its bore, upright or leaning, and a wall of solid round it, all the way down to the channels.",
    source="the wall is common practice, no source",
    remedies=(
        "Drill that spot by hand.",
        "Allow narrower bores, thinner walls or a larger tilt.",
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
TO_DRILL = FindingKind(
    slug="vents-to-drill",
    title="Vents left to drill",
    why="A narrow hole that is too deep closes up in printing; until it is drilled its pocket traps air.",
    rule="A narrow hole is printed down to 20 times its width; where it cannot be widened behind, a dimple marks it.",
    source="house rule",
    remedies=(
        "Drill the marked places through to the channels.",
        "Allow narrower bores or thinner walls.",
        "Raise the longest narrow hole if your printer keeps it open.",
    ),
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
    title="A vent not where it was put",
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
KINDS = (OFF, BARE, SHARED, TO_DRILL, SLOW, VENTED, PLACED, NOTE)

# A move that nobody sees is not worth a word.
_MOVED_MM = 0.05
# So many places to drill are named.
_MOST_PLACES = 5


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
        *_to_drill(vented),
        *_slow(vented, vents.target_s),
        _drained(vented),
        *(NOTE.found("note", note[0].upper() + note[1:].rstrip(".") + ".") for note in vented.plan.notes),
    ]


def _bare(vented: "Vented", pockets: "Pockets", by_hand: bool) -> list[Finding]:
    found = []
    bare = [pocket for pocket, state in zip(pockets.pockets, vented.states) if state == "bare"]
    if bare:
        deepest = max(bare, key=lambda pocket: pocket.depth_mm)
        where = f"the deepest, {deepest.depth_mm:.1f} mm, at {at_words(deepest.deepest_mm)}"
        count, have = counted(len(bare), "air pocket"), "has" if len(bare) == 1 else "have"
        if by_hand:
            words = f"{count} {have} none of the placed vents: {where}."
            advice, setting = "Place one there, or go back to automatic vents.", "vents.at_mm"
        else:
            words = f"{count} could not be vented, for lack of room: {where}."
            advice = "Expect soft detail there, or drill by hand; narrower bores or a larger tilt may fit."
            setting = "vents.back_bore_mm"
        found.append(BARE.found("warn", words, advice, at_mm=deepest.deepest_mm, setting=setting))
    if shared := vented.states.count("shared"):
        words = f"{counted(shared, 'air pocket')} {verb(shared, 'share')} a neighbouring vent: another would be too close."
        found.append(SHARED.found("note", words))
    return found


def _to_drill(vented: "Vented") -> list[Finding]:
    """Dimples where holes would be printed were there more room; where all are dimples, `NOTE` says so."""
    plan = vented.plan
    marked = [] if plan.face.opening == "dimple" else list(plan.to_drill)
    if not marked:
        return []
    depth = plan.bores.channel_depth_mm
    deepest = max(marked, key=lambda vent: vent.narrow_mm(depth))
    places = "; ".join(at_words(vent.top_mm) for vent in marked[:_MOST_PLACES])
    more = len(marked) - _MOST_PLACES
    words = (
        f"{counted(len(marked), 'vent')} {verb(len(marked), 'wait')} to be drilled, as printed they would stay "
        f"narrow for up to {deepest.narrow_mm(depth):.1f} mm: {places}{f' and {more} more' if more > 0 else ''}."
    )
    advice = f"Drill {deepest.face.width_mm:g} mm from the dimple down to the bore or the channel."
    return [TO_DRILL.found("warn", words, advice, at_mm=deepest.top_mm, setting="vents.narrow_most_mm")]


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
    plan, states = vented.plan, vented.states
    count = len(plan.vents) if plan.face.opening == "dimple" else len(plan.vents) - len(plan.to_drill)
    served = states.count("vented") + states.count("shared")
    words = (
        f"{counted(count, 'vent')} {verb(count, 'drain')} {counted(served, 'air pocket')} "
        "and the foot of the part"
    )
    rest = [
        f"{count} {word}"
        for word, count in (("to drill", states.count("to drill")), ("bare", states.count("bare")))
        if count
    ]
    words += f"; of {counted(len(states), 'pocket')} {' and '.join(rest)}." if rest else "."
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
