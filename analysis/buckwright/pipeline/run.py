"""`run`: work out a command for a job, tell what came of it, and publish it."""

import sys
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from buckwright.clock import Clock, Progress
from buckwright.errors import BuckwrightError, InputError
from buckwright.job import Job
from buckwright.mesh.triangles import Mesh
from buckwright.output.report import assemble
from buckwright.output.summary import Summary
from buckwright.pipeline.commands import COMMANDS, Command, outcome_of, prepared, releases, stages_for
from buckwright.pipeline.drawing import drawing
from buckwright.pipeline.engine import Engine
from buckwright.pipeline.job_sheet import add_job_sheet, light_buck
from buckwright.pipeline.outcome import Outcome
from buckwright.pipeline.publishing import Places, hashes_of, report_name
from buckwright.pipeline.rehearsal import rehearsed
from buckwright.pipeline.settled import settled
from buckwright.pipeline.store import Store
from buckwright.pipeline.telling import (
    answers_of,
    automatic_of,
    facts_of,
    findings_of,
    sections_of,
    told_arrays,
    told_of,
)
from buckwright.stage import Told

__all__ = ["run"]

# Of the interpreter's lock, seconds: beside a thread that draws, one that calls a loop every tenth of a
# millisecond would wait the usual 5 ms at each of them.
_TURN_S = 5e-4


def run(
    command: str,
    job: Job,
    out: str | Path | None = None,
    *,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
    gate: Callable[[], None] | None = None,
    pictures: bool = True,
    results: str | Path | None = None,
    prefix: str = "",
    keep: str | Path | None = None,
    given: Mapping[str, Any] | None = None,
) -> Outcome:
    """Run a command.

    Parameters
    ----------
    command : name of one of `COMMANDS`
    job : settings; those that the command does not read change nothing
    out : folder for the files for people; None writes none of them
    progress, cancelled, gate : see `Clock`
    pictures : False leaves them out
    results : folder for report.json and arrays.npz, for a program that shows them
    prefix : what the names of the files in `out` begin with
    keep : folder of the stage store, from which a next run takes what has not changed
    given : results that are handed in, by name

    Raises
    ------
    InputError
        The command, the sculpt or a setting cannot be used.
    SolidError
        A solid operation failed.
    OutputError
        The results cannot be written; nothing is left behind.
    Cancelled
        The user asked to stop; nothing is left behind.
    """
    asked = _command(command)
    job = prepared(asked, job)
    places = Places(command, _path(out), _path(results), prefix)
    clock = Clock(progress, cancelled, gate)
    store = Store(_path(keep), clock)
    try:
        return _once(asked, job, places, clock, store, pictures=pictures, given=given)
    except (BuckwrightError, MemoryError):
        raise
    except Exception:
        if not store.taken:
            raise
    # what was kept may be whole and yet wrong in itself: everything is worked out anew
    store.distrust()
    return _once(asked, job, places, clock, store, pictures=pictures, given=given)


def _once(
    asked: Command,
    job: Job,
    places: Places,
    clock: Clock,
    store: Store,
    *,
    pictures: bool,
    given: Mapping[str, Any] | None,
) -> Outcome:
    stages = stages_for(asked)
    engine = Engine(stages, settled(job), clock, store, given)
    shown = [stage for stage in stages if not asked.tells or stage.name in asked.tells]
    wanted = [stage for stage in stages if stage.tells or stage.beside or stage.gives in asked.results]
    names = [stage.gives for stage in wanted]
    files: dict[str, bytes] = {}
    with_sheet = asked.job_sheet and places.out is not None
    light: list[Future[Mesh]] = []
    with (
        _short_turns(),
        rehearsed(asked.name, job),
        drawing(
            shown if places.out is not None else (),
            [*names, *(given or ())],
            pictures=pictures,
            told=lambda: told_of(job, dict(engine.results)),
        ) as papers,
        engine,
    ):

        def drawn() -> None:
            papers.begin(list(engine.results))
            if with_sheet and pictures and "buck" in engine.results and not light:
                light.append(papers.beside(lambda: light_buck(told_of(job, dict(engine.results)))))

        engine.work_out(names, drawn)
        with clock.step("drawing"):
            files = {f"{places.prefix}{name}": data for name, data in papers.finish(clock.tick).items()}
    told = told_of(job, dict(engine.results))
    findings = tuple(findings_of(shown, told))
    answers = answers_of(shown, told)
    report = _report(asked, told, findings, clock, files)
    released = releases(asked, told.results)
    outcome = outcome_of(asked, released=released, findings=[(one.slug, one.severity) for one in findings])
    if with_sheet:
        buck = light[0].result() if light else None
        add_job_sheet(outcome, told, answers, report, files, prefix=places.prefix, buck=buck)
    listed = [stage for stage in stages if not asked.arrays_of or stage.name in asked.arrays_of]
    with clock.step("writing"):
        written = places.write(files, report, lambda: told_arrays(listed, told), clock.gate)
    summary = Summary(
        title=told.title,
        outcome=outcome,
        answers=answers,
        findings=findings,
        facts=facts_of(shown, told),
        files=_listed(places.out, files, f"{places.prefix}{report_name(asked.name)}"),
    )
    return Outcome(asked, job, told.results, findings, report, summary, written, released)


@contextmanager
def _short_turns() -> Iterator[None]:
    """Let threads take short turns, so that they really work side by side."""
    usual = sys.getswitchinterval()
    sys.setswitchinterval(min(usual, _TURN_S))
    try:
        yield
    finally:
        sys.setswitchinterval(usual)


def _command(name: str) -> Command:
    if name not in COMMANDS:
        raise InputError(f"there is no command {name!r}; there are {', '.join(COMMANDS)}")
    return COMMANDS[name]


def _path(path: str | Path | None) -> Path | None:
    return None if path is None else Path(path)


def _report(
    command: Command, told: Told, findings: tuple[Any, ...], clock: Clock, files: Mapping[str, bytes]
) -> dict[str, Any]:
    """The tree of report.json: the sections of every stage that was worked out."""
    stages = stages_for(command)
    timing = {**clock.times_s, "total": clock.total_s()}
    return assemble(
        {
            **sections_of(stages, told),
            "automatic": automatic_of(stages, told),
            "findings": [finding.to_dict() for finding in findings],
            "timing_s": timing,
            "command": command.name,
            "files": hashes_of(files),
        }
    )


def _listed(folder: Path | None, files: Mapping[str, bytes], report: str) -> tuple[str, ...]:
    """What was written for people, as the summary names it."""
    if folder is None:
        return ()
    plain = [name for name in (*files, report) if not name.endswith((".png", ".dxf", ".svg"))]
    pictures = " and pictures" if any(name.endswith(".png") for name in files) else ""
    return (f"{folder}/ with {', '.join(sorted(plain))}{pictures}",)
