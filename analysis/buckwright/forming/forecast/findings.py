"""What a forecast means, in plain words."""

from typing import TYPE_CHECKING

import numpy as np

from buckwright.findings import Finding
from buckwright.forming.forecast.steps import MOST_DRAWN, OVERDRAWN

if TYPE_CHECKING:
    from buckwright.forming.forecast.forecast_sheet import Forecast

__all__ = ["SLIDING_TRUST", "TRUST", "about_air", "findings_of"]

TRUST = (
    "A forecast of an ideal sheet: evenly warm, one law of rubber, sticking where it touches. Against exact "
    "answers for that sheet it is within about 1 %; against measured parts expect about 30 % either way, as "
    "operators alone scatter by a third (Farrington et al., Dental Traumatology 2016). Webs are this tool's "
    "own heuristic. Form a test piece and measure it before you count on a thickness."
)
SLIDING_TRUST = (
    "A forecast of an ideal sheet: evenly warm, one law of rubber, sliding on the buck by one coefficient "
    "of friction. That coefficient is a guess for a hot sheet, and it decides how thick the top stays: "
    "compare it with the sheet that sticks. Against measured parts expect no better than 30 % either way. "
    "Webs are this tool's own heuristic. Form a test piece and measure it before you count on a thickness."
)
_THIN_SHARE = 0.25  # of the sheet; judgement
_MOST_AREAL_RATIO = 3.0  # straight vacuum forming without a plug: Throne, Gruenwald (from memory)
_TOLD = 4  # webs that get a finding each
_LEFT_SHARE = 0.5  # of the sheet: a gap that is left shows on the part (judgement)


def findings_of(result: "Forecast", *, height_mm: float, gap_mm: float) -> list[Finding]:
    """Everything that a user should know, worst first within each subject.

    Parameters
    ----------
    result : the forecast
    height_mm : of the buck over the platen
    gap_mm : from buck to frame

    Returns
    -------
    list of Finding
    """
    return [
        *_unfinished(result),
        *_torn(result),
        *_thin(result),
        *_gap(height_mm, gap_mm),
        *_webs(result),
        *about_air(result),
        *_unseen(result),
    ]


def _unfinished(result: "Forecast") -> list[Finding]:
    found = []
    if result.formed.stopped:
        found.append(
            Finding(
                "warn",
                f"The forecast {result.formed.stopped}: figures are those of an unfinished sheet.",
                "Try a larger sharpest radius, or the stiffening law (Mooney-Rivlin).",
            )
        )
    if result.formed.forced:
        found.append(
            Finding(
                "note",
                f"At {result.formed.forced} of the loads the sheet did not come to rest; around folds and "
                "narrow slots the figures are rough.",
            )
        )
    return found


def _torn(result: "Forecast") -> list[Finding]:
    """Where the sheet is drawn so thin that it cannot reach the buck."""
    lost = np.flatnonzero(result.formed.state == OVERDRAWN)
    if not len(lost):
        return []
    x, y, z = result.points[lost].mean(0)
    reach = float(result.gap_mm[lost].max())
    return [
        Finding(
            "warn",
            f"Round x {x:.0f}, y {y:.0f}, z {z:.0f} mm the sheet would be thinner than a {MOST_DRAWN:.0f}th "
            f"of itself ({len(lost)} nodes): it tears or bridges, up to {reach:.0f} mm off the buck.",
            "The place is too deep for its width: fill it, widen it, or set the part up another way.",
        )
    ]


def _thin(result: "Forecast") -> list[Finding]:
    sheet, thin = result.settings.sheet_mm, result.thinnest_mm
    x, y, z = result.thinnest_at_mm
    words = (
        f"Thinnest {thin:.2f} mm of {sheet:g} mm ({thin / sheet:.0%}) at x {x:.0f}, y {y:.0f}, z {z:.0f} mm."
    )
    found = []
    if thin < _THIN_SHARE * sheet:
        found.append(
            Finding(
                "warn",
                words,
                "Start with a thicker sheet, or give that place more draft, a rounder edge or room.",
            )
        )
    else:
        found.append(Finding("note", words))
    if result.areal_draw_ratio > _MOST_AREAL_RATIO:
        found.append(
            Finding(
                "warn",
                f"On the buck the sheet is drawn to {result.areal_draw_ratio:.1f} times its area; about "
                f"{_MOST_AREAL_RATIO:g} is what plain vacuum forming reaches (from memory).",
                "A lower buck, a wider frame, more draft or a plug.",
            )
        )
    return found


def _gap(height_mm: float, gap_mm: float) -> list[Finding]:
    if gap_mm >= height_mm:
        return []
    return [
        Finding(
            "note",
            f"The gap to the frame is {gap_mm:.0f} mm, less than the height of {height_mm:.0f} mm: the foot "
            "is drawn from little sheet (Takahashi & Bando 2018).",
            "A larger frame or a lower riser makes walls and foot thicker.",
        )
    ]


def _webs(result: "Forecast") -> list[Finding]:
    found = []
    for web in result.webs[:_TOLD]:
        x, y, z = web.where_mm
        crosses = web.crosses_trim_line
        where = {True: ", over the trim line", False: ", under the trim line", None: ""}[crosses]
        found.append(
            Finding(
                "note" if crosses is False else "warn",
                f"A web {web.length_mm:.0f} mm long, up to z {web.height_mm:.0f} mm{where}, at x {x:.0f}, "
                f"y {y:.0f}, z {z:.0f} mm (this tool's own heuristic).",
                ""
                if crosses is False
                else "More draft, rounder corners, more room, or a block that takes it up.",
            )
        )
    if len(result.webs) > _TOLD:
        found.append(Finding("note", f"There are {len(result.webs) - _TOLD} smaller webs besides."))
    return found


def about_air(result: "Forecast") -> list[Finding]:
    """What there is to say about the air that the sheet traps.

    Parameters
    ----------
    result : the forecast

    Returns
    -------
    list of Finding : one, or none without pockets
    """
    if not result.pockets:
        return []
    left = [pocket for pocket in result.pockets if pocket.left_mm > _LEFT_SHARE * result.settings.sheet_mm]
    volume = sum(pocket.volume_mm3 for pocket in result.pockets)
    words = f"The sheet shuts air in at {len(result.pockets)} places, {volume / 1000:.1f} ml in all"
    if result.settings.vents is None:
        return [Finding("warn", words + ".", "Vent each at its last touched point.")]
    if not left:
        return [Finding("note", words + ", too little to show.")]
    return [Finding("warn", f"{words}; at {len(left)} of them it stays bridged.", "Add vents there.")]


def _unseen(result: "Forecast") -> list[Finding]:
    cell = result.settings.cell_mm
    if result.overlooked_mm < 0.25 * cell:
        return []
    return [
        Finding(
            "note",
            f"Details finer than the sheet's cell of {cell:.1f} mm are not seen: the buck stands out of the "
            f"sheet by up to {result.overlooked_mm:.1f} mm between nodes.",
            "More nodes show them.",
        )
    ]
