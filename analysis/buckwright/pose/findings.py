"""What there is to say of reading, repairing and posing a sculpt."""

from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, at_words, counted, percent, rounded
from buckwright.stand import Stand

if TYPE_CHECKING:
    from buckwright.mesh.door import Entered
    from buckwright.mesh.repair import Repair
    from buckwright.pose.aiming import Aim
    from buckwright.pose.posing import Passage, Posed

__all__ = [
    "CLOSE",
    "DOUBTFUL_SIZE",
    "FILE_NOTE",
    "KINDS",
    "OFFSET",
    "PULL_KINDS",
    "REPAIR",
    "SINK_SAVES",
    "SUNK",
    "TALL",
    "about_entry",
    "about_pose",
    "about_setups",
    "way_words",
]

DOUBTFUL_SIZE = FindingKind(
    slug="doubtful-size",
    title="The size looks wrong",
    why="Mesh files often carry no unit. A wrong one gives a buck that is ten, 25.4 or 1000 times too large or small.",
    rule="A part smaller than 5 mm or larger than 2 m is doubted.",
    source="house rule; STL carries no unit by definition",
    remedies=("Set the unit of the file.", "Set the height, width or depth that the part should have."),
)
FILE_NOTE = FindingKind(
    slug="file-note",
    title="How the file was read",
    why="What a file leaves open is settled while it is read; it is told so that nothing happens silently.",
    rule="Told whenever something in the file was left out or settled by a rule.",
    source="house rule",
)
REPAIR = FindingKind(
    slug="mesh-repair",
    title="The mesh was repaired",
    why="A buck must be one closed solid. Holes, crossings and doubled faces are mended, which can move the surface.",
    rule="Every repair is told. One that moves the surface by more than 0.2 mm or loses some of it is a warning, and so are flat caps over 5 mm. Loose bodies with less than a thousandth of the area of the largest, and scraps with less than a hundredth, are left out.",
    source="house rule",
    remedies=("Look at the repaired places.", "Mend the sculpt where it was made, and run again."),
)
TALL = FindingKind(
    slug="tall-part",
    title="Taller than wide",
    why="The sheet has to reach further than the part is wide: its walls get thin and webs form at the corners.",
    rule="A male form should be no taller than it is wide.",
    source="ThermoPro thermoforming design guidelines: height to width under 1:1 preferred",
    remedies=("Sink it deeper.", "Split it.", "Give it more draft.", "Start with a thicker sheet."),
)
SINK_SAVES = FindingKind(
    slug="sinking-saves",
    title="Sinking would save fill",
    why="A sculpt that narrows towards its foot needs a wall of fill all round; cut at its widest outline it needs none.",
    rule="Told when sinking to the widest outline saves at least a fifth of the fill, or when the part is tall.",
    source="house rule",
    remedies=("Set base.sink_mm to 'widest' if the part may end there.",),
)
SUNK = FindingKind(
    slug="sunk",
    title="Sunk to its widest outline",
    why="What lies below is not on the part. A body in the round has to end where it is widest, or in fill.",
    rule=(
        "With base.sink_mm 'auto' a sculpt on a flat foot (60 % of its outline or of its widest slice) is left as it "
        "is; another is sunk where that loses and costs less."
    ),
    source="house rule",
    remedies=(
        "Set base.sink_mm to 0 to keep it whole.",
        "Take another setup (pull.setup).",
        "Form it in two halves.",
    ),
)
CLOSE = FindingKind(
    slug="close-setups",
    title="Another setup comes close",
    why="Which side of a sculpt matters most is for its maker to say; figures that are this close cannot tell.",
    rule="Told when the next setup scores within 5 % of the best.",
    source="house rule",
    remedies=("Compare them in setups.png.", "Take another one with pull.setup."),
)
OFFSET = FindingKind(
    slug="offset",
    title="Buck smaller by the sheet",
    why="When the outside of the part must hold its size, the buck has to be smaller by the formed thickness.",
    rule="Every face moves inwards by the formed thickness; sharp tips and thin ridges cannot, and are named.",
    source="geometry; 30 %: published walls lie as far from estimates of this kind, and operators alone vary by 34 % "
    "(read)",
    remedies=(
        "Round sharp tips and thin ridges.",
        "Set the formed thickness that the forecast or a gauge gives.",
    ),
)
KINDS = (DOUBTFUL_SIZE, FILE_NOTE, REPAIR, TALL, SINK_SAVES, SUNK, OFFSET)
PULL_KINDS = (CLOSE,)

_TALL = 1.0
_LOOK = "Look at the repaired places in the pictures."
# Sinking is worth a word when it saves this share of the fill; house rule.
_WORTH_SINKING = 0.2
_CLOSE = 0.05


def about_setups(aim: "Aim") -> list[Finding]:
    """Findings about the choice of a setup."""
    if not aim.searched or aim.taken != 1 or len(aim.setups) < 2:
        return []
    best, second = aim.setups[:2]
    if second.cost > best.cost * (1.0 + _CLOSE):
        return []
    words = (
        f"Setup 2 is nearly as good as setup 1: {second.note}, pulled along {way_words(second.direction)}."
    )
    advice = "Compare the pictures of both in setups.png and take the one that shows what matters."
    return [CLOSE.found("note", words, advice, setting="pull.setup")]


