"""What can be asked of the library: which results a command works out, and what it tells of them."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from buckwright.findings import counted
from buckwright.settings import Setting
from buckwright.stage import Stage
from buckwright.stages import all_stages, finding_kinds, tables_of

__all__ = ["COMMANDS", "Command", "outcome_of", "prepared", "releases", "settings_for", "stages_for"]

_NAMED = 2  # kinds of findings that the outcome names: it stays one line


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """One thing that can be asked.

    Attributes
    ----------
    name : 'look', 'make', ...
    title : what it does, one sentence
    results : names of the results that it works out; empty for all that there are
    tells : names of the stages whose findings, facts, files and pictures are told; empty for all
    arrays_of : names of the stages whose arrays are handed to a program; empty for all
    given : results that are handed in instead of being worked out
    judged_by : the result that tells whether the part releases; empty if none does
    outcomes : what the summary leads with, by whether the part releases
    but : what it leads with where the part releases and findings are open that are more than notes; empty
        where these change nothing about it
    job_sheet : whether a job sheet is written
    sets : settings that it takes whatever the job says, by table
    """

    name: str
    title: str
    results: tuple[str, ...] = ()
    tells: tuple[str, ...] = ()
    arrays_of: tuple[str, ...] = ()
    given: tuple[str, ...] = ()
    judged_by: str = ""
    outcomes: Mapping[bool, str] = field(default_factory=dict)
    but: str = ""
    job_sheet: bool = False
    sets: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)


COMMANDS = {
    one.name: one
    for one in (
        Command(
            name="look",
            title="Survey a sculpt without making anything of it.",
            results=("posed", "surveyed", "proposed"),
            judged_by="surveyed",
            outcomes={
                True: "survey finished; the part would release from the sculpt as it is.",
                False: "survey finished; the part would lock on the sculpt as it is.",
            },
        ),
        Command(
            name="make",
            title="Make the buck and everything that belongs to it.",
            judged_by="verdict",
            outcomes={
                True: "the buck is ready to print.",
                False: "the buck was made, but the part cannot come off it as it stands.",
            },
            but="the buck can be printed",
            job_sheet=True,
        ),
        Command(
            name="forecast",
            title="Forecast the sheet on the buck of a job or a sculpt, without drilling the buck.",
            # A kept forecast alone would say neither where the sculpt is nor how high it stands.
            results=("posed", "surveyed", "blank", "formed"),
            tells=("forecast",),
            arrays_of=("setups", "pose", "survey", "forecast"),
            outcomes={True: "forecast finished."},
        ),
        Command(
            name="gaps",
            title="Forecast several gaps between buck and frame and weigh thickness against sheet and cost.",
            results=("posed", "surveyed", "blank", "formed", "weighed"),
            tells=("gaps",),
            outcomes={True: "gaps compared."},
            sets={"forecast": {"quality": "preview", "compare_gaps": True}},
        ),
        Command(
            name="halves",
            title="Part a sculpt by a plane into two, each for a buck of its own.",
            results=("parted",),
            tells=("sculpt", "halves"),
            outcomes={True: "the sculpt is in two."},
            sets={"halves": {"seek": True}},
        ),
        Command(
            name="forecast-on",
            title="Forecast the sheet on a finished buck.",
            results=("formed",),
            tells=("forecast",),
            given=("blank",),
            outcomes={True: "forecast finished."},
        ),
    )
}
"""By name."""


def stages_for(command: Command) -> tuple[Stage, ...]:
    """The stages that a command may run, in order."""
    stages = all_stages()
    givers = {stage.gives: stage for stage in stages}
    wanted: set[str] = set()

    def follow(name: str) -> None:
        if name in givers and name not in wanted and name not in command.given:
            wanted.add(name)
            for need in givers[name].needs:
                follow(need)

    for name in command.results or tuple(givers):
        follow(name)
    return tuple(stage for stage in stages if stage.gives in wanted)


def settings_for(command: Command) -> dict[str, Setting]:
    """The settings that change what a command does, by 'table.key'."""
    return tables_of(stages_for(command))


def prepared(command: Command, job: Any) -> Any:
    """The job as the command takes it: a forecast that is asked for is not off, and what it sets is set."""
    if command.results == ("formed",) and job.forecast.quality == "off":
        return job.evolved(forecast={"quality": "preview"})
    return job.evolved(**command.sets) if command.sets else job


def _released(result: Any) -> bool:
    release = getattr(result, "release", result)
    return bool(release.locked == 0)


def releases(command: Command, results: Mapping[str, Any]) -> bool:
    """Whether the part releases, as far as the command can tell."""
    return not command.judged_by or _released(results[command.judged_by])


def outcome_of(command: Command, *, released: bool, findings: Iterable[tuple[str, str]]) -> str:
    """What the summary leads with: one verdict, which open warnings belong to.

    Parameters
    ----------
    command : what was run
    released : see `releases`
    findings : (slug, severity) of each, worst first

    Returns
    -------
    str : a sentence
    """
    open_ones = [slug for slug, severity in findings if severity != "note"]
    if not (released and command.but and open_ones):
        return command.outcomes[released]
    kinds, named = finding_kinds(), list(dict.fromkeys(open_ones))
    titles = [kinds[slug].title for slug in named[:_NAMED]]
    words = "; ".join(title[:1].lower() + title[1:] for title in titles)
    first = ", first" if len(named) > _NAMED else ""
    return f"{command.but}, with {counted(len(open_ones), 'open warning')}{first}: {words}."
