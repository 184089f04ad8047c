"""What there is to say of the vents against the forecast."""

from typing import TYPE_CHECKING

import numpy as np

from buckwright.findings import Finding, FindingKind, at_words, counted, verb

if TYPE_CHECKING:
    from buckwright.forming.drainage.draining import Drainage
    from buckwright.forming.forecast.result import Forecast
    from buckwright.forming.forecast.trapped_air import TrappedAir

__all__ = ["CHECK", "KINDS", "about_drainage"]

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
    seen = list(zip(forecast.trapped_air, drained.evacuation_s, strict=False))
    bare = [pool for pool, seconds in seen if not np.isfinite(seconds)]
    if not bare:
        return []
    words = (
        f"Checked against the forecast: {len(bare)} of {len(seen)} places where its sheet traps air have no vent, the "
        f"largest at {at_words(bare[0].last_touched_mm)}."
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
