"""What there is to say of the pieces that a buck is printed in."""

from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, Severity, at_words, counted, rounded
from buckwright.printing.settings import PrinterSettings

if TYPE_CHECKING:
    from buckwright.printing.pieces.planning import Pieces

__all__ = ["KINDS", "about_pieces"]

NEAR_VENT = FindingKind(
    slug="joint-near-vent",
    title="Joint close to a vent",
    why="Glue that runs into a vent or a screw hole closes it, and a thin wall beside a joint breaks.",
    rule="Joints stay at least the wanted distance from vents and fixings; up to two more pieces are spent on it.",
    source="house rule",
    remedies=(
        "Clear the holes after gluing.",
        "Use a larger bed, or accept one piece more.",
        "Move the vent.",
    ),
)
UNPINNED = FindingKind(
    slug="joint-without-pins",
    title="Joint without two pins",
    why="Without pins the pieces slide while the glue sets, and the step shows in the part.",
    rule="A pin needs 2 mm of solid all around it and behind it.",
    source="house rule",
    remedies=("Make the pin thinner.", "Clamp the pieces against a straight edge while the glue sets."),
)
SLIVERS = FindingKind(
    slug="sliver-at-split",
    title="Sliver beside a split plane",
    why="A crumb or a flake that a plane shaves off is neither printed nor glued well.",
    rule="What a plane cuts off is a piece from 1000 mm\u00b3 and 2 mm on; less stays on the piece that it touches.",
    source="house rule",
    remedies=("Move the plane off the bump, or deeper into it.", "Leave it: the joint has a step there."),
)
GLUE_FIRST = FindingKind(
    slug="glue-before-casting",
    title="Glue before casting",
    why="Each piece of a shell is open at its joints: plaster or resin runs out there.",
    rule="The pieces of a shell to be cast meet at their walls alone.",
    source="geometry",
    remedies=(
        "Glue and seal the joints, let the glue set, turn the shell over and cast it full.",
        "Use a ribbed hollow: its joints are solid, with pins.",
    ),
)
LARGE = FindingKind(
    slug="larger-than-usual-bed",
    title="May not fit the printer",
    why="A buck that is larger than the bed cannot be printed in one piece.",
    rule="Beds of common machines are 220 x 220 mm and 250 mm high or larger (from memory).",
    source="from memory",
    remedies=("Give the printer's bed: the buck is then split, with pins and labels.",),
)
UNLETTERED = FindingKind(
    slug="piece-without-letter",
    title="Piece without its letter",
    why="Pieces are told apart by the letter engraved underneath.",
    rule="A letter is at least 3 mm high, with 2 mm of solid around it.",
    source="house rule",
    remedies=("Write the letter on.",),
)
KINDS = (NEAR_VENT, UNPINNED, UNLETTERED, SLIVERS, GLUE_FIRST, LARGE)

_FATES: dict[str, tuple[Severity, str, str]] = {
    "dropped": ("note", "is left out of the pieces", "are left out of the pieces"),
    "alone": (
        "warn",
        "is a piece of its own, hard to print and glue",
        "are pieces of their own, hard to print and glue",
    ),
    "joined": ("note", "stays on the piece that it touches", "stay on the pieces that they touch"),
}
_USUAL_MM = (220.0, 220.0, 250.0)


def about_pieces(pieces: "Pieces", printer: PrinterSettings, *, cast: bool = False) -> list[Finding]:
    """Findings about the pieces.

    Parameters
    ----------
    pieces : from `plan_pieces`
    printer : as it was planned with
    cast : whether the buck is a shell that is to be cast full

    Returns
    -------
    list of Finding
    """
    if printer.bed_mm is None:
        return _unasked(pieces)
    found = []
    near = min((cut.clear_mm for cut in pieces.cuts), default=float("inf"))
    if near < printer.joint_clear_mm:
        how = "cuts through a vent or fixing" if near < 0.0 else f"passes {near:.1f} mm from a vent or fixing"
        found.append(
            NEAR_VENT.found(
                "warn",
                f"A joint {how}; {printer.joint_clear_mm:g} mm are wanted.",
                "Clear the hole after gluing, or move the vent.",
                setting="printer.joint_clear_mm",
            )
        )
    found += [_about_slivers(pieces, fate) for fate in _FATES if any(s.fate == fate for s in pieces.slivers)]
    bare = sum(not joint.pins for joint in pieces.joints)
    single = sum(len(joint.pins) == 1 for joint in pieces.joints)
    if bare + single and printer.joint != "none":
        words = f"{counted(bare, 'joint')} of {len(pieces.joints)} left without pins" if bare else ""
        words += " and " if bare and single else ""
        words += f"{counted(single, 'joint')} with one pin, about which it can turn" if single else ""
        found.append(
            UNPINNED.found(
                "note",
                f"{words}: no room for more.",
                "Use thinner pins, or clamp the pieces while the glue sets.",
                setting="printer.pin_mm",
            )
        )
    if cast and pieces.split:
        found.append(
            GLUE_FIRST.found(
                "note",
                f"The shell comes in {len(pieces.pieces)} pieces that meet at their walls alone.",
                "Glue and seal them before you cast it full, or choose a ribbed hollow.",
                setting="hollow.kind",
            )
        )
    blank = [piece.name for piece in pieces.pieces if not piece.lettered]
    if blank:
        found.append(
            UNLETTERED.found(
                "note",
                f"No room for a letter underneath {', '.join(blank)}.",
                "Write it on after printing; the pictures show which piece it is.",
            )
        )
    return found


def _about_slivers(pieces: "Pieces", fate: str) -> Finding:
    """What became of what the planes shave off, with the largest of it and its place."""
    some = [sliver for sliver in pieces.slivers if sliver.fate == fate]
    largest = max(some, key=lambda sliver: sliver.volume_mm3)
    severity, one, many = _FATES[fate]
    size = f"{rounded(largest.volume_mm3)} mm\u00b3 at {at_words(largest.at_mm)}"
    size = size if len(some) == 1 else f"the largest {size}"
    return SLIVERS.found(
        severity,
        f"{counted(len(some), 'sliver')} beside the split planes ({size}) {one if len(some) == 1 else many}.",
        "Move the plane off the bump, or deeper into it." if fate != "joined" else "",
        at_mm=largest.at_mm,
        setting="printer.planes_mm",
    )


def _unasked(pieces: "Pieces") -> list[Finding]:
    wide, deep, tall = pieces.size_mm
    if all(side <= most for side, most in zip(sorted((wide, deep)), _USUAL_MM)) and tall <= _USUAL_MM[2]:
        return []
    return [
        LARGE.found(
            "note",
            f"The buck is {wide:.0f} x {deep:.0f} x {tall:.0f} mm, more than the beds of common printers.",
            "Give your printer's bed to have it split into pieces.",
            setting="printer.bed_mm",
        )
    ]
