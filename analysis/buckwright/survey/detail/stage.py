"""The stage that looks for details that are too fine for the sheet."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.stage import ColorMap, Stage, Told
from buckwright.survey.detail import findings
from buckwright.survey.detail.settings import DetailSettings

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.shape.base.building import Blank
    from buckwright.survey.detail.measuring import Detail

__all__ = ["DETAIL"]

#: What lies lower than this over the trim line belongs to its ledge.
_OVER_LEDGE_MM = 0.1


def _measure(blank: "Blank", detail: DetailSettings, thickness_mm: float, clock: "Clock") -> "Detail":
    from buckwright.survey.detail.measuring import measure_detail, stroke_of

    with clock.step("looking for fine details"):
        plan = blank.plan
        return measure_detail(
            blank.mesh,
            stroke_mm=stroke_of(detail.stroke_mm, thickness_mm),
            edge_radius_mm=detail.edge_radius_mm,
            sheet_mm=thickness_mm,
            above_mm=0.0 if plan is None else plan.judged_above_mm + _OVER_LEDGE_MM,
        )


def _findings(detailed: "Detail", _told: Told) -> "list[Finding]":
    return findings.about_detail(detailed)


def _sections(detailed: "Detail", _told: Told) -> Mapping[str, Any]:
    return {"detail": detailed.to_dict()}


def _arrays(detailed: "Detail", told: Told) -> Mapping[str, Any]:
    """Depth that grooves lose over each face of the file, seen down the pull (nan where not checked)."""
    import numpy as np

    sources = told.sources()
    lost = np.full(len(sources.source), np.nan, np.float32)
    there = sources.source >= 0
    lost[there] = detailed.lost_at(told.stand.places(sources.middles[there]))
    return {"detail_lost_mm": lost}


def _automatic(detailed: "Detail") -> Mapping[str, Any]:
    return {"detail.stroke_mm": detailed.stroke_mm}


DETAIL = Stage(
    name="detail",
    title="looking for fine details",
    gives="detailed",
    needs=("blank", "detail", "sheet.thickness_mm"),
    run=_measure,
    tables={"detail": DetailSettings},
    beside=True,
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    arrays=_arrays,
    automatic=_automatic,
    maps=(
        ColorMap(
            array="detail_lost_mm",
            label="Detail Lost",
            tip="Depth of grooves over which the sheet closes",
            unit="mm",
            zero_is_free=True,
        ),
    ),
)
