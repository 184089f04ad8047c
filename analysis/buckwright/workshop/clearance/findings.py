"""What there is to say of the room between part and body."""

from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, at_words, counted, percent

if TYPE_CHECKING:
    from buckwright.workshop.clearance.measuring import Clearance, NearPlace

__all__ = ["CLEARS", "KINDS", "TOUCHES", "about_clearance"]

TOUCHES = FindingKind(
    slug="body-touches",
    title="The part touches the body",
    why="A part that presses does not go on, chafes where it is worn, and cracks where it is forced.",
    rule="Places are told where no room is left between the part and the padding: the sheet's side towards the body, as forecast, against the body's surface.",
    source="geometry; the inside of the part lies on the buck, so that the sheet's thickness counts for a body around the part only",
    remedies=(
        "Grow the shape to clearance: body.grow.",
        "Let the trim line follow the body: body.trim.",
        "Move or scale the sculpt over the body.",
        "Take thinner padding.",
    ),
)
CLEARS = FindingKind(
    slug="body-clearance",
    title="Room over the body",
    why="Room is needed for padding, for air, and for putting the part on.",
    rule="The least distance from the part to the body less the padding, in the size of the part when it has shrunk. A warning where it is less than wanted.",
    source="geometry; the wanted 2 mm are a house rule",
    remedies=("Grow the shape to clearance: body.grow.", "Ask for less clearance: body.clearance_mm."),
)
KINDS = (TOUCHES, CLEARS)

_MOST = 6
_SHORT_MM = 0.02
_ADVICE = "Grow the shape to clearance, or move it over the body."


def about_clearance(cleared: "Clearance") -> list[Finding]:
    """Findings about the room between part and body, the nearest places first."""
    touching = [place for place in cleared.places if place.touches]
    found = [_touches(place) for place in touching[:_MOST]]
    if len(touching) > _MOST:
        words = f"The part touches the body in {counted(len(touching) - _MOST, 'further place')}."
        found.append(TOUCHES.found("warn", words, setting="body.grow"))
    short = [place for place in cleared.places if not place.touches]
    wanted = f"{cleared.wanted_mm:g} mm are wanted"
    if short and not touching:
        words = (
            f"The part comes as near to the body as {cleared.least_mm:.1f} mm, at "
            f"{at_words(cleared.least_at_mm)}; {wanted}, and {counted(len(short), 'place')} "
            f"({percent(cleared.short_share)} of the part) {'has' if len(short) == 1 else 'have'} less."
        )
        found.append(
            CLEARS.found("warn", words, _ADVICE, at_mm=cleared.least_at_mm, setting="body.clearance_mm")
        )
    if not cleared.places:
        edge = ", at its edge, which follows it" if cleared.least_mm < cleared.wanted_mm - _SHORT_MM else ""
        words = f"The part stays at least {cleared.least_mm:.1f} mm off the body{edge}; {wanted}."
        found.append(CLEARS.found("note", words, at_mm=cleared.least_at_mm, setting="body.clearance_mm"))
    return found


def _touches(place: "NearPlace") -> Finding:
    deep = f" and presses in by {-place.least_mm:.1f} mm" if place.least_mm < -0.05 else ""
    words = (
        f"The part touches the body over {place.area_mm2 / 100.0:.1f} cm2{deep}, at {at_words(place.at_mm)}."
    )
    return TOUCHES.found("warn", words, _ADVICE, at_mm=place.at_mm, setting="body.grow")