def way_words(direction: tuple[float, float, float]) -> str:
    """A direction in words: '+Z', or its three numbers."""
    for axis, part in zip("XYZ", direction, strict=True):
        if abs(part) > 1.0 - 1e-6:
            return f"{'+' if part > 0.0 else '-'}{axis}"
    return "({})".format(", ".join(f"{round(part, 2) + 0.0:.2f}" for part in direction))


_ON_THE_GROUND = Stand()


def about_pose(posed: "Posed", *, stand: Stand, added_mm3: float | None = None) -> list[Finding]:
    """Findings about file, repairs, depth of sinking, proportions and offset.

    Parameters
    ----------
    posed : the sculpt in the pull frame
    stand : how the sculpt stands in the buck
    added_mm3 : volume of the fill; None where none was made
    """
    found = list(posed.findings)
    for entry in posed.entries:
        found += about_entry(entry, stand)
    return [*found, *_sunk(posed), *_tall(posed, added_mm3), *_offset(posed, stand)]


def about_entry(entry: "Entered | Passage", stand: Stand = _ON_THE_GROUND) -> list[Finding]:
    """Findings about what a step of the door did; places move with the sculpt."""
    found = [REPAIR.found("note", repair.words) for repair in entry.repairs]
    found += [_to_check(repair, stand) for repair in entry.repairs if repair.warning]
    return found + [REPAIR.found("warn", words, _LOOK) for words in entry.notes]


def _to_check(repair: "Repair", stand: Stand) -> Finding:
    """A warning about a repair, with the place where there is one."""
    if repair.at_mm is None:
        return REPAIR.found("warn", repair.warning, _LOOK)
    at = stand.place(repair.at_mm)
    return REPAIR.found("warn", f"{repair.warning} Look near {at_words(at)}.", _LOOK, at_mm=at)


def _sunk(posed: "Posed") -> list[Finding]:
    if not posed.sunk_by_rule or posed.sunk_mm <= 0.0:
        return []
    height = posed.sunk_mm + float(posed.mesh.size[2])
    words = (
        f"The sculpt is sunk by {posed.sunk_mm:.1f} of its {height:.1f} mm, to where its outline is widest: "
        f"{rounded(posed.sunk_mm3 / 1000.0, 3)} cm3 ({percent(posed.sunk_share)}) of it is cut off."
    )
    return [SUNK.found("note", words, "Set the sink to 0 to keep it whole.", setting="base.sink_mm")]


def _tall(posed: "Posed", added_mm3: float | None) -> list[Finding]:
    """A tall part, and what sinking it would save: one finding."""
    x, y, z = posed.mesh.size
    ratio = z / max(min(x, y), 1e-9)
    saving = _saving_words(posed)
    if ratio <= _TALL:
        worth = added_mm3 is not None and posed.widest_saves_mm3 > _WORTH_SINKING * max(added_mm3, 1.0)
        if not (worth and saving):
            return []
        advice = "Sink it to the widest outline if the part may end there."
        return [SINK_SAVES.found("note", saving, advice, setting="base.sink_mm")]
    words = f"The part is {ratio:.1f} times as tall as it is wide: expect thin walls and webs at its corners."
    advice = "Sink it deeper, split it, give it more draft or start with a thicker sheet."
    return [TALL.found("warn", f"{words} {saving}".rstrip(), advice, setting="base.sink_mm")]


def _saving_words(posed: "Posed") -> str:
    """What sinking to the widest outline saves and costs; empty where it is next to nothing."""
    if posed.widest_mm <= 1.0 or posed.widest_saves_mm3 < 500.0:
        return ""
    return (
        f"Sinking it to the widest outline saves {posed.widest_mm:.0f} mm of height and about "
        f"{posed.widest_saves_mm3 / 1000.0:.0f} cm3 of fill, and cuts off {posed.widest_cuts_mm3 / 1000.0:.0f} cm3 of "
        "the sculpt."
    )


def _offset(posed: "Posed", stand: Stand) -> list[Finding]:
    offset = posed.offset
    if offset is None:
        return []
    what, side = ("cavity is larger", "inside") if stand.over else ("buck is smaller", "outside")
    words = (
        f"The {what} by {offset.distance_mm:.2f} mm so that the {side} of the part holds its size; crown and "
        "edge may come out 30 % thicker or thinner than that."
    )
    if not offset.places:
        return [OFFSET.found("note", words), *_notes(offset.notes)]
    worst = offset.places[0]
    at = stand.place(worst.centre_mm)
    words += (
        f" The full offset was not possible in {counted(len(offset.places), 'place')}; at "
        f"{at_words(at)} it falls short by {worst.shortfall_mm:.2f} mm."
    )
    advice = "The part will be too thick there: round sharp tips and thin ridges."
    # The first note of the offset says where it fell short, as the words above do.
    return [OFFSET.found("warn", words, advice, at_mm=at), *_notes(offset.notes[1:])]


def _notes(notes: tuple[str, ...]) -> list[Finding]:
    return [OFFSET.found("note", note[0].upper() + note[1:].rstrip(".") + ".") for note in notes]
