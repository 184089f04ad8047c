"""The stages that survey the buck and tell whether the part releases from it."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.findings import counted
from buckwright.forming.sheets.settings import SheetSettings
from buckwright.stage import Answer, Figure, Stage, Told, entry_of
from buckwright.survey.settings import DraftSettings
from buckwright.survey.verdict import findings

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.forming.forecast.buck_forecast import BuckForecast
    from buckwright.shape.base.building import Blank
    from buckwright.survey.verdict.judging import Held, Verdict

__all__ = ["HOLD", "VERDICT"]

# So many places in the report; the area is that of all.
_MOST_PLACES = 20


def _survey(blank: "Blank", sheet: SheetSettings, draft: DraftSettings, form: str, clock: "Clock") -> "Held":
    """What the sheet must leave, surveyed like a sculpt."""
    from buckwright.forming.sheets.materials import sheet as material_of
    from buckwright.shape.solid import as_mesh
    from buckwright.survey.stage import wanted_deg
    from buckwright.survey.verdict.judging import survey_buck

    assert blank.solid is not None and blank.plan is not None
    with clock.step("surveying the buck"):
        plane = blank.plan.judged_above_mm
        part = blank.solid.trim_by_plane((0.0, 0.0, 1.0), plane).translate((0.0, 0.0, -plane))
        return survey_buck(
            as_mesh(part),
            wanted_deg=wanted_deg(draft, sheet, form),
            sheet_mm=sheet.thickness_mm,
            allowable=material_of(sheet.material).strain,
        )


def _judge(
    blank: "Blank", held: "Held", formed: "BuckForecast | None", sheet: SheetSettings, clock: "Clock"
) -> "Verdict":
    """With the forecast thickness if there is one."""
    import numpy as np

    from buckwright.forming.sheets.materials import sheet as material_of
    from buckwright.survey.verdict.judging import judge_buck

    clock.ask()
    assert blank.plan is not None
    lift = np.array([0.0, 0.0, blank.plan.judged_above_mm])
    return judge_buck(
        held,
        sheet_mm=sheet.thickness_mm,
        allowable=material_of(sheet.material).strain,
        thickness_at=None if formed is None else lambda places: formed.thickness_at(places + lift),
    )


def _findings(verdict: "Verdict", told: Told) -> "list[Finding]":
    from buckwright.survey.release import COMES_OFF_MM

    fill = told.job.fill
    lift = told.results["blank"].plan.judged_above_mm
    return [
        *findings.about_verdict(verdict.release, fill_mode=fill.mode, free_mm=COMES_OFF_MM, lift_mm=lift),
        *findings.about_draft(
            verdict.short, filled=fill.mode == "full" and not fill.keep_tight, lift_mm=lift
        ),
    ]


def _answers(verdict: "Verdict", _told: Told) -> list[Answer]:
    from buckwright.survey.release import COMES_OFF_MM

    release = verdict.release
    if release.locked:
        return [Answer("Releases", f"no: it locks in {counted(release.locked, 'place')} on this buck.")]
    if release.widest_mm > COMES_OFF_MM:
        return [Answer("Releases", f"yes, with up to {release.widest_mm:.1f} mm of sideways flex.")]
    return [Answer("Releases", "yes, straight off the buck.")]


def _sections(verdict: "Verdict", told: Told) -> Mapping[str, Any]:
    release, lift = verdict.release, told.results["blank"].plan.judged_above_mm
    return {
        "release": {
            "locked": release.locked,
            "sideways_left_mm": release.widest_mm,
            "short_of_draft_mm2": verdict.short.area_mm2,
            "short_of_draft": [place.to_dict(lift_mm=lift) for place in verdict.short.places[:_MOST_PLACES]],
        }
    }


HOLD = Stage(
    name="hold",
    title="surveying the buck",
    gives="held",
    needs=("blank", "sheet", "draft", "mould.form"),
    run=_survey,
    beside=True,
    keep=True,
)

VERDICT = Stage(
    name="verdict",
    title="judging the release",
    gives="verdict",
    needs=("blank", "held", "formed", "sheet"),
    run=_judge,
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    answers=_answers,
    figures=(
        Figure(name="locked", label="Locked Areas", of=entry_of("release.locked"), better="less"),
        Figure(
            name="sideways_mm",
            label="Sideways Flex",
            unit="mm",
            of=entry_of("release.sideways_left_mm"),
            better="less",
            digits=1,
        ),
    ),
)
