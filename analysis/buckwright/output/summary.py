"""The summary on the terminal: one screen, plain words, most serious first, with what to do about it."""

import textwrap
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from buckwright.findings import SEVERITIES, Finding, worst_first
from buckwright.mesh.bounds import printable

if TYPE_CHECKING:
    from rich.console import Console
    from rich.text import Text

__all__ = ["CAUTIONS", "Summary", "show_summary", "summary_lines"]

# Burns: ISO 13732-1:2006 and a school equipment sheet. Fume: HSE Plastics Processing Sheet 13 (2002),
# HSE RR797 (2010). Vessels under vacuum: US DOE EH-92-2 (1992), UPenn EHRS SOP (2023). Edges:
# judgement. Worn parts: 16 CFR 1203 for helmets, ANSI Z87.1 and EN 166 for eyes: a formed shell is
# tested to neither. Food: clearance applies to the finished article, 21 CFR 174-186 (read second-hand).
CAUTIONS = (
    "Hot sheet burns; overheated sheet gives off harmful fumes: ventilate the room. Use only vessels made "
    "for vacuum. Trimmed edges cut. Wearable or food-contact parts need separate testing. Local rules and "
    "licensed practice come first."
)

_LABELS = {"stop": "STOP", "warn": "WARN", "note": "NOTE"}
_STYLES = {"stop": "bold reverse", "warn": "bold", "note": ""}
_INDENT = 6
_ANSWER_INDENT = 13
_LEAST_ROOM = 6  # lines for the first finding
_WIDEST = 110  # longer lines are hard to read, however wide the window is
_NARROWEST = 30


@dataclass(frozen=True, slots=True)
class Summary:
    """The contents of the summary.

    Attributes
    ----------
    title : the job's name
    outcome : one sentence: done, or what stands in the way
    answers : (question, answer) pairs that people ask first
    findings : in any order
    facts : short lines with the main figures
    files : what was written and where
    """

    title: str
    outcome: str
    answers: tuple[tuple[str, str], ...] = ()
    findings: tuple[Finding, ...] = ()
    facts: tuple[str, ...] = ()
    files: tuple[str, ...] = ()


def show_summary(summary: Summary, console: "Console") -> None:
    """Print the summary to fit the terminal; when the output is not a terminal, 24 lines.

    Parameters
    ----------
    summary : what to say
    console : where to print
    """
    height = max(console.height - 1, 24) if console.is_terminal else 24
    for line, style in summary_lines(summary, width=console.width, height=height):
        console.print(_styled(line, style), soft_wrap=True, highlight=False)


def summary_lines(summary: Summary, *, width: int = 80, height: int = 24) -> list[tuple[str, str]]:
    """Lay out the summary.

    Parameters
    ----------
    summary : what to say
    width : of the terminal in characters; clipped to 30..110
    height : lines to keep to; the most serious finding is shown whatever it takes

    Returns
    -------
    list of (str, str) : each line, and the severity whose label it begins with (empty for others). The
    severity is always spelled out; the style only adds to it.
    """
    width = min(max(width, _NARROWEST), _WIDEST)
    head = _wrapped(f"{summary.title}: {summary.outcome}", width)
    for question, words in summary.answers:
        head += _answered(question, words, width)
    facts = [line for fact in summary.facts for line in _wrapped(fact, width, indent=2)]
    foot = _wrapped("Written: " + ", ".join(summary.files), width, indent=2) if summary.files else []
    foot += [("", ""), *_wrapped(CAUTIONS, width)]
    room = height - len(head) - len(foot) - 2
    if room - len(facts) >= _LEAST_ROOM:  # else they are in the report only
        head, room = head + facts, room - len(facts)
    return [*head, ("", ""), *_findings(worst_first(summary.findings), width, room), ("", ""), *foot]


def _findings(findings: Sequence[Finding], width: int, room: int) -> list[tuple[str, str]]:
    """As many findings as fit, most serious first; the rest are counted."""
    if not findings:
        return [("Nothing was found that needs your attention.", "")]
    lines: list[tuple[str, str]] = []
    for index, finding in enumerate(findings):
        block, rest = _block(finding, width), findings[index + 1 :]
        left = _wrapped(_left_out(rest), width) if rest else []
        if index and len(lines) + len(block) + len(left) > room:
            return [*lines, *_wrapped(_left_out(findings[index:]), width)]
        lines += block
    return lines


def _block(finding: Finding, width: int) -> list[tuple[str, str]]:
    """A finding with its label in front and its advice after an arrow."""
    parts = textwrap.wrap(f"{finding.words} [{finding.slug}]", width - _INDENT, break_on_hyphens=False)
    lines = [(f"{_LABELS[finding.severity]:<{_INDENT}}{parts[0]}", str(finding.severity))]
    lines += [(" " * _INDENT + part, "") for part in parts[1:]]
    if finding.advice:
        advice = textwrap.wrap(f"-> {finding.advice}", width - _INDENT, subsequent_indent="   ")
        lines += [(" " * _INDENT + part, "") for part in advice]
    return lines


def _left_out(findings: Sequence[Finding]) -> str:
    """How many more there are, and the names of the serious ones."""
    counts = Counter(finding.severity for finding in findings)
    words = ", ".join(f"{counts[kind]} {_LABELS[kind]}" for kind in SEVERITIES if counts[kind])
    slugs = Counter(finding.slug for finding in findings if finding.severity != "note")
    named = ", ".join(slug if count == 1 else f"{slug} ({count})" for slug, count in slugs.items())
    return f"and {len(findings)} more ({words}){': ' if named else ''}{named}; see report.json"


def _answered(question: str, words: str, width: int) -> list[tuple[str, str]]:
    """An answer with its question in front."""
    lines = textwrap.wrap(words, width - _ANSWER_INDENT)
    first = f"  {question:<{_ANSWER_INDENT - 2}}{lines[0]}"
    return [(first, ""), *((" " * _ANSWER_INDENT + line, "") for line in lines[1:])]


def _wrapped(words: str, width: int, *, indent: int = 0) -> list[tuple[str, str]]:
    lines = textwrap.wrap(words, width, initial_indent=" " * indent, subsequent_indent=" " * indent)
    return [(line, "") for line in lines]


def _styled(line: str, severity: str) -> "Text":
    from rich.text import Text

    text = Text(printable(line))
    if severity:
        text.stylize(_STYLES[severity], 0, len(_LABELS[severity]))
    return text
