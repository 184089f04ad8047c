"""What a run has to tell: report, findings, summary, arrays; put together from what the stages declare."""

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from buckwright.findings import Finding, worst_first
from buckwright.job import Job
from buckwright.pipeline.settled import settled
from buckwright.stage import Stage, Told
from buckwright.stand import Stand

__all__ = ["answers_of", "automatic_of", "facts_of", "findings_of", "sections_of", "told_arrays", "told_of"]

_QUESTIONS = ("Releases", "Fills", "Thickness", "Fits")


def told_of(job: Job, results: Mapping[str, Any]) -> Told:
    """What the telling parts of stages may know at this moment, of a job as it was given."""
    blank, posed = results.get("blank"), results.get("posed")
    plan = None if blank is None else blank.plan

    @cache
    def sources() -> Any:
        from buckwright.pose.face_sources import face_sources

        return None if posed is None else face_sources(posed)

    stand = Stand() if plan is None else plan.stand
    return Told(job=settled(job), asked=job, title=job.title, results=results, stand=stand, sources=sources)


def sections_of(stages: Sequence[Stage], told: Told) -> dict[str, Any]:
    """Sections of the report, in the order of the stages."""
    sections: dict[str, Any] = {}
    for stage, result in _worked_out(stages, told):
        sections |= stage.sections(result, told)
    return sections


def automatic_of(stages: Sequence[Stage], told: Told) -> dict[str, Any]:
    """What the rules gave for settings that were left out, by 'table.key'; of others nothing is said."""
    chosen: dict[str, Any] = {}
    for stage, result in _worked_out(stages, told):
        for name, value in stage.automatic(result).items():
            table, _, key = name.partition(".")
            if getattr((told.asked or told.job).tables[table], key) is None:
                chosen[name] = value
    return chosen


def findings_of(stages: Sequence[Stage], told: Told) -> list[Finding]:
    """All findings, worst first."""
    found: list[Finding] = []
    for stage, result in _worked_out(stages, told):
        found += stage.findings(result, told)
    return worst_first(found)


def answers_of(stages: Sequence[Stage], told: Told) -> tuple[tuple[str, str], ...]:
    """Questions and answers that the summary leads with; of two to one question the later stage's counts."""
    answers = {
        answer.question: answer.words
        for stage, result in _worked_out(stages, told)
        for answer in stage.answers(result, told)
    }
    return tuple(sorted(answers.items(), key=lambda answer: _rank(answer[0])))


def _rank(question: str) -> int:
    return _QUESTIONS.index(question) if question in _QUESTIONS else len(_QUESTIONS)


def facts_of(stages: Sequence[Stage], told: Told) -> tuple[str, ...]:
    """Lines of the summary."""
    return tuple(fact for stage, result in _worked_out(stages, told) for fact in stage.facts(result, told))


def told_arrays(stages: Sequence[Stage], told: Told) -> dict[str, Any]:
    """Arrays for a program that shows the results."""
    arrays: dict[str, Any] = {}
    for stage, result in _worked_out(stages, told):
        arrays |= stage.arrays(result, told)
    return arrays


def _worked_out(stages: Sequence[Stage], told: Told) -> list[tuple[Stage, Any]]:
    known = [(stage, told.get(stage.gives)) for stage in stages]
    return [(stage, result) for stage, result in known if result is not None]
