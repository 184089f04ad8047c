"""What there is to say of a body and of growing to clearance."""

from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, percent

if TYPE_CHECKING:
    from buckwright.pose.body.growing import Growth

__all__ = ["BODY", "GROWN", "about_growth"]

BODY = FindingKind(
    slug="body-note",
    title="How the body was read",
    why="A body goes through the same door as the sculpt. What was settled or mended there is told.",
    rule="Every repair is told.",
    source="house rule",
    remedies=("Mend the body where it was made.",),
)
GROWN = FindingKind(
    slug="grown-to-clearance",
    title="Grown to clearance",
    why="Where the shape lies too near to the body, the part pinches or does not go on.",
    rule="Faces move outwards along their normals, by what they lack or all by the most that is missing, and by no more than 30 mm. A shape that still lacks more than 0.05 mm is a warning. The sculpt itself is not changed.",
    source="geometry; the limit is a house rule",
    remedies=(
        "Grow all round instead, or where it is short.",
        "Move body and sculpt apart, or change the sculpt where the body comes through.",
        "Ask for less clearance or padding.",
    ),
)

_MISSING_MM = 0.05


def about_growth(growth: "Growth", *, true: float) -> list[Finding]:
    """Findings about a shape that was grown.

    Parameters
    ----------
    growth : on the buck
    true : size of the part over that of the buck
    """
    from buckwright.pose.body.growing import MOST_MM

    room, before, after, most = (
        true * length for length in (growth.room_mm, growth.before_mm, growth.after_mm, growth.most_mm)
    )
    if most <= 0.0:
        return []
    words = (
        f"The shape was grown by up to {most:.1f} mm over {percent(growth.share)} of its surface: its least "
        f"distance from the body is {after:.1f} mm instead of {before:.1f}, and {room:.1f} mm are wanted."
    )
    short = room - after > _MISSING_MM
    if growth.most_mm >= MOST_MM - _MISSING_MM:
        words += f" It grows by no more than {true * MOST_MM:.0f} mm anywhere."
    advice = "Where the body comes through the wall, move it or change the sculpt." if short else ""
    return [GROWN.found("warn" if short else "note", words, advice, setting="body.grow")]
