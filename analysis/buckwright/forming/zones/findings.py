"""What there is to say of a heater whose zones differ."""

import math
from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind

if TYPE_CHECKING:
    from buckwright.forming.sheets.table import SheetMaterial
    from buckwright.forming.zones.zoned import Zoned

__all__ = ["KINDS", "about_zones"]

UNEVEN = FindingKind(
    slug="zones-too-uneven",
    title="Zones too uneven",
    why="Where the sheet is too cold it bridges and tears off detail; where it is too hot it thins, webs and scorches.",
    rule="There is a time at which the weakest zone can be formed and the strongest is not yet too hot.",
    source="transient conduction under each zone (docs: heating the sheet); forming windows as the table of sheets gives them",
    remedies=(
        "Turn the strongest zone down, or shade it with mesh or foil.",
        "Turn the sheet half-way through.",
        "Move the heater away and heat for longer.",
    ),
)
NOT_IN_TIME = FindingKind(
    slug="zones-need-another-time",
    title="Zones want another time",
    why="The time that suits the usual flux leaves a weak zone too cold, or a strong one too hot.",
    rule="The chosen time lies within the times that suit every zone.",
    source="transient conduction under each zone (docs: heating the sheet)",
    remedies=("Heat for a time that suits every zone.", "Even the zones out."),
)
BEYOND = FindingKind(
    slug="zones-beyond-forecast",
    title="Zones beyond the forecast",
    why="A sheet that is much colder or hotter in places than on the whole forms otherwise than a forecast can say.",
    rule="Under every zone the sheet has 0.8 to 1.2 of the usual heat; the forecast takes it for no colder and no hotter.",
    source="judgement",
    remedies=("Even the zones out.", "Read the forecast there as too favourable."),
)
KINDS = (UNEVEN, NOT_IN_TIME, BEYOND)

_SETTING = "machine.heater_zones"


def about_zones(zoned: "Zoned", material: "SheetMaterial") -> list[Finding]:
    """Findings about zones.

    Parameters
    ----------
    zoned : temperatures under the zones
    material : the sheet

    Returns
    -------
    list of Finding
    """
    if not zoned.at_once:
        cold = f"{material.forming_lowest_c.high:g} °C throughout"
        words = f"The weakest zone never reaches {cold}"
        if math.isfinite(zoned.earliest_s):
            words = f"The weakest zone reaches {cold} after {zoned.earliest_s:.0f} s only"
        if math.isfinite(zoned.latest_s):
            words += f", and the strongest is at {material.forming_highest_c.low:g} °C after {zoned.latest_s:.0f} s"
        words += "."
        return [UNEVEN.found("warn", words, "Even the zones out, or heat more slowly.", setting=_SETTING)]
    found = [] if zoned.earliest_s <= zoned.after_s <= zoned.latest_s else [_other_time(zoned)]
    if zoned.cut_off:
        words = "Under some zones the sheet is colder or hotter than the forecast takes it for."
        found.append(BEYOND.found("note", words, "Even the zones out.", setting=_SETTING))
    return found


def _other_time(zoned: "Zoned") -> Finding:
    late = f"{math.floor(zoned.latest_s)} s" if math.isfinite(zoned.latest_s) else "any time after"
    span = f"{math.ceil(zoned.earliest_s)} s to {late}"
    words = f"{zoned.after_s:.0f} s suit the usual flux, but the zones want {span}."
    return NOT_IN_TIME.found("warn", words, f"Heat {span}.", setting=_SETTING)
