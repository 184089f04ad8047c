"""The stage that works out how to heat the sheet."""

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.forming.heating import findings
from buckwright.forming.heating.settings import HeatingSettings
from buckwright.stage import Stage, Told

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.forming.heating.heated import Heated
    from buckwright.forming.sheets.settings import SheetSettings

__all__ = ["HEATING", "of_print"]

CAUTIONS = (
    "Heater and hot sheet burn skin and set things alight: stay with them, extinguisher at hand.",
    "Overheated sheet gives off harmful fumes: keep to the window and ventilate.",
    "Local rules and licensed practice come first.",
)
"""Burns: ISO 13732-1:2006 and a school equipment sheet; fume: HSE Plastics Processing Sheet 13 (2002)."""


def of_print(heating: HeatingSettings, material: str) -> HeatingSettings:
    """The settings with what the buck is printed of, where nothing else is said of it.

    Parameters
    ----------
    heating : as set
    material : name among the materials of prints
    """
    import attrs

    from buckwright.printing.materials import PRINT_MATERIALS

    plastic = PRINT_MATERIALS[material]
    conducts, holds = plastic.conductivity_w_mk, plastic.density_kg_m3 * plastic.heat_kj_kgk
    return attrs.evolve(
        heating,
        buck_w_mk=conducts if heating.buck_w_mk is None else heating.buck_w_mk,
        buck_kj_m3k=holds if heating.buck_kj_m3k is None else heating.buck_kj_m3k,
    )


def _heat(sheet: "SheetSettings", heating: HeatingSettings, material: str, clock: "Clock") -> "Heated":
    from buckwright.forming.heating.sheet_heating import heat_sheet
    from buckwright.forming.sheets.materials import sheet as material_of

    with clock.step("heating the sheet"):
        asked = of_print(heating, material)
        return heat_sheet(material_of(sheet.material), sheet.thickness_mm, asked, clock.ask)


def _findings(heated: "Heated", told: Told) -> "list[Finding]":
    from buckwright.forming.sheets.materials import sheet as material_of

    sheet, heating = told.job.sheet, told.job.heating
    zones, heat_map = told.job.machine.heater_zones, told.job.forecast.heat_map
    return [
        *findings.about_heating(heated, material_of(sheet.material), sheet.thickness_mm, heating),
        *findings.about_oven(heating, zones=zones, heat_map=heat_map),
    ]


def _sections(heated: "Heated", told: Told) -> Mapping[str, Any]:
    from buckwright.forming.sheets.materials import sheet as material_of

    material = material_of(told.job.sheet.material)
    keys = (
        "forming_lowest_c",
        "forming_normal_c",
        "forming_highest_c",
        "release_c",
        "softening_c",
        "drying",
        "cue",
        "fume",
        "finishing",
    )
    entries = {key: getattr(material, key).to_dict() for key in keys}
    opening = _opening_mm(told)
    sag = heated.sag_mm(opening)
    sagging = {"opening_mm": opening, "sag_mm": None if sag is None else list(sag)}
    return {"heating": heated.to_dict() | sagging | entries | {"cautions": CAUTIONS}}


def _opening_mm(told: Told) -> float | None:
    """Smaller width of the frame; None where no rig is planned."""
    rigged = told.get("rigged")
    return None if rigged is None else float(min(rigged.opening_mm))


def _facts(heated: "Heated", told: Told) -> list[str]:
    if not heated.works:
        return []
    latest = f"{math.floor(heated.latest_s)} s" if math.isfinite(heated.latest_s) else "any time"
    parts = [
        f"Heat {math.ceil(heated.earliest_s)} s to {latest}, best {heated.chosen_s:.0f} s",
        f"sag {_sag(heated, told)}",
        f"on the buck within {heated.hold_s:.1f} s",
    ]
    if math.isfinite(heated.cool_s):
        parts.append(f"off it after {math.ceil(heated.cool_s)} s")
    return [", ".join(parts)]


def _sag(heated: "Heated", told: Told) -> str:
    sag = heated.sag_mm(_opening_mm(told))
    if sag is None:
        low, high = heated.sag_share
        return f"{low:.0%} to {high:.0%} of the opening"
    return f"{sag[0]:.0f} to {sag[1]:.0f} mm"


def _automatic(heated: "Heated") -> Mapping[str, Any]:
    return {"heating.buck_w_mk": heated.buck_w_mk, "heating.buck_kj_m3k": heated.buck_kj_m3k}


HEATING = Stage(
    name="heating",
    title="heating the sheet",
    gives="heated",
    needs=("sheet", "heating", "print.material"),
    run=_heat,
    tables={"heating": HeatingSettings},
    keep=True,
    beside=True,
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    facts=_facts,
    automatic=_automatic,
)
