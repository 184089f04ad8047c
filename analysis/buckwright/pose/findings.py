"""What there is to say of reading, repairing and posing a sculpt."""

from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, at_words, counted

if TYPE_CHECKING:
    from buckwright.mesh.repair import Repair
    from buckwright.pose.posing import Posed

__all__ = ["DOUBTFUL_SIZE", "FILE_NOTE", "KINDS", "OFFSET", "REPAIR", "TALL", "about_pose"]

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
OFFSET = FindingKind(
    slug="offset",
    title="The buck is smaller by the sheet",
    why="When the outside of the part must hold its size, the buck has to be smaller by the formed thickness.",
    rule="Every face moves inwards by the formed thickness; sharp tips and thin ridges cannot, and are named.",
    source="geometry",
    remedies=(
        "Round sharp tips and thin ridges.",
        "Set the formed thickness that the forecast or a gauge gives.",
    ),
)
KINDS = (DOUBTFUL_SIZE, FILE_NOTE, REPAIR, TALL, OFFSET)

_TALL = 1.0
_LOOK = "Look at the repaired places in the pictures."


def about_pose(posed: "Posed", *, lift_mm: float) -> list[Finding]:
    """Findings about file, repairs, proportions and offset; `lift_mm` is how high the foot stands."""
    found = list(posed.findings)
    for entry in posed.entries:
        found += [REPAIR.found("note", repair.words) for repair in entry.repairs]
        found += [_to_check(repair, lift_mm) for repair in entry.repairs if repair.warning]
        found += [REPAIR.found("warn", words, _LOOK) for words in entry.notes]
    return [*found, *_tall(posed), *_offset(posed, lift_mm)]


def _to_check(repair: "Repair", lift_mm: float) -> Finding:
    """A warning about a repair, with the place where there is one."""
    if repair.at_mm is None:
        return REPAIR.found("warn", repair.warning, _LOOK)
    x, y, z = repair.at_mm
    words = f"{repair.warning} Look near {at_words(repair.at_mm, lift_mm)}."
    return REPAIR.found("warn", words, _LOOK, at_mm=(x, y, z + lift_mm))


def _tall(posed: "Posed") -> list[Finding]:
    x, y, z = posed.mesh.size
    ratio = z / max(min(x, y), 1e-9)
    if ratio <= _TALL:
        return []
    words = f"The part is {ratio:.1f} times as tall as it is wide: expect thin walls and webs at its corners."
    advice = "Sink it deeper, split it, give it more draft or start with a thicker sheet."
    return [TALL.found("warn", words, advice, setting="base.sink_mm")]


def _offset(posed: "Posed", lift_mm: float) -> list[Finding]:
    offset = posed.offset
    if offset is None:
        return []
    words = (
        f"The buck is smaller by {offset.distance_mm:.2f} mm so that the outside of the part holds its size."
    )
    if not offset.places:
        return [OFFSET.found("note", words), *_notes(offset.notes)]
    worst = offset.places[0]
    x, y, z = worst.centre_mm
    words += (
        f" The full offset was not possible in {counted(len(offset.places), 'place')}; at "
        f"{at_words(worst.centre_mm, lift_mm)} it falls short by {worst.shortfall_mm:.2f} mm."
    )
    advice = "The part will be too thick there: round sharp tips and thin ridges."
    # The first note of the offset says where it fell short, as the words above do.
    return [OFFSET.found("warn", words, advice, at_mm=(x, y, z + lift_mm)), *_notes(offset.notes[1:])]


def _notes(notes: tuple[str, ...]) -> list[Finding]:
    return [OFFSET.found("note", note[0].upper() + note[1:].rstrip(".") + ".") for note in notes]
