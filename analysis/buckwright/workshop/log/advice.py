"""What a log advises: the best recipe so far, what changed, what to change next, the bias of thickness."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from buckwright.workshop.log.carrying import Carrying
from buckwright.workshop.log.fitting import Fitted
from buckwright.workshop.log.record import CONDITIONS, PullRecord

__all__ = [
    "Advice",
    "Bias",
    "advise",
    "best_pull",
    "change_words",
    "changes",
    "figure",
    "recipe",
    "thickness_bias",
]

_BAD = 2.0  # marks of 2 and 3 are to be cured: as the scale is meant
_SAME_S = 1.0
_ROOM_C = 20.0
_WARMER_C, _WARMEST_C = 10.0, 40.0  # a printed buck is kept to 40 °C: makers' practice, from memory


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing to change.

    Attributes
    ----------
    key : of the record; empty to repeat
    words : what to do
    reason : why
    """

    key: str
    words: str
    reason: str


@dataclass(frozen=True, slots=True)
class Bias:
    """Measured over forecast thickness: mean ratio, its spread as a share, how many points."""

    ratio: float
    spread: float
    points: int


def best_pull(pulls: Sequence[PullRecord]) -> int | None:
    """Place of the pull with the best marks, the latest of equals; None where none has marks.

    Parameters
    ----------
    pulls : the oldest first
    """
    scored = [(pull.score, n) for n, pull in enumerate(pulls) if pull.score is not None]
    return max(scored)[1] if scored else None


def changes(before: PullRecord, after: PullRecord) -> dict[str, tuple[Any, Any]]:
    """What a maker changed from one pull to the next, old and new by key.

    Parameters
    ----------
    before, after : what was not noted in either does not count
    """
    old, new = before.noted(), after.noted()
    return {
        key: (old[key], new[key]) for key in CONDITIONS if key in old and key in new and old[key] != new[key]
    }


def change_words(changed: Mapping[str, tuple[Any, Any]]) -> str:
    """Changes in words, figures without empty decimals.

    Parameters
    ----------
    changed : from `changes`

    Examples
    --------
    >>> change_words({"heat_s": (60.0, 72.5), "dried": ("no", "yes")})
    'heat_s from 60 to 72.5, dried from no to yes'
    """
    return ", ".join(f"{key} from {figure(old)} to {figure(new)}" for key, (old, new) in changed.items())


def figure(value: object) -> str:
    """A noted value as it is read: 60 for 60.0; empty where nothing was noted."""
    if value is None:
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)


def recipe(pull: PullRecord) -> str:
    """How a pull was made, in a few words.

    Parameters
    ----------
    pull : a record

    Returns
    -------
    str
    """
    noted = pull.noted()
    units = {
        "heat_s": "s of heat",
        "sag_mm": "mm of sag",
        "carry_s": "s on its way",
        "buck_c": "°C buck",
        "hold_s": "s of hold",
    }
    parts = [f"{noted[key]:g} {unit}" for key, unit in units.items() if key in noted]
    parts += [f"power {pull.power:g}"] if pull.power is not None else []
    parts += [f"marks {pull.score:g}"] if pull.score is not None else []
    return ", ".join(parts) or "nothing noted"


def thickness_bias(pulls: Sequence[PullRecord]) -> Bias | None:
    """How much thicker parts come out than forecast; None where no point has both.

    Parameters
    ----------
    pulls : in any order
    """
    logs = [
        math.log(spot.measured_mm / spot.forecast_mm)
        for pull in pulls
        for spot in pull.spots
        if spot.forecast_mm is not None
    ]
    if not logs:
        return None
    mean = sum(logs) / len(logs)
    spread = math.sqrt(sum((one - mean) ** 2 for one in logs) / max(len(logs) - 1, 1))
    return Bias(math.exp(mean), spread, len(logs))


def advise(pulls: Sequence[PullRecord], fitted: Fitted, carrying: Carrying | None = None) -> Advice:
    """One change for the next pull.

    Parameters
    ----------
    pulls : the oldest first
    fitted : what they say of heater and sheet
    carrying : what they say of the way to the buck; None where that is not asked

    Returns
    -------
    Advice : by the worst mark of the last pull; house rules
    """
    span = f"{fitted.best_s:.0f} s ({fitted.low_s:.0f} to {fitted.high_s:.0f})"
    if not pulls:
        return Advice("heat_s", f"Heat {span}.", "No pull is noted yet: this is what heating expects.")
    last = pulls[-1]
    if (slow := _slow(last, carrying)) is not None:
        return slow
    marks = {key: getattr(last, key) or 0.0 for key in ("stuck", "trapped", "chill", "web")}
    worst = max(marks, key=lambda key: marks[key])
    if marks[worst] >= _BAD:
        return _cure(worst, last, fitted)
    if last.fill is not None and last.fill < _BAD:
        return _weak_fill(last, fitted, span)
    return Advice("", "Repeat it as it was.", "Nothing was marked as bad; a second like it tells more.")


def _slow(last: PullRecord, carrying: Carrying | None) -> Advice | None:
    """A sheet that was too long on its way comes before any other cure of what cold does."""
    cold = (last.chill or 0.0) >= _BAD or (last.fill is not None and last.fill < _BAD)
    if carrying is None or not (cold and carrying.observed and carrying.too_long):
        return None
    words = f"Bring it onto the buck within {carrying.hold_s:.1f} s instead of {carrying.carry_s:.1f} s."
    return Advice("carry_s", words, "On its way the sheet gets too cold to form.")


def _cure(fault: str, last: PullRecord, fitted: Fitted) -> Advice:
    if fault == "web":
        return _less_web(last, fitted)
    if fault == "chill":
        return _less_chill(last)
    if fault == "trapped":
        return Advice(
            "buck", "Blow through the vents there, or drill one more.", "Air stayed under the sheet."
        )
    return Advice("release", "Dust the buck with talc.", "The part held on: powder, then draft.")


def _less_web(last: PullRecord, fitted: Fitted) -> Advice:
    for cooler in (fitted.best_s, fitted.low_s):
        if last.heat_s is not None and cooler < last.heat_s - _SAME_S:
            return Advice("heat_s", f"Heat {cooler:.0f} s instead of {last.heat_s:.0f} s.", _HOT)
    return Advice("buck", "Make the opening smaller, or set a take-up block beside the corner.", _WEB)


def _less_chill(last: PullRecord) -> Advice:
    now = last.buck_c if last.buck_c is not None else _ROOM_C
    if now >= _WARMEST_C:
        return Advice("buck", "Give the buck a fine matt finish.", "It is as warm as a print should get.")
    warm = min(now + _WARMER_C, _WARMEST_C)
    return Advice("buck_c", f"Warm the buck to {warm:.0f} °C.", "A cold buck gives chill marks.")


_HOT = "Webs come of a sheet that is too hot and sags too far."
_WEB = "Webs stayed although the sheet was not too hot: there is too much of it."


def _weak_fill(last: PullRecord, fitted: Fitted, span: str) -> Advice:
    if last.heat_s is None:
        return Advice("heat_s", f"Heat {span}, and note the seconds.", "The seconds were not noted.")
    if last.heat_s < fitted.best_s - _SAME_S:
        words = f"Heat {span} instead of {last.heat_s:.0f} s."
        return Advice("heat_s", words, "A sheet that is not ready does not fill.")
    return Advice(
        "vacuum", "Look for leaks at gasket and clamps, and read the gauge.", "The sheet was hot enough."
    )
