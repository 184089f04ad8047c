"""Search for better settings of a job among a few choices; the best so far is kept whenever it is stopped."""

import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from buckwright.errors import BuckwrightError, InputError
from buckwright.job import Job
from buckwright.many.choices import (
    Place,
    block_choices,
    choices_for,
    neighbours,
    radii_for,
    sinks_for,
    spread_out,
)
from buckwright.many.entries import Entry, sweep_entries
from buckwright.many.executor import Executor
from buckwright.many.judging import WEB, Judged, best_first, judge, left_words
from buckwright.many.running import Telling, Work, run_many
from buckwright.many.table import Row, csv_bytes
from buckwright.many.tune_page import setting_words, tune_page
from buckwright.many.varying import Varied
from buckwright.output.files import Batch, filled_by

__all__ = ["CHOSEN", "PAGE", "Tuned", "read_chosen", "tune", "tuned_report"]

CHOSEN = "choices.json"
PAGE = "tune.html"
_VARIANTS = "variants"
_SPREAD_SHARE = 0.5
"""Of all variants, those that are spread out before the search goes near the best. House rule."""
_AT_ONCE = 6
"""Variants near the best that are tried before it is looked again which is best. House rule."""
_WITH_BLOCKS = 2
"""Variants that are tried with take-up blocks, as each takes as long as ten others. House rule."""


@dataclass(frozen=True, slots=True)
class Tuned:
    """What a search has found.

    Attributes
    ----------
    ranked : variants, the best first
    own : the job as it is set, as a variant
    changes : of each variant by name, settings by 'table.key' that differ from the job's
    rows : of every variant that was tried
    left : what no variant is free of, in words
    """

    ranked: tuple[Judged, ...]
    own: Judged
    changes: dict[str, dict[str, Any]]
    rows: tuple[Row, ...]
    left: str

    @property
    def titles(self) -> dict[str, str]:
        """What each variant changes, as people read it, by its name."""
        return {name: setting_words(changes) for name, changes in self.changes.items()}


class _Search:
    """Variants that were tried, and what came of them."""

    def __init__(self, job: Job, out: Path, least_mm: float) -> None:
        self._job, self._out, self._least_mm = job, out, least_mm
        self._choices: list[Varied] = []
        self.sizes: list[int] = []
        """Values of each choice that is free; 1 of one that is held."""
        self.rows: dict[Place, Row] = {}

    def add(self, choices: Sequence[Varied], *, held: bool = False) -> None:
        """Let more settings change; those that are held keep the job's own value."""
        self._choices += choices
        self.sizes += [1 if held else len(one.values) for one in choices]
        self.rows = {(*place, *(0 for _ in choices)): row for place, row in self.rows.items()}

    def entry(self, place: Place) -> Entry:
        """A variant as an entry; the job's own value of a setting stays as it is written."""
        changed = [
            Varied(one.name, (one.values[n],)) for one, n in zip(self._choices, place, strict=True) if n
        ]
        (entry,) = sweep_entries(self._job, changed)
        return Entry(entry.name if changed else "as_set", entry.job, varied=entry.varied)

    def try_out(self, places: Sequence[Place], executor: Executor, tell: Telling) -> None:
        """Work out variants."""
        work = Work(title=_VARIANTS, command="make", out=self._out / _VARIANTS)
        fresh = [place for place in places if place not in self.rows]
        if not fresh:
            return
        entries = [self.entry(place) for place in fresh]
        places_of = {entry.name: place for entry, place in zip(entries, fresh, strict=True)}

        def took(row: Row) -> None:
            self.rows[places_of[row.name]] = row
            with suppress(BuckwrightError, KeyError):  # told by whoever asks for what was found
                self.write()

        for row in run_many(entries, work, executor, tell=tell, took=took):
            self.rows[places_of[row.name]] = row

    @property
    def own_report(self) -> Mapping[str, Any]:
        """The report of the job as it is set."""
        return self.rows[(0,) * len(self.sizes)].report

    def found(self) -> Tuned:
        """All that is known.

        Raises
        ------
        InputError
            The job as it is set gave nothing, so that there is nothing to compare with.
        """
        own = self.rows[(0,) * len(self.sizes)]
        if own.state != "done":
            raise InputError(f"the job as it is set cannot be worked out: {own.wrong}")
        done = {row.name: row for row in self.rows.values() if row.state == "done"}
        judged = [judge(name, row.report, own.report, least_mm=self._least_mm) for name, row in done.items()]
        ranked = tuple(_no_two_alike(best_first(judged)))
        mine = next(one for one in judged if one.name == own.name)
        changes = {name: dict(row.varied) for name, row in done.items()}
        titles = {name: setting_words(row.varied) for name, row in done.items()}
        left = left_words(ranked, titles, own.report, [row.report for row in done.values()])
        return Tuned(ranked, mine, changes, tuple(self.rows.values()), left)

    def best(self) -> list[tuple[Place, Judged]]:
        """All places so far, the best first."""
        places = {row.name: place for place, row in self.rows.items()}
        return [(places[one.name], one) for one in self.found().ranked]

    def write(self) -> None:
        """Write table, page and choices."""
        found = self.found()
        chosen = [
            {"name": one.name, "changes": found.changes[one.name], "words": one.words, "faults": one.faults}
            for one in found.ranked
        ]
        folders = {row.name: f"{_VARIANTS}/{row.name}" for row in found.rows if row.state == "done"}
        page = tune_page(self._job.title, found.ranked, found.own, found.titles, found.left, folders)
        with Batch(self._out) as batch:
            batch.add("tune.csv", filled_by(csv_bytes(_in_order(found))))
            batch.add(PAGE, filled_by(page))
            batch.add(CHOSEN, filled_by(json.dumps(chosen, indent=2, ensure_ascii=False).encode()))


