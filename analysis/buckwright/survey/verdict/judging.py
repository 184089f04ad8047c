"""The buck judged like a sculpt: whether the part releases, and where it has too little draft."""

from dataclasses import dataclass

from buckwright.mesh.triangles import Mesh
from buckwright.survey.release import StrainRange
from buckwright.survey.shortfall import DraftShortfall, draft_shortfall
from buckwright.survey.surveying import PartRelease, ThicknessAt, survey

__all__ = ["Verdict", "judge_buck"]

# A place of less than a tenth of a millimetre square holds no sheet: house rule.
_SPECK_MM2 = 0.01


@dataclass(frozen=True, slots=True)
class Verdict:
    """What was found on the buck.

    Attributes
    ----------
    release : whether the part releases
    short : where the draft falls short
    """

    release: PartRelease
    short: DraftShortfall


def judge_buck(
    part: Mesh,
    *,
    wanted_deg: float,
    sheet_mm: float,
    allowable: StrainRange,
    thickness_at: ThicknessAt | None = None,
) -> Verdict:
    """Survey what stands above the trim line.

    Parameters
    ----------
    part : closed, its trim line on z = 0
    wanted_deg : wanted draft
    sheet_mm : thickness of the sheet
    allowable : strain that the sheet tolerates
    thickness_at : tells the forecast thickness at places (N, 3), nan where it is not known

    Returns
    -------
    Verdict : regions that hold the part, and places with too little draft
    """
    surveyed = survey(
        part,
        wanted_deg=wanted_deg,
        sheet_mm=sheet_mm,
        allowable=allowable,
        speck_mm2=_SPECK_MM2,
        thickness_at=thickness_at,
    )
    short = draft_shortfall(surveyed.asked(part), surveyed.states, surveyed.reach.drafts_deg)
    return Verdict(surveyed.release, short)
