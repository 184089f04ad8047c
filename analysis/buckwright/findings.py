"""`Finding`: one thing that the user should know, in plain words, with what to do about it."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

__all__ = ["SEVERITIES", "Finding", "Severity", "worst_first"]

type Severity = Literal["stop", "warn", "note"]

SEVERITIES: tuple[Severity, ...] = ("stop", "warn", "note")
"""From worst to mildest: cannot work as it stands; works with a risk; good to know."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found about a sculpt or a buck.

    Attributes
    ----------
    severity : 'stop', 'warn' or 'note'
    words : what is so, in plain words with its figures; one or two sentences
    advice : what to do about it; empty where nothing needs doing

    Raises
    ------
    ValueError
        Unknown severity, or no words.
    """

    severity: Severity
    words: str
    advice: str = ""

    def __post_init__(self) -> None:
        """Refuse what a summary could not sort or show."""
        if self.severity not in SEVERITIES:
            raise ValueError(f"severity must be one of {', '.join(SEVERITIES)}, got {self.severity!r}")
        if not self.words.strip():
            raise ValueError("a finding needs words")

    def to_dict(self) -> dict[str, str]:
        """The entry in report.json."""
        return {"severity": self.severity, "words": self.words, "advice": self.advice}


def worst_first(findings: Iterable[Finding]) -> list[Finding]:
    """Sort by severity, worst first; those alike stay in the order they were found."""
    return sorted(findings, key=lambda finding: SEVERITIES.index(finding.severity))
