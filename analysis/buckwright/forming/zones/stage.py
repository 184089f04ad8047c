"""The stage that works out how warm the sheet gets under the zones of the heater."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.forming.zones import findings
from buckwright.stage import Stage, Told

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.forming.heating.heated import Heated
    from buckwright.forming.heating.settings import HeatingSettings
    from buckwright.forming.sheets.settings import SheetSettings
    from buckwright.forming.zones.zoned import Zoned

__all__ = ["ZONES"]


def _zones(
    sheet: "SheetSettings",
    heating: "HeatingSettings",
    heated: "Heated",
    heater_zones: str,
    clock: "Clock",
) -> "Zoned | None":
    """None in an oven, and where the sheet cannot be heated at all."""
    if heating.heater == "oven" or not heated.works:
        return None
    from buckwright.forming.forecast.heat import RISE_C
    from buckwright.forming.forecast.heat_map import MOST_HEAT
    from buckwright.forming.sheets.materials import sheet as material_of
    from buckwright.forming.zones.zoned import heat_zones
    from buckwright.frame_map import map_rows
    from buckwright.workshop.machine.figures import MOST_FLUX

    low, high = MOST_FLUX
    return heat_zones(
        map_rows(heater_zones, name="heater_zones", figure="relative flux", low=low, high=high),
        heated,
        material_of(sheet.material),
        sheet.thickness_mm,
        heating,
        rise_c=RISE_C,
        most_heat=MOST_HEAT,
        tick=clock.ask,
    )


def _findings(zoned: "Zoned", told: Told) -> "list[Finding]":
    from buckwright.forming.sheets.materials import sheet as material_of

    return findings.about_zones(zoned, material_of(told.job.sheet.material))


def _sections(zoned: "Zoned", _told: Told) -> Mapping[str, Any]:
    return {"heater_zones": zoned.to_dict()}


def _facts(zoned: "Zoned", _told: Told) -> list[str]:
    means = [value for row in zoned.mean_c for value in row]
    return [
        f"Heater zones: the sheet is {min(means):.0f} to {max(means):.0f} °C over the frame after "
        f"{zoned.after_s:.0f} s"
    ]


ZONES = Stage(
    name="zones",
    title="heating under each zone",
    gives="zoned",
    needs=("sheet", "heating", "heated", "machine.heater_zones"),
    run=_zones,
    wanted=lambda tables: bool(tables["machine"].heater_zones.strip()),
    by_value=True,
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    facts=_facts,
)
