"""The buck judged like a sculpt: whether the part releases, and where it has too little draft."""

from dataclasses import dataclass

import numpy as np

from buckwright.mesh.triangles import Mesh
from buckwright.survey.findings import CRUMB_SHARE
from buckwright.survey.regions import UndercutRegion
from buckwright.survey.release import StrainRange
from buckwright.survey.shortfall import DraftShortfall, draft_shortfall
from buckwright.survey.surveying import Grip, PartRelease, ThicknessAt, survey

__all__ = ["Held", "Verdict", "judge_buck", "survey_buck"]

# A place of less than a tenth of a millimetre square holds no sheet: house rule.
_SPECK_MM2 = 0.01


@dataclass(frozen=True, slots=True)
class Held:
    """What holds the part on the buck, whatever its thickness.

    Attributes
    ----------
    grips : regions that hold it, the worst first
    short : where the draft falls short
    """

    grips: tuple[Grip, ...]
    short: DraftShortfall


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


def survey_buck(part: Mesh, *, wanted_deg: float, sheet_mm: float, allowable: StrainRange) -> Held:
    """Survey what stands above the trim line.

    Parameters
    ----------
    part : closed, its trim line on z = 0
    wanted_deg : wanted draft
    sheet_mm : thickness of the sheet
    allowable : strain that the sheet tolerates

    Returns
    -------
    Held : regions that hold the part, and places with too little draft; crumbs and cracks into which no sheet
        goes are left out
    """
    surveyed = survey(
        part, wanted_deg=wanted_deg, sheet_mm=sheet_mm, allowable=allowable, speck_mm2=_SPECK_MM2
    )
    short = draft_shortfall(surveyed.asked(part), surveyed.states, surveyed.reach.drafts_deg)
    entered = tuple(grip for grip in surveyed.grips if _enters(grip.region, CRUMB_SHARE * sheet_mm))
    return Held(entered, short)


def _enters(region: UndercutRegion, least_mm: float) -> bool:
    """Whether sheet goes into a region: it is as wide or as high, and not just a crack of less area."""
    reach = max(region.plan_diameter_mm, region.z_high - region.z_low)
    return reach >= least_mm and region.area_mm2 >= least_mm**2


def judge_buck(
    held: Held, *, sheet_mm: float, allowable: StrainRange, thickness_at: ThicknessAt | None = None
) -> Verdict:
    """Tell whether the part comes off.

    Parameters
    ----------
    held : what holds it
    sheet_mm : thickness of the sheet
    allowable : strain that the sheet tolerates
    thickness_at : tells the forecast thickness in the frame of the survey

    Returns
    -------
    Verdict
    """
    regions = tuple(grip.region for grip in held.grips)
    centres = np.array([region.centre_mm for region in regions], np.float64).reshape(-1, 3)
    thick = np.full(len(centres), np.nan) if thickness_at is None else thickness_at(centres)
    releases = tuple(
        grip.release(
            sheet_mm=sheet_mm, allowable=allowable, thickness_mm=float(here) if np.isfinite(here) else None
        )
        for grip, here in zip(held.grips, thick, strict=True)
    )
    return Verdict(PartRelease(regions, releases), held.short)
