"""What there is to say of heating the sheet."""

import math
from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind

if TYPE_CHECKING:
    from buckwright.forming.heating.heated import Heated
    from buckwright.forming.heating.settings import HeatingSettings
    from buckwright.forming.sheets.table import SheetMaterial

__all__ = ["KINDS", "about_heating", "about_oven"]

BURNS = FindingKind(
    slug="surface-burns-first",
    title="Surface burns first",
    why=(
        "Heat reaches the core only through the sheet. Where it comes in faster than it passes through, the surface "
        "bubbles, scorches or gives off fume while the core is still too cold to form."
    ),
    rule=(
        "The coldest place must reach the lowest temperature of the sheet's forming window before the hottest "
        "reaches the highest."
    ),
    source="transient conduction through the sheet (docs: heating the sheet); forming windows as the table of sheets gives them",
    remedies=(
        "Turn the heater down or move it away, and heat for longer.",
        "Heat both sides.",
        "Use thinner sheet.",
    ),
)
COLD = FindingKind(
    slug="sheet-stays-cold",
    title="Sheet stays cold",
    why="What the sheet takes up it loses again to the air, before it can be formed.",
    rule="The coldest place must reach the lowest temperature of the sheet's forming window at all.",
    source="transient conduction with losses to the air (docs: heating the sheet)",
    remedies=(
        "Turn the heater up or move it closer.",
        "Heat both sides.",
        "Shield the sheet from draughts, or put a reflector on the unheated side.",
    ),
)
CARRIED = FindingKind(
    slug="sheet-cools-on-the-way",
    title="Cools on the way",
    why="A surface that is too cold when it lands does not take up detail, and leaves chill marks.",
    rule="Carrying takes no longer than the coldest place stays above the lowest temperature of the window.",
    source="radiation and convection to the room (docs: heating the sheet); the carrying time is yours",
    remedies=(
        "Heat longer, up to the latest time.",
        "Shorten the way: heat right over the buck.",
        "Use thicker sheet, which holds its heat longer.",
    ),
)
THICK = FindingKind(
    slug="sheet-beyond-data",
    title="Sheet thicker than its data",
    why="The table's figures are those of thin sheet. Thick sheet heats, draws and cools otherwise, and carries more.",
    rule="The sheet is at most 3 mm thick, where heavy gauge begins.",
    source="trade's division of gauges: thin below 1.5 mm, heavy from 3 mm (from memory, no source)",
    remedies=(
        "Use thinner sheet.",
        "Enter a sheet of your own with the figures of its maker's data sheet.",
    ),
)
UNZONED = FindingKind(
    slug="oven-without-zones",
    title="An oven has no zones",
    why="Zones are those of a heater that faces the sheet; hot air all round does not follow them, and the forecast "
    "takes the sheet as evenly warm.",
    rule="Told where the machine has heater zones and the sheet is heated in an oven.",
    source="this tool's own model of heating",
    remedies=(
        "Choose the radiant heater, if the sheet hangs under one.",
        "Measure the hot sheet and enter its temperatures as the forecast's heat map: that counts for any heater.",
        "Leave the zones out.",
    ),
)
KINDS = (BURNS, COLD, CARRIED, THICK, UNZONED)

_THICKEST_MM = 3.0

_UNITS = {"flux_kw_m2": "kW/m²", "heater_c": "°C", "oven_c": "°C"}


def about_heating(
    heated: "Heated", material: "SheetMaterial", thickness_mm: float, settings: "HeatingSettings"
) -> list[Finding]:
    """Findings about heating.

    Parameters
    ----------
    heated : what was worked out
    material, thickness_mm : the sheet
    settings : heater and room

    Returns
    -------
    list of Finding
    """
    what = f"{thickness_mm:g} mm {material.name.replace('_', '/')}"
    thick = _thick(what, thickness_mm)
    if heated.works:
        return [*_carried(heated, what, settings), *thick]
    cause = (
        _burns(heated, what, material, settings)
        if math.isfinite(heated.latest_s)
        else _cold(heated, what, material)
    )
    return [cause, *thick]


