"""Variants set against the job as it is set: better, as good or worse in each figure; the best first."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from buckwright.stage import Figure
from buckwright.stages import figures

__all__ = [
    "AIR",
    "LOCKS",
    "NO_BLOCK",
    "THIN",
    "WEB",
    "Compared",
    "Judged",
    "best_first",
    "judge",
    "left_words",
]

LOCKS, WEB, AIR, THIN = "locked", "webs_over_trim", "bare", "weakest_mm"
"""Figures by which a variant is at fault."""
_FINDINGS = {LOCKS: "part-locks", WEB: "web", AIR: "pocket-without-vent", THIN: "weakest-spot"}
"""What tells where and why, and what to do about it."""
NO_BLOCK = "no-take-up-block"
"""What tells that blocks were tried in vain."""

type Verdict = Literal["better", "as good", "worse", ""]

_ALIKE_SHARE = 0.01
"""Figures without a band that differ by less are alike. House rule."""
_ALIKE_WEBS = 0.1
"""The same of webs, which scatter: with slightly longer steps of the same forecast folds of 67, 101 and 36 mm
came out as 73, 96 and 32 (docs/howto/take_up.md). House rule, that by which blocks are kept."""
_WEBS = ("webs_mm", "webs_over_trim", "webs_over_trim_mm")
_MORE_DIGITS = 3
_WEIGHED = (
    *("weakest_mm", "thin_mm", "webs_mm", "blank_cm2", "sheet_cost", "print_g", "filled_cm3", "bare"),
    "cut_off_cm3",
)
"""Figures that a gain is made up of; each counts by its share of the larger value."""


@dataclass(frozen=True, slots=True)
class Compared:
    """One figure of a variant against the same of the job as it is set.

    Attributes
    ----------
    figure : which
    value, own : of the variant and of the job; None where not known
    verdict : 'better', 'as good', 'worse'; empty where one is not known
    """

    figure: Figure
    value: float | None
    own: float | None
    verdict: Verdict

    @property
    def words(self) -> str:
        """As people read it: 'weakest spot 0.35 mm instead of 0.31 mm'."""
        usual = self.figure.digits
        told = [self._told(usual)]
        if self.verdict in ("better", "worse"):  # never '0.1 instead of 0.1'
            told += [self._told(digits) for digits in range(usual + 1, usual + _MORE_DIGITS + 1)]
        value, own = next((pair for pair in told if pair[0] != pair[1]), told[0])
        return f"{self.figure.label.lower()} {value} instead of {own}"

    def _told(self, digits: int) -> tuple[str, str]:
        unit = self.figure.unit.replace("2", "²").replace("3", "³")
        value, own = (
            "unknown" if one is None else f"{one:.{digits}f} {unit}".rstrip()
            for one in (self.value, self.own)
        )
        return value, own


@dataclass(frozen=True, slots=True)
class Judged:
    """A variant as it compares.

    Attributes
    ----------
    name : of the variant
    lacks : figures in which it is at fault: `LOCKS`, `WEB`, `AIR`, `THIN`
    faults : the same in words: it locks, a web over the trim line, trapped air, thinner than wanted
    compared : every figure
    gain : what it is better by, all in all; 0 for the job as it is set
    """

    name: str
    lacks: tuple[str, ...]
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

    def figure(self, name: str) -> Compared | None:
        """One figure by its name; None where neither this nor the job as it is set has it."""
        return next((one for one in self.compared if one.figure.name == name), None)

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
    """Set a variant against the job as it is set.

    Parameters
    ----------
    name : of the variant
    report : its report
    own : the report of the job as it is set
    least_mm : wanted thickness of the weakest spot
    """
    compared = tuple(_compared(one, report, own) for one in figures())
    known = tuple(one for one in compared if one.value is not None or one.own is not None)
    gain = sum(_share(one) for one in known if one.figure.name in _WEIGHED)
    faults = _faults(report, least_mm)
    return Judged(name, tuple(faults), tuple(faults.values()), known, gain)


def best_first(judged: Sequence[Judged]) -> list[Judged]:
    """The fewest faults first; of these, those that are worse in the fewest figures; then the gain."""
    return sorted(judged, key=lambda one: (len(one.faults), len(one.worse), -one.gain))


def left_words(
    judged: Sequence[Judged],
    titles: Mapping[str, str],
    own: Mapping[str, Any],
    reports: Sequence[Mapping[str, Any]] = (),
) -> str:
    """What no variant is free of, how near they come, where it is and what helps; else empty.

    Parameters
    ----------
    judged : all variants
    titles : what each of them changes, by its name
    own : the report of the job as it is set
    reports : of all that was tried: where take-up blocks were tried in vain, that is told too
    """
    first, *others = judged
    left = [lack for lack in first.lacks if all(lack in one.lacks for one in others)]
    if not left:
        return ""
    told = [fault for lack, fault in zip(first.lacks, first.faults, strict=True) if lack in left]
    words = [f"None of the {len(judged)} variants is free of this: {'; '.join(told)}."]
    for lack in left:
        words += [*_nearest(lack, judged, titles), *_found(_FINDINGS[lack], own)]
        if lack == WEB:
            words += _blocks_in_vain(reports)
    return " ".join(words)


def _nearest(lack: str, judged: Sequence[Judged], titles: Mapping[str, str]) -> list[str]:
    """How near the variants come that come nearest."""
    known = [(one, entry.value, entry) for one in judged if (entry := one.figure(lack)) and entry.value]
    if not known:
        return []
    most = known[0][2].figure.better == "more"
    one, _, entry = (max if most else min)(known, key=lambda each: each[1])
    if entry.verdict != "better":
        return ["No variant comes nearer."]
    return [f"The nearest is {titles[one.name]}: {entry.words}."]


def _blocks_in_vain(reports: Sequence[Mapping[str, Any]]) -> list[str]:
    """What came of take-up blocks, where they were tried and none was kept in any variant."""
    told = [_found(NO_BLOCK, one) for one in reports if one.get("take_up")]
    return ["Blocks were tried:", *told[0]] if told and all(told) else []


def _found(slug: str, report: Mapping[str, Any]) -> list[str]:
    """The first finding of a kind, with its advice."""
    for one in report.get("findings", ()):
        if one["slug"] == slug:
            return [part for part in (one["words"], one["advice"]) if part]
    return []


def _compared(one: Figure, report: Mapping[str, Any], own: Mapping[str, Any]) -> Compared:
    value, before = one.of(report), one.of(own)
    if value is None or before is None:
        return Compared(one, value, before, "")
    bands = [band for band in (one.band(report), one.band(own)) if band is not None]
    share = _ALIKE_WEBS if one.name in _WEBS else _ALIKE_SHARE
    alike = max(bands, default=share * max(abs(value), abs(before)))
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


def _faults(report: Mapping[str, Any], least_mm: float) -> dict[str, str]:
    """Figures that are as they must not be, with the fault in words."""
    of = {one.name: one.of(report) for one in figures()}
    faults = {}
    if of[LOCKS]:
        faults[LOCKS] = "the part locks"
    if of[WEB]:
        faults[WEB] = "a web crosses the trim line"
    if of[AIR]:
        faults[AIR] = "air stays trapped in a pocket without a vent"
    weakest = of[THIN]
    if weakest is not None and weakest < least_mm:
        faults[THIN] = f"thinner than {least_mm:g} mm"
    return faults
