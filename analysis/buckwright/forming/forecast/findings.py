"""What a forecast means, in plain words."""

from typing import TYPE_CHECKING, Any

import numpy as np

from buckwright.findings import Finding, FindingKind, at_words, counted
from buckwright.forming.forecast.flare_findings import FLARED, about_flare
from buckwright.forming.forecast.thresholds import COUNTED_MM3, DISC_MM, HANDY_MM, THIN_SHARE

if TYPE_CHECKING:
    from buckwright.forming.forecast.buck_forecast import BuckForecast
    from buckwright.forming.forecast.result import Forecast

__all__ = ["KINDS", "SLIDING_TRUST", "TRUST", "about_forecast", "about_sheet"]

_MEASURED = (
    "No part was measured for this tool. Of five walls over dental arches that were published, a sheet with a cold rim "
    "comes within about 11 %, one that is evenly warm comes out 22 % too thick; narrow edges have come out up to twice "
    "as thin as forecast, and operators alone vary by a third. Webs are this tool's own heuristic. Form a test piece "
    "and measure it before you count on a thickness."
)
TRUST = (
    "A forecast of an ideal sheet: one rubber law, sticking where it touches. Against exact answers for that sheet it "
    f"is within about 1 %. {_MEASURED}"
)
SLIDING_TRUST = (
    "A forecast of an ideal sheet: one rubber law, sliding on the buck with one coefficient of friction. For a hot "
    "sheet that coefficient is a guess, and it decides how thick the top stays: compare it with a sheet that sticks. "
    f"{_MEASURED}"
)

UNFINISHED = FindingKind(
    slug="unfinished-forecast",
    title="The forecast is unfinished",
    why="Its figures describe a sheet that has not come to rest.",
    rule="The sheet is followed until its forces balance at every load; told where that was not reached.",
    source="numerical method",
    remedies=("Try a larger sharpest radius.", "Try the Mooney-Rivlin law, which stiffens."),
)
TORN = FindingKind(
    slug="overdrawn",
    title="The sheet tears or bridges",
    why="A place too deep for its width asks for more stretch than any sheet has.",
    rule="Told where the sheet would be thinner than a 25th of its starting thickness.",
    source="judgement",
    remedies=("Fill the place.", "Widen it.", "Choose another pull."),
)
THIN = FindingKind(
    slug="weakest-spot",
    title="The weakest spot",
    why="The part breaks where it is thinnest; clear or painted parts show it first.",
    rule=(
        "The least mean over a disc of 10 mm, off folds. A warning below a quarter of the sheet; where less than 0.3 mm "
        "is certain, a thicker sheet is tried and named."
    ),
    source="house rule; thickness by a membrane model (docs: forecast)",
    remedies=(
        "Start with a thicker sheet.",
        "Round the edge above that place.",
        "Give it more draft or room.",
    ),
)
FOLDS = FindingKind(
    slug="not-known-at-folds",
    title="Thickness not known",
    why="Where the sheet folds or tears it is frozen, which thins its neighbours: no figure there is worth showing.",
    rule="Within three cells of a fold or a tear the thickness is left out; told from 2 % of the part on.",
    source="numerical method",
    remedies=(
        "Form a test piece and look at that place.",
        "More draft or room keeps the sheet from folding.",
    ),
)
DRAWN = FindingKind(
    slug="draw-ratio",
    title="The sheet is drawn far",
    why="The more area is made from the same sheet, the thinner it gets everywhere.",
    rule="Plain vacuum forming reaches about three times the area.",
    source="Throne, Gruenwald (from memory)",
    remedies=("Lower the buck.", "Use a wider frame.", "Give it more draft.", "Help with a plug."),
)
NARROW = FindingKind(
    slug="narrow-gap",
    title="Little room to the frame",
    why="The foot and the walls are drawn from the sheet between buck and frame; little sheet makes them thin.",
    rule="The gap to the frame should be at least the height of the buck.",
    source="Takahashi & Bando 2018",
    remedies=("Use a larger frame.", "Lower the riser."),
)
WEB = FindingKind(
    slug="web",
    title="A web",
    why="Where more sheet comes together than the surface needs, it folds on itself and sets as a web.",
    rule="Triangles of the sheet that turn over or are pressed together along a line.",
    source="this tool's own heuristic",
    remedies=(
        "More draft.",
        "Rounder corners.",
        "More room around the corner.",
        "Take-up blocks beside it.",
    ),
)
AIR = FindingKind(
    slug="trapped-air",
    title="Air trapped by the sheet",
    why="The vents follow the pockets that a taut sheet closes; the forecast checks them with a sheet that stretches.",
    rule="Air that has lost its way out before the sheet touched everything under it. It decides no vent by itself.",
    source="this tool's own method (docs: air under the sheet)",
    remedies=("Turn on Place Vents, so that vents also follow the forecast.", "Add a vent there by hand."),
)
UNSEEN = FindingKind(
    slug="finer-than-forecast",
    title="Detail too fine to forecast",
    why="What is smaller than a cell of the sheet is not in the forecast: neither its thinning nor its webs.",
    rule="Told when the buck stands out of the sheet between nodes by more than a quarter of a cell.",
    source="numerical method",
    remedies=("Run a fine forecast.", "Increase the number of nodes."),
)
OUTSIDE = FindingKind(
    slug="formed-thickness",
    title="Thickness of the offset",
    why="When the outside must hold its size, the buck is smaller by the formed thickness; the forecast knows it better.",
    rule="The forecast's mean thickness on the buck.",
    source="forecast",
    remedies=("Set the formed thickness to the forecast's mean and make the buck again.",),
)
GAPS = FindingKind(
    slug="gaps-compared",
    title="Gaps to the frame",
    why="A wide gap gives thicker walls and costs sheet; a narrow one saves sheet and thins the foot.",
    rule="Forecast previews at a quarter, a half, one and one and a half heights.",
    source="forecast",
)
KINDS = (UNFINISHED, TORN, THIN, FOLDS, DRAWN, NARROW, WEB, AIR, UNSEEN, FLARED, OUTSIDE, GAPS)

