"""The stage that surveys the sculpt."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.findings import counted
from buckwright.forming.sheets.settings import SheetSettings
from buckwright.stage import Answer, ColorMap, Papers, Stage, Told
from buckwright.survey import findings
from buckwright.survey.settings import DraftSettings

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.pose.posing import Posed
    from buckwright.survey.face_maps import FaceMaps
    from buckwright.survey.surveying import FaceAnswers, PartRelease, Surveyed

__all__ = ["SURVEY", "wanted_deg"]


def wanted_deg(draft: DraftSettings, sheet: SheetSettings, form: str = "male") -> float:
    """Wanted draft: as given, or that of the sheet on such a mould and more for texture."""
    from buckwright.forming.sheets.materials import sheet as material_of
    from buckwright.survey.draft import FEMALE_SHARE, wanted_draft_deg

    if draft.wanted_deg is not None:
        return draft.wanted_deg
    male = material_of(sheet.material).male_draft_deg.value
    return wanted_draft_deg(male if form == "male" else FEMALE_SHARE * male, draft.texture_depth_mm)


def _survey(
    posed: "Posed", sheet: SheetSettings, draft: DraftSettings, form: str, clock: "Clock"
) -> "Surveyed":
    from buckwright.forming.sheets.materials import sheet as material_of
    from buckwright.survey.surveying import survey

    with clock.step("surveying the sculpt"):
        return survey(
            posed.mesh,
            wanted_deg=wanted_deg(draft, sheet, form),
            sheet_mm=sheet.thickness_mm,
            allowable=material_of(sheet.material).strain,
        )


def _findings(surveyed: "Surveyed", told: Told) -> "list[Finding]":
    from buckwright.forming.sheets.materials import sheet as material_of

    material = material_of(told.job.sheet.material)
    return findings.about_survey(
        surveyed,
        sheet=material.title,
        sheet_mm=told.job.sheet.thickness_mm,
        strain_limit=material.strain.low,
        strain_mark=material.strain.mark,
        fill_mode=told.job.fill.mode,
        keep_tight=told.job.fill.keep_tight,
        stand=told.stand,
    )


def _locking(release: "PartRelease", sheet_mm: float) -> str:
    """How many places lock, crumbs apart as in the finding."""
    crumbs = findings.crumbs_of([region.sideways_mm for region in release.regions], sheet_mm=sheet_mm)
    small = sum(
        crumb and one.verdict == "locked" for crumb, one in zip(crumbs, release.releases, strict=True)
    )
    counts = (release.locked - small, "place"), (small, "crumb")
    return " and ".join(counted(count, word) for count, word in counts if count)


def _sections(surveyed: "Surveyed", told: Told) -> Mapping[str, Any]:
    undercuts = surveyed.undercut_dicts(told.stand)
    return {"draft": surveyed.states.to_dict(), "undercuts": undercuts}


def _answers(surveyed: "Surveyed", told: Told) -> list[Answer]:
    release = surveyed.release
    if release.locked:
        words = f"not as sculpted: it locks in {_locking(release, told.job.sheet.thickness_mm)}."
    elif release.regions:
        words = f"yes, with up to {release.widest_mm:.1f} mm of sideways flex."
    else:
        words = "yes, straight off the sculpt."
    return [Answer("Releases", words)]


def _facts(surveyed: "Surveyed", told: Told) -> list[str]:
    if told.get("blank") is not None:
        return []
    states = surveyed.states
    shares = (
        f"free {states.free_share:.0%}, tight {states.tight_share:.0%}, trapped {states.trapped_share:.0%}"
    )
    return [f"Surface of the sculpt: {shares}; wanted draft {surveyed.wanted_deg:g} degrees"]


def _maps(answers: "FaceAnswers") -> "FaceMaps":
    import numpy as np

    from buckwright.survey.face_maps import FaceMaps

    return FaceMaps(
        state=answers.state,
        draft_deg=np.nan_to_num(answers.draft_deg),
        depth_mm=answers.depth_mm,
        sideways_mm=answers.sideways_mm,
        region=answers.region,
    )


def _map_file(surveyed: "Surveyed", told: Told) -> dict[str, bytes]:
    from buckwright.pose.posing import stood
    from buckwright.survey.face_maps import look_bytes

    shown = stood(surveyed.asked(told.results["posed"].mesh), told.stand)
    return {"look.ply": look_bytes(shown, _maps(surveyed.answers))}


def _pictures(surveyed: "Surveyed", told: Told) -> dict[str, bytes]:
    import numpy as np

    from buckwright.output.canvas.marks import RegionMark
    from buckwright.pose.posing import raised
    from buckwright.survey.pictures import LookScene, draw_look

    # in a female mould it stands upside down: it is shown as it was made, without what belongs to the mould
    lift_mm = 0.0 if told.stand.over else told.stand.lift_mm
    lift = np.array([0.0, 0.0, lift_mm])
    judged = zip(surveyed.undercuts.regions, surveyed.releases)
    regions = tuple(
        RegionMark(
            i + 1,
            np.array(region.centre_mm) + lift,
            f"{region.sideways_mm:.1f} mm sideways, {release.verdict}",
        )
        for i, (region, release) in enumerate(judged)
    )
    blank, vented = (None if told.stand.over else told.get(name) for name in ("blank", "vented"))
    return draw_look(
        LookScene(
            title=told.title,
            mesh=raised(surveyed.asked(told.results["posed"].mesh), lift_mm),
            maps=_maps(surveyed.answers),
            wanted_draft_deg=surveyed.wanted_deg,
            regions=regions,
            vents=() if vented is None else vented.marks(foot=False),
            foot_vents=0 if vented is None else vented.plan.foot_count,
            trim_z_mm=None if blank is None else blank.plan.trim_z_mm,
            faces=told.results["posed"].mesh.face_count,
        )
    )


def _draft_picture(surveyed: "Surveyed", told: Told) -> dict[str, bytes]:
    """Nothing of what is made of the sculpt is in it, so it need not wait for that."""
    from buckwright.survey.pictures import LookScene, draw_draft

    posed = told.results["posed"].mesh
    return draw_draft(
        LookScene(
            title=told.title,
            mesh=surveyed.asked(posed),
            maps=_maps(surveyed.answers),
            wanted_draft_deg=surveyed.wanted_deg,
            faces=posed.face_count,
        )
    )


def _arrays(surveyed: "Surveyed", told: Told) -> Mapping[str, Any]:
    """Per face of the file; states: 0 free, 1 tight, 2 trapped, 3 belongs to the base, -1 gone."""
    import numpy as np

    sources = told.sources()
    worst = surveyed.of_faces
    return {
        "draft_deg": sources.of(worst.draft_deg, np.nan, np.float32),
        "state": sources.of(worst.state, -1, np.int8),
        "undercut_mm": sources.of(worst.depth_mm, np.nan, np.float32),
        "sideways_mm": sources.of(worst.sideways_mm, np.nan, np.float32),
        "region": sources.of(worst.region, -1, np.int32),
    }


SURVEY = Stage(
    name="survey",
    title="surveying the sculpt",
    gives="surveyed",
    needs=("posed", "sheet", "draft", "mould.form"),
    run=_survey,
    tables={"draft": DraftSettings},
    keep=True,
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    answers=_answers,
    facts=_facts,
    papers=(
        Papers(make=_map_file, after=("blank",), loads=("trimesh",)),
        Papers(make=_draft_picture, picture=True, loads=("buckwright.survey.pictures",)),
        Papers(make=_pictures, picture=True, after=("blank", "vented")),
    ),
    arrays=_arrays,
    automatic=lambda surveyed: {"draft.wanted_deg": surveyed.wanted_deg},
    maps=(
        ColorMap(array="state", label="Draft State", tip="Free, tight or trapped"),
        ColorMap(
            array="draft_deg", label="Draft Angle", tip="Angle between face and pull", unit="deg", dark="low"
        ),
        ColorMap(
            array="undercut_mm",
            label="Undercut Depth",
            tip="Depth below an overhang",
            unit="mm",
            zero_is_free=True,
        ),
    ),
)