def about_oven(settings: "HeatingSettings", *, zones: str, heat_map: str) -> list[Finding]:
    """Findings about zones of a heater that nothing is made of.

    Parameters
    ----------
    settings : heater and room
    zones : map of relative flux of the machine's heater; empty for none
    heat_map : of the sheet, as the forecast is given it; empty for none
    """
    if settings.heater != "oven" or not zones.strip():
        return []
    words = "The machine's heater zones were left out: the sheet is heated in an oven, which has none"
    words += "." if heat_map.strip() else ", and the forecast takes it as evenly warm."
    advice = "Choose the radiant heater if the sheet hangs under one."
    if not heat_map.strip():
        advice += " An oven that heats unevenly is told by a heat map of the sheet."
    return [UNZONED.found("warn", words, advice, setting="heating.heater")]


def _thick(what: str, thickness_mm: float) -> list[Finding]:
    if thickness_mm <= _THICKEST_MM:
        return []
    words = f"{what} is thicker than the sheet that its figures are for ({_THICKEST_MM:g} mm)."
    advice = "Use thinner sheet, or enter the figures of its maker as a sheet of your own."
    return [THICK.found("note", words, advice, setting="sheet.thickness_mm")]


def _carried(heated: "Heated", what: str, settings: "HeatingSettings") -> list[Finding]:
    if settings.carry_s <= heated.hold_s:
        return []
    words = (
        f"Heated for {heated.chosen_s:.0f} s, {what} stays warm enough for {heated.hold_s:.1f} s; "
        f"carrying takes {settings.carry_s:g} s."
    )
    advice = "Get it onto the buck faster."
    if heated.chosen_s < heated.latest_s < math.inf:
        advice = f"Heat longer, up to {_down(heated.latest_s, 0)} s, or get it onto the buck faster."
    return [CARRIED.found("warn", words, advice, setting="heating.carry_s")]


def _burns(heated: "Heated", what: str, material: "SheetMaterial", settings: "HeatingSettings") -> Finding:
    core = f"after {heated.earliest_s:.0f} s" if math.isfinite(heated.earliest_s) else "never"
    words = (
        f"The surface of {what} reaches {material.forming_highest_c.low:g} °C after {heated.latest_s:.0f} s, before the "
        f"coldest place reaches {material.forming_lowest_c.high:g} °C ({core})."
    )
    setting = f"heating.{heated.strength}"
    if math.isfinite(heated.least):
        limit = _down(heated.greatest, 1 if heated.strength == "flux_kw_m2" else 0)
        advice = f"Turn the heater down to {limit} {_UNITS[heated.strength]} at most{_both(settings)}."
    elif not settings.both_sides:
        advice, setting = (
            "The sheet is too thick to be heated from one side: heat both sides.",
            "heating.sides",
        )
    else:
        advice = "The sheet is too thick for this heater at any setting: use thinner sheet."
        setting = "sheet.thickness_mm"
    return BURNS.found("warn", words, advice, setting=setting)


def _both(settings: "HeatingSettings") -> str:
    return ", or heat both sides" if not settings.both_sides else ""


def _cold(heated: "Heated", what: str, material: "SheetMaterial") -> Finding:
    words = f"{what} never reaches {material.forming_lowest_c.high:g} °C throughout: it loses as much as it takes up."
    need = _up(heated.least, 1 if heated.strength == "flux_kw_m2" else 0)
    advice = (
        f"Turn the heater up to {need} {_UNITS[heated.strength]} at least." if need else "Heat both sides."
    )
    return COLD.found("warn", words, advice, setting=f"heating.{heated.strength}")


def _down(value: float, digits: int) -> str:
    return f"{math.floor(value * 10**digits) / 10**digits:.{digits}f}"


def _up(value: float, digits: int) -> str:
    return f"{math.ceil(value * 10**digits) / 10**digits:.{digits}f}" if math.isfinite(value) else ""
