"""Figures of a forecast by which runs are compared."""

from collections.abc import Mapping
from typing import Any

from buckwright.stage import Figure, entry_of

__all__ = ["FIGURES"]


def _webs_mm(report: Mapping[str, Any]) -> float | None:
    webs = report.get("forecast", {}).get("webs")
    return None if webs is None else float(sum(web["length_mm"] for web in webs))


def _crossing(report: Mapping[str, Any]) -> float | None:
    webs = report.get("forecast", {}).get("webs")
    return None if webs is None else float(sum(web["crosses_trim_line"] is True for web in webs))


def _air_cm3(report: Mapping[str, Any]) -> float | None:
    pools = report.get("forecast", {}).get("trapped_air")
    return None if pools is None else sum(pool["volume_mm3"] for pool in pools) / 1000.0


FIGURES = (
    Figure(
        name="weakest_mm",
        label="Weakest Spot",
        unit="mm",
        of=entry_of("forecast.weakest.mm"),
        band=entry_of("forecast.weakest.band_mm"),
        better="more",
        digits=2,
    ),
    Figure(
        name="thin_mm",
        label="Thin Places",
        unit="mm",
        of=entry_of("forecast.thin.mm"),
        band=entry_of("forecast.thin.band_mm"),
        better="more",
        digits=2,
    ),
    Figure(
        name="mean_mm",
        label="Mean Thickness",
        unit="mm",
        of=entry_of("forecast.mean_mm"),
        band=entry_of("forecast.mean_band_mm"),
        better="more",
        digits=2,
    ),
    Figure(name="webs_mm", label="Webs", unit="mm", of=_webs_mm, better="less"),
    Figure(name="webs_over_trim", label="Webs over the Trim Line", of=_crossing, better="less"),
    Figure(name="air_cm3", label="Sealed Air", unit="cm3", of=_air_cm3, better="less", digits=2),
)
