"""`Finding`: one thing that the user should know, in plain words, with what to do about it.

Every finding is of a declared *kind*. The kind has a slug, by which people and programs name it, and tells at
length why the thing matters, by which rule it is judged and what can be done.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

__all__ = [
    "SEVERITIES",
    "Finding",
    "FindingKind",
    "Severity",
    "at_words",
    "counted",
    "percent",
    "rounded",
    "verb",
    "worst_first",
]

type Severity = Literal["stop", "warn", "note"]

SEVERITIES: tuple[Severity, ...] = ("stop", "warn", "note")
"""From worst to mildest: cannot work as it stands; works with a risk; good to know."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingKind:
    """A kind of finding.

    Attributes
    ----------
    slug : its name, words joined by hyphens; never changes
    title : what it is about, a few words
    why : why it matters to someone who forms the part
    rule : what it is judged by, with figures
    source : where the rule comes from
    remedies : what can be done, the best first
    """

    slug: str
    title: str
    why: str
    rule: str
    source: str
    remedies: tuple[str, ...] = ()

    def found(
        self,
        severity: Severity,
        words: str,
        advice: str = "",
        *,
        at_mm: tuple[float, float, float] | None = None,
        setting: str = "",
    ) -> "Finding":
        """A finding of this kind; parameters as the attributes of `Finding`."""
        place = None if at_mm is None else (float(at_mm[0]), float(at_mm[1]), float(at_mm[2]))
        return Finding(self.slug, severity, words, advice, place, setting)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found about a sculpt, a buck or a formed part.

    Attributes
    ----------
    slug : of its kind
    severity : 'stop', 'warn' or 'note'
    words : what is so, in plain words with its figures; one or two sentences
    advice : what to do about it; empty where nothing needs doing
    at_mm : where, in the frame of the buck; None where it is nowhere in particular
    setting : 'table.key' of the setting that changes it; empty where none does

    Raises
    ------
    ValueError
        Unknown severity, or no words.
    """

    slug: str
    severity: Severity
    words: str
    advice: str = ""
    at_mm: tuple[float, float, float] | None = None
    setting: str = ""

    def __post_init__(self) -> None:
        """Refuse what a summary could not sort or show."""
        if self.severity not in SEVERITIES:
            raise ValueError(f"severity must be one of {', '.join(SEVERITIES)}, got {self.severity!r}")
        if not self.words.strip():
            raise ValueError("a finding needs words")

    def to_dict(self) -> dict[str, object]:
        """The entry in report.json."""
        return {
            "slug": self.slug,
            "severity": self.severity,
            "words": self.words,
            "advice": self.advice,
            "at_mm": self.at_mm,
            "setting": self.setting,
        }


def worst_first(findings: Iterable[Finding]) -> list[Finding]:
    """Sort by severity, worst first; those alike stay in the order they were found."""
    return sorted(findings, key=lambda finding: SEVERITIES.index(finding.severity))


def counted(number: int, noun: str, plural: str = "") -> str:
    """'1 vent', '2 vents'; the plural is spelled out where it is no plain s."""
    return f"{number} {noun if number == 1 else plural or noun + 's'}"


def percent(share: float) -> str:
    """A share as it is told everywhere; a little is never shown as nothing.

    Examples
    --------
    >>> [percent(share) for share in (0.0004, 0.02, 0.4949)]
    ['< 0.1 %', '2.0 %', '49 %']
    """
    if 0.0 < share < 0.001:
        return "< 0.1 %"
    return f"{100.0 * share:.1f} %" if share < 0.1 else f"{100.0 * share:.0f} %"


def rounded(value: float, digits: int = 2) -> str:
    """A number with so many figures that count, written out.

    Examples
    --------
    >>> [rounded(value) for value in (0.0123, 4.0, 4.56, 117.3, 12345.0)]
    ['0.012', '4', '4.6', '120', '12000']
    """
    return f"{float(f'{value:.{digits}g}'):.10g}"


def verb(number: int, many: str) -> str:
    """The verb that agrees with a count: 'share' for many, 'shares' for one."""
    return f"{many}s" if number == 1 else many


def at_words(point: tuple[float, ...], lift_mm: float = 0.0) -> str:
    """A place in words, whole millimetres."""
    x, y, z = (round(float(value)) for value in (point[0], point[1], point[2] + lift_mm))
    return f"x {x}, y {y}, z {z} mm"