_THIN_SHARE = 0.25  # of the sheet; judgement
_MOST_AREAL_RATIO = 3.0  # straight vacuum forming without a plug: Throne, Gruenwald (from memory)
_TOLD = 4  # webs that get a finding each
_LEFT_SHARE = 0.5  # of the sheet: a gap that is left shows on the part (judgement)
_NOT_KNOWN = 0.02  # share of the part without a figure from which it is told (judgement)


def about_forecast(formed: "BuckForecast", *, offset: str, vents_known: bool) -> list[Finding]:
    """Findings about the formed part.

    Parameters
    ----------
    formed : the forecast on the buck
    offset : side of the part that the mould was offset for, 'inside' or 'outside'; empty if it was not
    vents_known : whether the vents are known, so that something better is said of the air elsewhere

    Returns
    -------
    list of Finding
    """
    run = formed.forecast
    return [
        *about_sheet(run, air=not vents_known),
        *_thicker(formed),
        *about_flare(formed.flare),
        *_outside(run, offset),
        *_gaps(formed.gaps),
    ]


def about_sheet(run: "Forecast", *, air: bool = True) -> list[Finding]:
    """Findings about the sheet alone, worst first within each subject.

    Parameters
    ----------
    run : the forecast
    air : whether the trapped air is spoken of

    Returns
    -------
    list of Finding
    """
    return [
        *_unfinished(run),
        *_torn(run),
        *_thin(run),
        *_not_known(run),
        *_drawn(run),
        *_narrow(run),
        *_webs(run),
        *(_air(run) if air else ()),
        *_unseen(run),
    ]


def _unfinished(run: "Forecast") -> list[Finding]:
    found = []
    if run.formed.stopped:
        words = f"The forecast {run.formed.stopped}; treat its figures as incomplete."
        advice, setting = (
            "Try a larger sharpest radius, or the Mooney-Rivlin law.",
            "forecast.sharpest_radius_mm",
        )
        if not run.formed.pressure_per_mm[-1]:
            advice, setting = "Use fewer nodes, a warmer rim or less sag.", "forecast.nodes"
        found.append(UNFINISHED.found("warn", words, advice, setting=setting))
    if (height := run.formed.slid_to_mm) is not None:
        words = f"Sliding used up its steps with the frame {height:.0f} mm over the platen; from there on the sheet sticks."
        advice = "Raise the friction, or let it stick after a share of the frame's way."
        found.append(UNFINISHED.found("warn", words, advice, setting="forecast.friction"))
    if run.formed.forced:
        loads = counted(run.formed.forced, "load")
        words = (
            f"At {loads} the sheet did not come to rest; around folds and narrow slots the figures are rough."
        )
        found.append(UNFINISHED.found("note", words))
    return found


