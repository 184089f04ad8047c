"""`Stage`: one step of the work with all that belongs to it, declared in one place.

A stage says which tables of settings are its own, what else it needs, how its result is worked out, and
what there is to tell of it: findings, sections of the report, lines of the summary, files, pictures, arrays,
colour maps. `buckwright.stages` is the one list of them; report, command line, child process, properties,
panels and colours are read from it. Imports nothing heavy, so that Blender's own process can read the
declarations.

What a stage's `run` receives is exactly what `needs` names, under the same names. It cannot read anything
else, and the key under which its result is kept is made of the same things: a forgotten dependency cannot be
written.
"""

import inspect
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from buckwright.stand import Stand

if TYPE_CHECKING:
    from buckwright.findings import Finding, FindingKind

__all__ = [
    "Answer",
    "ColorMap",
    "Figure",
    "Papers",
    "Stage",
    "Told",
    "argument_of",
    "entry_of",
    "in_order",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class ColorMap:
    """Values that faces can be coloured by.

    Attributes
    ----------
    array : name of the values among the stage's arrays, one for each face of the sculpt
    label, tip : for people
    unit : 'deg', 'mm', or empty for shares from 0 to 1 and states
    dark : the end of the range that is dark, which is the one that needs care
    zero_is_free : whether 0 means that nothing is here
    """

    array: str
    label: str
    tip: str
    unit: Literal["deg", "mm", ""] = ""
    dark: Literal["low", "high"] = "high"
    zero_is_free: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the telling parts of a stage may know: the job and every result of this run.

    Attributes
    ----------
    job : all tables, with what the machine gives
    asked : the job as it was given; None is the same
    title : what the job is called
    results : by name; one that was not worked out is missing
    stand : how the sculpt stands in the buck
    sources : which face of the standing part tells of each face of the file (see `pose.face_sources`)
    """

    job: Any
    title: str
    asked: Any = None
    results: Mapping[str, Any]
    stand: Stand = field(default_factory=Stand)
    sources: Callable[[], Any] = field(default=lambda: None)

    def get(self, name: str) -> Any:
        """A result, or None."""
        return self.results.get(name)


@dataclass(frozen=True, slots=True)
class Answer:
    """What a run answers to one of the questions that a maker asks first.

    Attributes
    ----------
    question : 'Releases', 'Fills', 'Thickness', 'Fits', or one of a stage's own
    words : the answer, one line
    """

    question: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A figure by which runs are compared.

    Attributes
    ----------
    name : of its column in tables for programs, with the unit
    label, unit : for people
    of : report -> the figure; None where the run has not worked it out
    better : whether 'more' or 'less' of it is wanted
    band : report -> what it may be off by; None where that is not known
    digits : behind the point, for people
    """

    name: str
    label: str
    of: Callable[[Mapping[str, Any]], float | None]
    better: Literal["more", "less"]
    unit: str = ""
    band: Callable[[Mapping[str, Any]], float | None] = field(default=lambda _report: None)
    digits: int = 0


def entry_of(path: str) -> Callable[[Mapping[str, Any]], float | None]:
    """Reader of one entry of a report: 'forecast.thin.mm'; None where it is missing.

    Examples
    --------
    >>> entry_of("forecast.thin.mm")({"forecast": {"thin": {"mm": 0.4}}})
    0.4
    >>> entry_of("forecast.thin.mm")({})
    """

    def read(report: Mapping[str, Any]) -> float | None:
        value: Any = report
        for key in path.split("."):
            value = value.get(key) if isinstance(value, Mapping) else None
        return None if value is None else float(value)

    return read


@dataclass(frozen=True, slots=True, kw_only=True)
class Papers:
    """Files that are made from a result.

    Attributes
    ----------
    make : (result, told) -> bytes by file name
    picture : whether they are pictures, which can be left out
    after : further results that are drawn with, where the run works them out
    loads : modules whose import takes long; a run imports them while it is still at its first stages
    """

    make: Callable[[Any, Told], Mapping[str, bytes]]
    picture: bool = False
    after: tuple[str, ...] = ()
    loads: tuple[str, ...] = ()


def _nothing(_result: Any, _told: Told) -> Any:
    return ()


def _no_entries(_result: Any, _told: Told) -> Mapping[str, Any]:
    return {}


def _none_chosen(_result: Any) -> Mapping[str, Any]:
    return {}


def _always(_tables: Mapping[str, Any]) -> bool:
    return True


_SILENT = (_nothing, _no_entries, _none_chosen)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stage:
    """One step of the work.

    Attributes
    ----------
    name : what it is called
    title : what it does, for progress and report ('filling undercuts')
    gives : name of its result, under which other stages ask for it
    needs : what `run` receives: a table ('fill'), one setting ('base.sink_mm'), or a result ('posed')
    run : (needs by name, clock) -> frozen result
    tables : its own tables of settings by name
    wanted : tables of the job by name -> whether it is asked for; if not, its result is None and nothing that
        only it needs is worked out
    keep : whether the result may be kept and read back
    by_value : whether what depends on the result is kept as long as it comes out the same
    beside : whether it takes so long that a run goes on meanwhile with stages that do not need it
    lazy : whether it is only worked out where a stage asks for it whose own result is not kept
    kinds : the kinds of its findings
    findings : (result, told) -> findings
    sections : (result, told) -> sections of the report
    answers : (result, told) -> answers that the summary leads with; of two to one question the later counts
    facts : (result, told) -> lines of the summary
    papers : files and pictures
    arrays : (result, told) -> arrays for a program that shows the results
    automatic : result -> what the rules gave for settings that were left out, by 'table.key'
    maps : colours for the faces of the sculpt
    figures : by which runs are compared

    Raises
    ------
    TypeError
        `run` takes other arguments than `needs` names.
    """

    name: str
    title: str
    gives: str
    needs: tuple[str, ...]
    run: Callable[..., Any]
    tables: Mapping[str, type] = field(default_factory=dict)
    wanted: Callable[[Mapping[str, Any]], bool] = _always
    keep: bool = False
    by_value: bool = False
    beside: bool = False
    lazy: bool = False
    kinds: tuple["FindingKind", ...] = ()
    findings: Callable[[Any, Told], Sequence["Finding"]] = _nothing
    sections: Callable[[Any, Told], Mapping[str, Any]] = _no_entries
    answers: Callable[[Any, Told], Sequence[Answer]] = _nothing
    facts: Callable[[Any, Told], Sequence[str]] = _nothing
    papers: tuple[Papers, ...] = ()
    arrays: Callable[[Any, Told], Mapping[str, Any]] = _no_entries
    automatic: Callable[[Any], Mapping[str, Any]] = _none_chosen
    maps: tuple[ColorMap, ...] = ()
    figures: tuple[Figure, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a stage whose `run` would be called wrongly."""
        wanted = {argument_of(need) for need in self.needs} | {"clock"}
        taken = set(inspect.signature(self.run).parameters)
        if wanted != taken:
            raise TypeError(f"stage {self.name}: needs are {sorted(wanted)}, run takes {sorted(taken)}")

    @property
    def tells(self) -> bool:
        """Whether there is anything to tell of its result; if not, it is worked out only for other stages."""
        told = (self.findings, self.sections, self.answers, self.facts, self.arrays, self.automatic)
        return bool(self.papers) or any(part not in _SILENT for part in told)


def argument_of(need: str) -> str:
    """Name of the argument under which a need is handed over: its last part."""
    return need.rpartition(".")[2]


def in_order(stages: Sequence[Stage]) -> tuple[Stage, ...]:
    """The stages so that each comes after those it needs; otherwise in the order given.

    Raises
    ------
    ValueError
        Two stages give the same result or own the same table, or they need one another in a circle.
    """
    givers = {stage.gives: stage for stage in stages}
    tables = [table for stage in stages for table in stage.tables]
    names = [*givers, *tables]
    if len(givers) < len(stages) or len(set(names)) < len(names):
        raise ValueError("stages must give different results and own different tables, by different names")
    done: dict[str, Stage] = {}

    def place(stage: Stage, above: tuple[str, ...]) -> None:
        if stage.name in above:
            raise ValueError(f"stages need one another: {' > '.join((*above, stage.name))}")
        if stage.name in done:
            return
        for need in stage.needs:
            if need in givers:
                place(givers[need], (*above, stage.name))
        done[stage.name] = stage

    for stage in stages:
        place(stage, ())
    return tuple(done.values())
