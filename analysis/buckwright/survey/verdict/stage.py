"""The stage that surveys the buck: whether the part releases from it."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.findings import counted
from buckwright.forming.sheets.settings import SheetSettings
from buckwright.stage import Answer, Stage, Told
from buckwright.survey.settings import DraftSettings
from buckwright.survey.verdict import findings

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.forming.forecast.buck_forecast import BuckForecast
    from buckwright.shape.base.building import Blank
    from buckwright.survey.surveying import PartRelease

__all__ = ["VERDICT"]

# A place of less than a tenth of a millimetre square holds no sheet: house rule.
_SPECK_MM2 = 0.01


def _judge(
    blank: "Blank", formed: "BuckForecast | None", sheet: SheetSettings, draft: DraftSettings, clock: "Clock"
) -> "PartRelease":
    """What stands above the trim line, judged like a sculpt, with the forecast thickness if there is one."""
    import numpy as np

    from buckwright.forming.sheets.materials import sheet as material_of
    from buckwright.shape.solid import as_mesh
    from buckwright.survey.stage import wanted_deg
    from buckwright.survey.surveying import survey

    assert blank.solid is not None and blank.plan is not None
    with clock.step("surveying the buck"):
        plane = blank.plan.trim_z_mm
        part = blank.solid.trim_by_plane((0.0, 0.0, 1.0), plane).translate((0.0, 0.0, -plane))
        lift = np.array([0.0, 0.0, plane])
        surveyed = survey(
            as_mesh(part),
            part.slice,
            wanted_deg=wanted_deg(draft, sheet),
            sheet_mm=sheet.thickness_mm,
            allowable=material_of(sheet.material).strain,
            speck_mm2=_SPECK_MM2,
            thickness_at=None if formed is None else lambda places: formed.thickness_at(places + lift),
        )
    return surveyed.release


def _findings(verdict: "PartRelease", told: Told) -> "list[Finding]":
    from buckwright.survey.release import COMES_OFF_MM

    return findings.about_verdict(
        verdict,
        fill_mode=told.job.fill.mode,
        free_mm=COMES_OFF_MM,
        lift_mm=told.results["blank"].plan.trim_z_mm,
    )


def _answers(verdict: "PartRelease", _told: Told) -> list[Answer]:
    from buckwright.survey.release import COMES_OFF_MM

    if verdict.locked:
        return [Answer("Releases", f"no: it locks in {counted(verdict.locked, 'place')} on this buck.")]
    if verdict.widest_mm > COMES_OFF_MM:
        return [Answer("Releases", f"yes, with up to {verdict.widest_mm:.1f} mm of sideways flex.")]
    return [Answer("Releases", "yes, straight off the buck.")]


def _sections(verdict: "PartRelease", _told: Told) -> Mapping[str, Any]:
    return {"release": {"locked": verdict.locked, "sideways_left_mm": verdict.widest_mm}}


VERDICT = Stage(
    name="verdict",
    title="surveying the buck",
    gives="verdict",
    needs=("blank", "formed", "sheet", "draft"),
    run=_judge,
    keep=True,
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    answers=_answers,
)
