"""The engine: works out the result of a stage, and of those it needs, from a job.

A stage is shown only what it declared, and the key of the store is made of just that: the values of the
tables and settings that it names, and the keys of the results.
"""

from collections.abc import Callable, Container, Mapping, Sequence
from typing import Any, Self

import attrs

from buckwright.clock import Beside, Clock
from buckwright.errors import Cancelled
from buckwright.job import Job
from buckwright.pipeline.packing import digest_of
from buckwright.pipeline.source import Source, contents_of, source_of
from buckwright.pipeline.store import Store, hashed, library_state
from buckwright.settings import settings_of
from buckwright.stage import Stage, argument_of

__all__ = ["Engine"]

SOURCE = "source"
"""What a stage names that reads the sculpt itself."""


class Engine:
    """Works out results of one job; as a context, it leaves nothing behind that still works.

    Parameters
    ----------
    stages : each after those it needs
    job : all tables
    clock : times steps, and stops when asked to
    store : where results are kept
    given : results that are known beforehand, by name; what only they would need is not worked out
    """

    def __init__(
        self,
        stages: Sequence[Stage],
        job: Job,
        clock: Clock,
        store: Store,
        given: Mapping[str, Any] | None = None,
    ) -> None:
        self._stages = {stage.gives: stage for stage in stages}
        self._job, self._clock, self._store = job, clock, store
        self._given = frozenset(given or ())
        self.results: dict[str, Any] = dict(given or {})
        self._keys: dict[str, str] = {}
        self._source: Source | None = None
        self._beside: dict[str, Beside[Any]] = {}
        self._working: set[str] = set()
        self._tell: Callable[[], None] = lambda: None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for other in self._beside.values():
            other.stop()

    def work_out(self, names: Sequence[str], done: Callable[[], None]) -> None:
        """Work out results, some of them beside the others.

        Parameters
        ----------
        names : of results, each after those it needs
        done : called whenever there are more results

        Raises
        ------
        BuckwrightError
            What the stages raise; of several, the first in order.
        """

        def tell() -> None:
            self._begin(names)
            done()

        left: list[str] = []
        self._tell = tell
        self._begin(names)
        try:
            for name in names:
                if self._stages[name].lazy:
                    continue
                if name in self._beside:
                    left.append(name)
                else:
                    self.get(name)
        except Cancelled:
            raise
        except Exception:
            self._wait_for(left)
            raise
        for name in left:
            self.get(name)

    def _begin(self, names: Sequence[str]) -> None:
        """Begin what may be made beside and has all that it needs."""
        for name in names:
            stage = self._stages[name]
            known = name in self.results or name in self._beside or name in self._working
            if (
                stage.beside
                and not known
                and self._is_ready(stage)
                and self._is_asked_for(stage, names)
                and not self._is_kept(stage)
            ):
                self._begin_one(stage)

    def _is_asked_for(self, stage: Stage, names: Sequence[str]) -> bool:
        """Whether a result is wanted; of a lazy stage, by a stage whose own is wanted and not kept."""
        wanted = stage.wanted(self._job.tables)
        if not (wanted and stage.lazy):
            return wanted
        others = (self._stages[name] for name in names if name not in self.results)
        asking = (other for other in others if stage.gives in other.needs)
        return any(other.wanted(self._job.tables) and not self._is_kept(other) for other in asking)

    def _is_ready(self, stage: Stage) -> bool:
        """Whether all that a stage needs is there, or is being made beside."""
        needs = (need for need in stage.needs if need in self._stages and need not in self.results)
        return all(need in self._beside for need in needs)

    def _begin_one(self, stage: Stage) -> None:
        self._working.add(stage.gives)  # taking what it needs may have more begun
        awaited = {
            argument_of(need): self._beside[need]
            for need in stage.needs
            if need in self._beside and not self._beside[need].done()
        }
        needs = self._needs(stage, but=awaited)

        def run(clock: Clock) -> Any:
            rest = {argument: other.awaited() for argument, other in awaited.items()}
            return stage.run(**needs, **rest, clock=clock)

        self._beside[stage.gives] = self._clock.beside(run)

    def _wait_for(self, names: Sequence[str]) -> None:
        """Raise what went wrong beside, if anything did: in order it would have come first."""
        for name in names:
            if name in self._beside:
                self._taken(name)

    def get(self, name: str) -> Any:
        """A result: known, kept, or worked out now.

        Raises
        ------
        BuckwrightError
            What the stages raise.
        """
        if name not in self.results:
            self.results[name] = self._recalled(self._stages[name])
            self._tell()
        return self.results[name]

    def key(self, name: str) -> str:
        """The key of a result: all that it depends on, hashed, or of some stages the result itself."""
        if name not in self._keys:
            stage = self._stages[name]
            if stage.by_value:
                parts = {"value": digest_of(self.get(name))}
            else:
                parts = {need: self._part(need) for need in stage.needs}
            self._keys[name] = hashed(library_state(), stage.name, parts)
        return self._keys[name]

    def _recalled(self, stage: Stage) -> Any:
        found, kept = (False, None) if stage.gives in self._beside else self._read(stage)
        if found:
            return kept
        result = self._work(stage)
        if self._keeps(stage):
            self._store.write(stage.name, self.key(stage.gives), result)
        return result

    def _keeps(self, stage: Stage) -> bool:
        keeps = stage.keep and self._store.open and not self._given
        return keeps and stage.wanted(self._job.tables)

    def _is_kept(self, stage: Stage) -> bool:
        return self._keeps(stage) and self._store.holds(stage.name, self.key(stage.gives))

    def _read(self, stage: Stage) -> tuple[bool, Any]:
        """Whether a result is kept, and the result."""
        return self._store.read(stage.name, self.key(stage.gives)) if self._keeps(stage) else (False, None)

    def _work(self, stage: Stage) -> Any:
        if not stage.wanted(self._job.tables):
            return None
        if stage.gives in self._beside:
            return self._taken(stage.gives)
        self._working.add(stage.gives)
        return stage.run(**self._needs(stage), clock=self._clock)

    def _taken(self, name: str) -> Any:
        """What is made beside, once it is there; until then it is stopped with the engine."""
        result = self._beside[name].result()
        del self._beside[name]
        return result

    def _needs(self, stage: Stage, but: Container[str] = ()) -> dict[str, Any]:
        """What a stage receives, by argument, but for some."""
        named = {argument_of(need): need for need in stage.needs}
        return {argument: self._value(need) for argument, need in named.items() if argument not in but}

    def _value(self, need: str) -> Any:
        """What a stage receives for a need."""
        if need == SOURCE:
            return self._the_source()
        if need in self._stages or need in self.results:
            return self.get(need)
        table, _, key = need.partition(".")
        return getattr(self._job.tables[table], key) if key else self._job.tables[table]

    def _part(self, need: str) -> Any:
        """What a need adds to a key."""
        if need == SOURCE:
            return self._the_source().digest()
        if need in self._stages:
            return self.key(need)
        table, _, key = need.partition(".")
        values = attrs.asdict(self._job.tables[table])
        if key:
            return values[key]
        settings = settings_of(type(self._job.tables[table]))
        plain = {name: value for name, value in values.items() if not settings[name].names_file}
        return plain | contents_of(self._job, table)

    def _the_source(self) -> Source:
        if self._source is None:
            self._source = source_of(self._job)
        return self._source