def _torn(run: "Forecast") -> list[Finding]:
    """Where the sheet is drawn so thin that it cannot reach."""
    from buckwright.forming.forecast.formed import MOST_DRAWN, OVERDRAWN

    lost = np.flatnonzero(run.formed.state == OVERDRAWN)
    if not len(lost):
        return []
    middle = run.points[lost].mean(0)
    words = (
        f"Around {at_words(tuple(middle))} the sheet would be less than 1/{MOST_DRAWN:.0f} of its starting thickness "
        f"({counted(len(lost), 'node')}): expect a tear or a bridge, up to {run.gap_mm[lost].max():.0f} mm off the "
        "buck."
    )
    advice = "The place is too deep for its width: fill it, widen it, or choose another pull."
    return [TORN.found("warn", words, advice, at_mm=tuple(middle), setting="pull.direction")]


def _thin(run: "Forecast") -> list[Finding]:
    sheet, told = run.settings.sheet_mm, run.figures
    words = (
        f"Weakest spot: {run.weakest_words} of {sheet:g} mm ({told.weakest_mm / sheet:.0%}), mean over a disc of "
        f"{DISC_MM:g} mm, at {at_words(told.weakest_at_mm)}. {THIN_SHARE:.0%} of the part is thinner than "
        f"{run.thin_words}."
    )
    if told.weakest_mm >= _THIN_SHARE * sheet:
        return [THIN.found("note", words, at_mm=told.weakest_at_mm)]
    advice = "Start with a thicker sheet, or give that place more draft, a rounder edge or room."
    return [THIN.found("warn", words, advice, at_mm=told.weakest_at_mm, setting="sheet.thickness_mm")]


def _not_known(run: "Forecast") -> list[Finding]:
    if run.figures.not_known_share < _NOT_KNOWN:
        return []
    words = (
        f"On {run.figures.not_known_share:.0%} of the part the thickness is not known (fold): the sheet folds, tears or "
        "bridges there. All figures leave it out."
    )
    return [FOLDS.found("note", words)]


def _drawn(run: "Forecast") -> list[Finding]:
    ratio = run.figures.areal_draw_ratio
    if ratio <= _MOST_AREAL_RATIO:
        return []
    words = (
        f"On the buck the sheet is drawn to {ratio:.1f} times its area; plain vacuum forming reaches about "
        f"{_MOST_AREAL_RATIO:g} (figure from memory)."
    )
    advice = "Use a lower buck, a wider frame, more draft or a plug."
    return [DRAWN.found("warn", words, advice, setting="forecast.gap_mm")]


def _narrow(run: "Forecast") -> list[Finding]:
    if run.gap_to_frame_mm >= run.height_mm:
        return []
    words = (
        f"The gap to the frame is {run.gap_to_frame_mm:.0f} mm, less than the buck's height of "
        f"{run.height_mm:.0f} mm: little sheet is available to form the foot."
    )
    advice = "A larger frame or a lower riser makes walls and foot thicker."
    return [NARROW.found("note", words, advice, setting="forecast.gap_mm")]


def _webs(run: "Forecast") -> list[Finding]:
    found = []
    for web in run.webs[:_TOLD]:
        crosses = web.crosses_trim_line
        where = {True: " crosses the trim line", False: " lies below the trim line", None: ""}[crosses]
        words = (
            f"A web {web.length_mm:.0f} mm long, up to z {web.height_mm:.0f} mm,{where or ' forms'} at "
            f"{at_words(web.where_mm)} (this tool's own heuristic)."
        )
        if crosses is False:
            found.append(WEB.found("note", words, at_mm=web.where_mm))
            continue
        advice = "Try more draft, rounder corners, more room, or take-up blocks beside the corner."
        found.append(WEB.found("warn", words, advice, at_mm=web.where_mm, setting="take_up.enabled"))
    if len(run.webs) > _TOLD:
        words = f"{counted(len(run.webs) - _TOLD, 'smaller web')} {_are(len(run.webs) - _TOLD)} not listed."
        found.append(WEB.found("note", words))
    return found


