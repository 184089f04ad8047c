"""The stage that checks the vents against the forecast."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.forming.drainage import findings
from buckwright.forming.forecast.settings import ForecastSettings
from buckwright.shape.vents.settings import VentSettings
from buckwright.stage import Stage, Told

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.forming.drainage.draining import Drainage
    from buckwright.forming.forecast.buck_forecast import BuckForecast
    from buckwright.shape.base.building import Blank
    from buckwright.shape.vents.fitting import Vented

__all__ = ["DRAINAGE"]


def _drain(
    blank: "Blank",
    formed: "BuckForecast | None",
    vented: "Vented",
    forecast: ForecastSettings,
    vents: VentSettings,
    thickness_mm: float,
    clock: "Clock",
) -> "Drainage | None":
    """None without a forecast."""
    if formed is None:
        return None
    import attrs

    from buckwright.forming.air.evacuation import through_vents_s
    from buckwright.forming.drainage.draining import drain
    from buckwright.forming.forecast.buck_forecast import run_forecast
    from buckwright.forming.forecast.stage import levels_of

    second = None
    if forecast.place_vents:
        with clock.step("forecasting with the vents"):
            second = run_forecast(
                formed.relief,
                levels_of(blank),
                attrs.evolve(forecast, heat_map=formed.forecast.settings.heat_map),
                clock.tick,
                sheet_mm=thickness_mm,
                plenum_kpa=vents.under_platen_kpa,
                quality="fine" if forecast.quality == "fine" else "preview",
                vents_mm=vented.tops_mm,
                frame_mm=formed.forecast.settings.frame_mm,
                begun=formed.forecast,
            )

    def times(volumes: "NDArray[np.float64]", count: "NDArray[np.int64]") -> list[float]:
        return through_vents_s(
            volumes,
            count,
            hole_mm2=vented.plan.face.area_mm2,
            skin_mm=vents.skin_mm,
            target_share=vents.left_share,
            plenum_kpa=vents.under_platen_kpa,
        )

    return drain(formed.forecast, vented.tops_mm, times, second, vented.plan.dropped)


def _findings(drained: "Drainage", told: Told) -> "list[Finding]":
    return findings.about_drainage(
        drained,
        told.results["formed"].forecast,
        target_s=told.job.vents.target_s,
    )


def _sections(drained: "Drainage", _told: Told) -> Mapping[str, Any]:
    return {"drainage": drained.to_dict()}


DRAINAGE = Stage(
    name="drainage",
    title="checking the vents against the forecast",
    gives="drained",
    needs=("blank", "formed", "vented", "forecast", "vents", "sheet.thickness_mm"),
    run=_drain,
    beside=True,
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
)
