"""What there is to say of the vents against the forecast."""

from typing import TYPE_CHECKING

import numpy as np

from buckwright.findings import Finding, FindingKind, at_words, counted, verb
from buckwright.forming.forecast.thresholds import COUNTED_MM3

if TYPE_CHECKING:
    from buckwright.forming.drainage.draining import Drainage
    from buckwright.forming.forecast.result import Forecast
    from buckwright.forming.forecast.trapped_air import TrappedAir

__all__ = ["CHECK", "KINDS", "about_drainage", "what_stays"]

CHECK = FindingKind(
    slug="vents-against-forecast",
    title="Vents against the forecast",
    why=(
        "Vents are placed where a taut sheet closes pockets. The forecast, whose sheet stretches and sticks, is a "
        "second opinion: it may trap air elsewhere, or none where a pocket was found."
    ),
    rule=(
        "Pockets alone decide where vents go, unless Place Vents is on; the forecast's trapped air is only counted "
        "against them. The two are never added up."
    ),
    source="this tool's own method (docs: air under the sheet)",
    remedies=(
        "Turn on Place Vents, so that vents also follow the forecast.",
        "Add a vent by hand where the forecast marks it.",
        "Allow narrower bores.",
    ),
)
KINDS = (CHECK,)

_MOST_TOLD = 4  # places that are named


def about_drainage(drained: "Drainage", forecast: "Forecast", *, target_s: float) -> list[Finding]:
    """Findings about the vents under a forecast.

    Parameters
    ----------
    drained : what the vents drain
    forecast : in which air leaves everywhere
    target_s : time in which a place should be evacuated

    Returns
    -------
    list of Finding
    """
    if drained.vented is not None:
        return [*_bridged(drained), *_slow(drained, target_s)]
    return [*_bare(drained, forecast), *_slow(drained, target_s)]


def what_stays(drained: "Drainage") -> tuple[bool, str]:
    """Where the forecast sheet does not fill, in spite of the vents.

    Parameters
    ----------
    drained : what the vents drain

    Returns
    -------
    bool : whether it is enough to be seen, not only counted
    str : a clause of a sentence on vents; empty where nothing stays
    """
    if drained.vented is not None:
        if not drained.bridged:
            return False, ""
        places = counted(len(drained.bridged), "place")
        return True, f"the forecast sheet still bridges {places}, {_at_most(drained.bridged)}"
    if not drained.unvented:
        return False, ""
    told = [pool for pool in drained.unvented if pool.volume_mm3 >= COUNTED_MM3]
    places = f"in {counted(len(told), 'more place')} " if told else ""
    return bool(told), f"the forecast shuts in air {places}without a vent, {_at_most(drained.unvented)}"


def _at_most(pools: "tuple[TrappedAir, ...]") -> str:
    """The most air and depth when it is shut in; it is squeezed, so no more detail than the depth is lost."""
    deep = max(pool.depth_mm for pool in pools)
    return f"up to {max(pool.volume_mm3 for pool in pools) / 1000.0:.1f} ml and {deep:.1f} mm deep"


def _bridged(drained: "Drainage") -> list[Finding]:
    if not drained.bridged:
        words = "Checked against the forecast: with these vents the sheet settles everywhere."
        return [CHECK.found("note", words)]
    told = [_told(pool, cause) for pool, cause in zip(drained.bridged, drained.causes, strict=True)]
    words = (
        "Checked against the forecast: with these vents the sheet still bridges "
        f"{counted(len(told), 'place')}: {'; '.join(told[:_MOST_TOLD])}"
        f"{f'; and {more} more, in the report' if (more := len(told) - _MOST_TOLD) > 0 else ''}."
    )
    advice = "Add a vent at each, or allow narrower bores."
    first = drained.bridged[0]
    return [CHECK.found("warn", words, advice, at_mm=first.last_touched_mm, setting="vents.back_bore_mm")]


def _told(pool: "TrappedAir", cause: str) -> str:
    volume, left = pool.volume_mm3 / 1000.0, pool.left_mm
    return f"{at_words(pool.last_touched_mm)} ({volume:.1f} ml, {left:.1f} mm off at the end: {cause})"


def _bare(drained: "Drainage", forecast: "Forecast") -> list[Finding]:
    bare = drained.unvented
    if not bare or not drained.evacuation_s:
        return []
    words = (
        f"Checked against the forecast: {len(bare)} of {len(forecast.trapped_air)} places where its sheet traps air "
        f"have no vent, the largest at {at_words(bare[0].last_touched_mm)}: {_at_most(bare)} when it is shut in, "
        "and so much detail may be lost there."
    )
    advice = "Turn on Place Vents, and vents follow the forecast too."
    return [CHECK.found("note", words, advice, at_mm=bare[0].last_touched_mm, setting="forecast.place_vents")]


def _slow(drained: "Drainage", target_s: float) -> list[Finding]:
    slow = [seconds for seconds in drained.evacuation_s if target_s < seconds < np.inf]
    if not slow:
        return []
    words = (
        f"Checked against the forecast: {counted(len(slow), 'place')} {verb(len(slow), 'need')} up to {max(slow):.1f} s to evacuate "
        f"(target {target_s:g} s)."
    )
    return [
        CHECK.found(
            "note", words, "Add vents there, or widen them, to keep detail crisp.", setting="vents.hole_mm"
        )
    ]
