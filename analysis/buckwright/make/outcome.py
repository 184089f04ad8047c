"""What a run gives back, and how its report and summary are put together."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from buckwright.findings import Finding
from buckwright.job import Job
from buckwright.make.clock import Clock
from buckwright.make.looking import Looked
from buckwright.make.standing import Standing
from buckwright.output.report import assemble
from buckwright.output.summary import Summary

__all__ = ["Outcome", "look_sections", "report_of", "shares", "summary_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """What a run gave.

    Attributes
    ----------
    report : the tree of report.json
    summary : the same for people
    files : what was written
    releases : whether the part comes off or flexes off the buck (of `look`: the sculpt)
    """

    report: dict[str, Any]
    summary: Summary
    files: tuple[Path, ...]
    releases: bool


def look_sections(standing: Standing, looked: Looked, *, lift_mm: float) -> dict[str, Any]:
    """The sections of the report that a look fills."""
    matrix = standing.matrix.copy()
    matrix[2, 3] += lift_mm
    candidates = [] if standing.search is None else [one.to_dict() for one in standing.search.candidates]
    return {
        "input": standing.input_dict(),
        "frame": {"matrix": matrix},
        "pull": {"direction": standing.direction, "candidates": candidates, "sunk_mm": standing.sunk_mm},
        "draft": looked.states.to_dict(),
        "undercuts": looked.undercut_dicts(lift_mm=lift_mm),
    }


def report_of(sections: dict[str, Any], findings: list[Finding], clock: Clock) -> dict[str, Any]:
    """All sections with findings and times."""
    timing = {**clock.times_s, "total": clock.total_s()}
    rest = {"findings": [finding.to_dict() for finding in findings], "timing_s": timing}
    return assemble(sections | rest)


def summary_of(
    job: Job, outcome: str, findings: list[Finding], facts: tuple[str, ...], files: tuple[Path, ...]
) -> Summary:
    """What is shown on one screen."""
    title = job.job.name or job.sculpt_path.stem
    listed: tuple[str, ...] = ()
    if files:
        names = sorted(path.name for path in files)
        listed = (
            f"{files[0].parent}/ with {', '.join(n for n in names if not n.endswith('.png'))} and pictures",
        )
    return Summary(title, outcome, tuple(findings), facts, listed)


def shares(looked: Looked) -> str:
    """How much of the surface is in which state, in words."""
    states = looked.states
    return (
        f"free {states.free_share:.0%}, tight {states.tight_share:.0%}, trapped {states.trapped_share:.0%}"
        " of the surface"
    )