def _no_two_alike(ranked: Sequence[Judged]) -> list[Judged]:
    """Of variants that are the same in every figure that the job has the first: no block is kept."""
    first: dict[object, Judged] = {}
    for one in ranked:
        known = (entry for entry in one.compared if entry.own is not None)
        first.setdefault(tuple((entry.figure.name, entry.value) for entry in known), one)
    return list(first.values())


def tune(
    job: Job,
    choices: Sequence[Varied] | None,
    out: Path,
    executor: Executor,
    *,
    count: int,
    least_mm: float,
    tell: Telling = lambda *_: None,
) -> Tuned:
    """Search.

    Parameters
    ----------
    job : as it is set; its sculpt is never changed
    choices : settings that may change, the job's own value first; None takes the usual ones, other depths
        of sinking where there are some, and radii and take-up blocks where the job as it is set has faults
        that they may mend
    out : folder for table, page and variants
    executor : who works variants out
    count : of variants, at most, the job as it is set among them
    least_mm : wanted thickness of the weakest spot
    tell : hears how far each round is

    Returns
    -------
    Tuned

    Raises
    ------
    InputError
        The job as it is set cannot be worked out.
    KeyboardInterrupt
        The user stopped; the best so far is written.
    """
    search = _Search(job, out, least_mm)
    try:
        search.add(choices_for(job) if choices is None else choices)
        search.try_out([(0,) * len(search.sizes)], executor, tell)
        own = search.found().own  # nothing can be compared with a job that fails
        blocks = block_choices(job, own) if choices is None else []
        with_blocks = min(_WITH_BLOCKS, count // 4) if blocks else 0
        if choices is None:
            search.add([*sinks_for(job, search.own_report), *radii_for(job, own)])
        search.add(blocks, held=True)
        _go_through(search, count - with_blocks, executor, tell)
        search.try_out(_with_last(search, with_blocks), executor, tell)
    finally:
        with suppress(BuckwrightError, KeyError):
            search.write()
    return search.found()


def _go_through(search: _Search, count: int, executor: Executor, tell: Telling) -> None:
    """Variants that are spread out, then those near the best."""
    spread = spread_out(search.sizes, max(int(count * _SPREAD_SHARE), min(count, 2)))
    for n in range(1, len(spread), _AT_ONCE):
        search.try_out(spread[n : n + _AT_ONCE], executor, tell)
    while len(search.rows) < count and (near := _untried(search)):
        search.try_out(near[: min(_AT_ONCE, count - len(search.rows))], executor, tell)


def _untried(search: _Search) -> list[Place]:
    place, _ = search.best()[0]
    return [near for near in neighbours(place, search.sizes) if near not in search.rows]


def _with_last(search: _Search, count: int) -> list[Place]:
    """The best variants that still have a web over the trim line, with the choice that was held."""
    return [(*place[:-1], 1) for place, one in search.best() if WEB in one.lacks][:count]


def _in_order(found: Tuned) -> list[Row]:
    """Rows as they rank, then those that failed."""
    rows = {row.name: row for row in found.rows}
    ranked = [rows[one.name] for one in found.ranked]
    return [*ranked, *(row for row in found.rows if row not in ranked)]


def tuned_report(found: Tuned, out: Path) -> dict[str, Any]:
    """What a search found, for a program: the best first, what each changes and trades; where the page is.

    Parameters
    ----------
    found : see `Tuned`
    out : its folder
    """
    ranked = [
        {
            "name": one.name,
            "title": found.titles[one.name],
            "changes": found.changes[one.name],
            "words": one.words,
            "faults": list(one.faults),
        }
        for one in found.ranked
    ]
    page = str(out / PAGE)
    return {"tune": {"ranked": ranked, "own": found.own.name, "left": found.left, "page": page}}


def read_chosen(out: Path, number: int) -> dict[str, Any]:
    """A variant of an earlier search, by its rank from 1.

    Raises
    ------
    InputError
        There was no search, or it has no such variant.
    """
    try:
        chosen = json.loads((out / CHOSEN).read_bytes())
    except (OSError, ValueError) as error:
        raise InputError(f"{out} holds no search; run 'buckwright tune' first") from error
    if not 1 <= number <= len(chosen):
        raise InputError(f"there is no variant {number}; there are 1 to {len(chosen)}")
    found: dict[str, Any] = chosen[number - 1]
    return found
