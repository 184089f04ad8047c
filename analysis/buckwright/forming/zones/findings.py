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
KINDS = (UNEVEN, NOT_IN_TIME)

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
        cold = "never" if math.isinf(zoned.earliest_s) else f"after {zoned.earliest_s:.0f} s"
        words = (
            f"The strongest zone reaches {material.forming_highest_c.low:g} °C after {zoned.latest_s:.0f} s, "
            f"before the weakest reaches {material.forming_lowest_c.high:g} °C throughout ({cold})."
        )
        return [UNEVEN.found("warn", words, "Even the zones out, or heat more slowly.", setting=_SETTING)]
    if zoned.earliest_s <= zoned.after_s <= zoned.latest_s:
        return []
    late = f"{math.floor(zoned.latest_s)} s" if math.isfinite(zoned.latest_s) else "any time after"
    span = f"{math.ceil(zoned.earliest_s)} s to {late}"
    words = f"{zoned.after_s:.0f} s suit the usual flux, but the zones want {span}."
    return [NOT_IN_TIME.found("warn", words, f"Heat {span}.", setting=_SETTING)]
