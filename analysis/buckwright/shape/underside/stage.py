"""The stage that plans the underside."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.shape.underside import findings
from buckwright.shape.underside.settings import UndersideSettings
from buckwright.stage import Stage, Told

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.shape.base.building import Blank
    from buckwright.shape.underside.planning import Underside
    from buckwright.shape.vents.fitting import Vented

__all__ = ["UNDERSIDE"]


def _plan(
    blank: "Blank",
    vented: "Vented",
    underside: UndersideSettings,
    channel_width_mm: float,
    channel_depth_mm: float,
    wall_mm: float,
    platen_holes_mm: tuple[tuple[float, float], ...] | None,
    name: str,
    number: str,
    clock: "Clock",
) -> "Underside":
    import numpy as np

    from buckwright.shape.solid_height import solid_height
    from buckwright.shape.underside.planning import plan_underside

    assert blank.plan is not None
    with clock.step("planning the underside"):
        return plan_underside(
            blank.plan.underside,
            lambda places: np.minimum(solid_height(vented.columns, places), vented.plan.under_legs(places)),
            vented.plan.feet,
            np.array([vent.back_bore_mm for vent in vented.plan.vents], np.float64),
            channel_width_mm=channel_width_mm,
            channel_depth_mm=channel_depth_mm,
            wall_mm=wall_mm,
            platen_holes=np.array(platen_holes_mm or (), np.float64).reshape(-1, 2),
            fixing=underside.fixing,
            fixing_count=underside.fixing_count,
            name=name if underside.engrave else "",
            number=number if underside.engrave else "",
        )


def _findings(planned: "Underside", told: Told) -> "list[Finding]":
    holes = told.job.vents.platen_holes_mm or ()
    vents = len(told.results["vented"].plan.vents)
    return findings.about_underside(planned, platen_holes=len(holes), vents=vents)


def _sections(planned: "Underside", _told: Told) -> Mapping[str, Any]:
    return {"underside": planned.to_dict()}


UNDERSIDE = Stage(
    name="underside",
    title="planning the underside",
    gives="grooved",
    needs=(
        "blank",
        "vented",
        "underside",
        "vents.channel_width_mm",
        "vents.channel_depth_mm",
        "vents.wall_mm",
        "vents.platen_holes_mm",
        "job.name",
        "job.number",
    ),
    run=_plan,
    tables={"underside": UndersideSettings},
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
)
