"""Candidates set against the job as it is set: better, as good or worse in each figure; the best first."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from buckwright.stage import Figure
from buckwright.stages import figures

__all__ = ["Compared", "Judged", "best_first", "judge", "left_words"]

type Verdict = Literal["better", "as good", "worse", ""]

_ALIKE_SHARE = 0.01
"""Figures without a band that differ by less are alike. House rule."""
_WEIGHED = ("weakest_mm", "thin_mm", "webs_mm", "blank_cm2", "sheet_cost", "print_g", "filled_cm3", "bare")
"""Figures that a gain is made up of; each counts by its share of the larger value."""


@dataclass(frozen=True, slots=True)
class Compared:
    """One figure of a candidate against the same of the job as it is set.

    Attributes
    ----------
    figure : which
    value, own : of the candidate and of the job; None where not known
    verdict : 'better', 'as good', 'worse'; empty where one is not known
    """

    figure: Figure
    value: float | None
    own: float | None
    verdict: Verdict

    @property
    def words(self) -> str:
        """As people read it: 'weakest spot 0.35 mm instead of 0.31 mm'."""
        unit = f" {self.figure.unit}" if self.figure.unit else ""
        told = [
            "unknown" if one is None else f"{one:.{self.figure.digits}f}{unit}"
            for one in (self.value, self.own)
        ]
        return f"{self.figure.label.lower()} {told[0]} instead of {told[1]}"


@dataclass(frozen=True, slots=True)
class Judged:
    """A candidate as it compares.

    Attributes
    ----------
    name : of the candidate
    faults : what must not be, in words: it locks, a web over the trim line, thinner than wanted
    compared : every figure
    gain : what it is better by, all in all; 0 for the job as it is set
    """

    name: str
    faults: tuple[str, ...]
    compared: tuple[Compared, ...]
    gain: float

    @property
    def worse(self) -> tuple[Compared, ...]:
        """Figures in which it is worse."""
        return tuple(one for one in self.compared if one.verdict == "worse")

    @property
    def better(self) -> tuple[Compared, ...]:
        """Figures in which it is better."""
        return tuple(one for one in self.compared if one.verdict == "better")

    @property
    def words(self) -> str:
        """The trade in one or two sentences."""
        if not self.better and not self.worse:
            return "As good as the job as it is set in every figure."
        parts = []
        if self.better:
            parts.append(f"Better: {'; '.join(one.words for one in self.better)}.")
        if self.worse:
            parts.append(f"Worse: {'; '.join(one.words for one in self.worse)}.")
        elif self.better:
            parts.append("Worse in nothing.")
        return " ".join(parts)


def judge(name: str, report: Mapping[str, Any], own: Mapping[str, Any], *, least_mm: float) -> Judged:
    """Set a candidate against the job as it is set.

    Parameters
    ----------
    name : of the candidate
    report : its report
    own : the report of the job as it is set
    least_mm : wanted thickness of the weakest spot
    """
    compared = tuple(_compared(one, report, own) for one in figures())
    known = tuple(one for one in compared if one.value is not None or one.own is not None)
    gain = sum(_share(one) for one in known if one.figure.name in _WEIGHED)
    return Judged(name, _faults(report, least_mm), known, gain)


def best_first(judged: Sequence[Judged]) -> list[Judged]:
    """The fewest faults first; of these, those that are worse in the fewest figures; then the gain."""
    return sorted(judged, key=lambda one: (len(one.faults), len(one.worse), -one.gain))


def left_words(judged: Sequence[Judged]) -> str:
    """What no candidate is free of, in one sentence; empty where each fault is missing somewhere.

    Parameters
    ----------
    judged : all candidates
    """
    first, *others = judged
    left = [fault for fault in first.faults if all(fault in one.faults for one in others)]
    if not left:
        return ""
    free = f"None of the {len(judged)} variants is free of this: {'; '.join(left)}."
    return f"{free} Vary other settings, or change the sculpt."


def _compared(one: Figure, report: Mapping[str, Any], own: Mapping[str, Any]) -> Compared:
    value, before = one.of(report), one.of(own)
    if value is None or before is None:
        return Compared(one, value, before, "")
    bands = [band for band in (one.band(report), one.band(own)) if band is not None]
    alike = max(bands, default=_ALIKE_SHARE * max(abs(value), abs(before)))
    if math.isclose(value, before, abs_tol=alike, rel_tol=0.0):
        return Compared(one, value, before, "as good")
    more = value > before
    return Compared(one, value, before, "better" if more == (one.better == "more") else "worse")


def _share(one: Compared) -> float:
    """What is gained, as a share of the larger value; nothing within the band."""
    if one.verdict not in ("better", "worse") or one.value is None or one.own is None:
        return 0.0
    away = abs(one.value - one.own) / max(abs(one.value), abs(one.own))
    return away if one.verdict == "better" else -away


def _faults(report: Mapping[str, Any], least_mm: float) -> tuple[str, ...]:
    of = {one.name: one.of(report) for one in figures()}
    faults = []
    if of["locked"]:
        faults.append("the part locks")
    if of["webs_over_trim"]:
        faults.append("a web crosses the trim line")
    weakest = of["weakest_mm"]
    if weakest is not None and weakest < least_mm:
        faults.append(f"thinner than {least_mm:g} mm")
    return tuple(faults)