def _are(number: int) -> str:
    return "is" if number == 1 else "are"


def _air(run: "Forecast") -> list[Finding]:
    """The air that the sheet traps, where nothing is known of vents or only their places."""
    pools = run.counted_air
    if not pools:
        return []
    left = [pool for pool in pools if pool.left_mm > _LEFT_SHARE * run.settings.sheet_mm]
    volume = sum(pool.volume_mm3 for pool in pools)
    largest = pools[0].last_touched_mm
    words = (
        f"The sheet traps air in {counted(len(pools), 'place')} of at least {COUNTED_MM3 / 1000:g} ml, "
        f"{volume / 1000:.1f} ml in all"
    )
    if run.settings.vents is None:
        advice = "Vent each where the sheet touches last."
        return [AIR.found("warn", words + ".", advice, at_mm=largest)]
    if not left:
        return [AIR.found("note", words + ", too little to show.")]
    words += f"; it stays bridged over {len(left)} of them."
    return [AIR.found("warn", words, "Add vents there.", at_mm=left[0].last_touched_mm)]


def _unseen(run: "Forecast") -> list[Finding]:
    cell = run.settings.finest_cell_mm
    if not run.overlooks:
        return []
    words = (
        f"Details finer than the sheet's cells of {cell:.1f} to {run.settings.cell_mm:.1f} mm are not in the forecast: "
        f"the buck stands out of the sheet by up to {run.overlooked_mm:.1f} mm between nodes."
    )
    if run.settings.quality == "preview":
        advice = "A fine forecast sees more of them, and the figures may come out thinner."
        return [UNSEEN.found("note", words, advice, setting="forecast.quality")]
    return [UNSEEN.found("note", words, "Increase the node count to resolve them.", setting="forecast.nodes")]


def _thicker(formed: "BuckForecast") -> list[Finding]:
    """Which sheet leaves enough at the weakest spot for certain, as it was tried."""
    run, gauge = formed.forecast, formed.gauge
    if run.certain_mm >= HANDY_MM:
        return []
    if gauge is None:
        words = f"No usual sheet leaves {HANDY_MM:g} mm at {at_words(run.figures.weakest_at_mm)} for certain."
        advice = "Lower that place, round it, or give it more draft and more room."
        return [THIN.found("note", words, advice, at_mm=run.figures.weakest_at_mm)]
    words = (
        f"A sheet of {gauge.sheet_mm:g} mm instead of {run.settings.sheet_mm:g} mm would leave "
        f"{gauge.words} at its weakest spot (tried on a coarse net)."
    )
    return [THIN.found("note", words, at_mm=run.figures.weakest_at_mm, setting="sheet.thickness_mm")]


def _outside(run: "Forecast", offset: str) -> list[Finding]:
    """Whether the thickness that an offset was made for is the one that is forecast."""
    if not offset:
        return []
    what = "buck smaller" if offset == "outside" else "cavity larger"
    words = f"The forecast's mean thickness on the buck is {run.figures.mean_mm:.2f} mm."
    advice = f"Set the formed thickness to {run.figures.mean_mm:.2f} mm to make the {what} by just that."
    return [OUTSIDE.found("note", words, advice, setting="fit.formed_thickness_mm")]


def _gaps(gaps: "tuple[dict[str, Any], ...]") -> list[Finding]:
    if not gaps:
        return []
    rows = "; ".join(
        f"{row['gap_mm']:.0f} mm: weakest {row['weakest_mm']:.2f}, mean {row['mean_mm']:.2f}, webs "
        f"{row['web_length_mm']:.0f}, blank {row['blank_area_cm2']:.0f} cm2"
        for row in gaps
    )
    return [GAPS.found("note", f"Gaps to the frame compared (mm): {rows}.", setting="forecast.gap_mm")]
