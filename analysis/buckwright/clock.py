"""Steps of a run: their times, their progress and the user's wish to stop."""

import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import contextmanager
from typing import Self

from buckwright.errors import Cancelled
from buckwright.kernel import Compiling, compiling

__all__ = ["COMPILING", "Beside", "Clock", "Progress"]

COMPILING = "compiling, the first time only"
"""What a step is called meanwhile, after its own name; and the time that went into it."""

_LOOK_S = 0.05

type Progress = Callable[[str, float], None]
"""Called with the name of the step and the share of it that is done, 0..1."""


class Clock:
    """Names the steps of a run, times them and asks between them whether to go on.

    `gate` is called when everything is written and nothing is published yet; it may raise `Cancelled`.
    A clock that does not listen counts compiling as part of its steps.
    """

    def __init__(
        self,
        progress: Progress | None = None,
        cancelled: Callable[[], bool] | None = None,
        gate: Callable[[], None] | None = None,
        *,
        listens: bool = True,
    ) -> None:
        self.gate = gate
        self._listens = listens
        self._progress = progress or (lambda _step, _share: None)
        self._cancelled = cancelled or (lambda: False)
        self._begun = time.perf_counter()
        self._step, self._share = "", 0.0
        self.times_s: dict[str, float] = {}

    @contextmanager
    def step(self, name: str) -> Iterator[None]:
        """Time one step under its name.

        Raises
        ------
        Cancelled
            The user asked to stop before the step began.
        """
        self._step = name
        self.tick(0.0)
        begun = time.perf_counter()
        with self.listening() as watch:
            yield
        took = max(time.perf_counter() - begun - (watch.seconds if watch else 0.0), 0.0)
        self.add({name: took})
        self._progress(name, 1.0)

    @contextmanager
    def listening(self) -> Iterator[Compiling | None]:
        """Tell of compilations meanwhile and time them."""
        if not self._listens:
            yield None
            return
        with compiling(
            lambda: self._progress(f"{self._step}, {COMPILING}", self._share),
            lambda: self._progress(self._step, self._share),
        ) as watch:
            yield watch
        if watch.seconds:
            self.add({COMPILING: watch.seconds})

    def add(self, times_s: dict[str, float]) -> None:
        """Add to the times of steps, by name."""
        for name, took in times_s.items():
            self.times_s[name] = self.times_s.get(name, 0.0) + took

    def beside[T](self, work: Callable[["Clock"], T]) -> "Beside[T]":
        """Begin a part of the work in a thread of its own.

        Parameters
        ----------
        work : called with a clock for its own steps

        Returns
        -------
        Beside : from which its result is taken
        """
        return Beside(self, work)

    def pass_on(self, step: str, share: float) -> None:
        """Tell how far a step is that is made beside.

        Raises
        ------
        Cancelled
            The user asked to stop.
        """
        self._step = step
        self.tick(share)

    def tick(self, share: float) -> None:
        """Tell how far the present step is.

        Raises
        ------
        Cancelled
            The user asked to stop.
        """
        self.ask()
        self._share = float(share)
        self._progress(self._step, self._share)

    def ask(self, _share: float = 0.0) -> None:
        """Ask whether to go on, without telling a share.

        Raises
        ------
        Cancelled
            The user asked to stop.
        """
        if self._cancelled():
            raise Cancelled(f"stopped while {self._step}")

    def total_s(self) -> float:
        """Seconds since the clock was made."""
        return time.perf_counter() - self._begun


class Beside[T]:
    """A part of the work that goes on in a thread of its own; of its steps is told when it is waited for.

    As a context it ends no later than that: what is left early is stopped.

    Parameters
    ----------
    clock : of the thread that will wait for it
    work : called with a clock for its own steps
    """

    def __init__(self, clock: Clock, work: Callable[[Clock], T]) -> None:
        self._clock, self._stopped = clock, threading.Event()
        self._steps: list[tuple[str, float]] = []
        self._passed_on = 0
        self._own = Clock(self._hear, self._stopped.is_set, listens=False)
        pool = ThreadPoolExecutor(1)
        self._future: Future[T] = pool.submit(work, self._own)
        pool.shutdown(wait=False)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def result(self) -> T:
        """Wait for it, tell of its steps meanwhile, and take over their times.

        Raises
        ------
        Cancelled
            The user asked to stop.
        Exception
            Whatever the work raised.
        """
        with self._clock.listening():
            while not wait([self._future], timeout=_LOOK_S).done:
                self._pass_on()
        result = self._future.result()
        self._pass_on()
        self._clock.add(self._own.times_s)
        return result

    def awaited(self) -> T:
        """Wait for it in another part of the work that needs it, and tell nothing.

        Raises
        ------
        Cancelled
            It was stopped.
        Exception
            Whatever the work raised.
        """
        return self._future.result()

    def done(self) -> bool:
        """Whether it has ended, or failed."""
        return self._future.done()

    def stop(self) -> None:
        """Have it stop at its next tick, and wait until it has."""
        self._stopped.set()
        wait([self._future])

    def _hear(self, step: str, share: float) -> None:
        """Keep the beginning and the end of each step, and between them how far it is."""
        if share < 1.0 and [name for name, _ in self._steps[-2:]] == [step, step]:
            self._steps[-1] = step, share
        else:
            self._steps.append((step, share))

    def _pass_on(self) -> None:
        """Tell what has not been told, and the last thing again where nothing is new."""
        self._clock.ask()
        heard = list(self._steps)
        for step, share in heard[self._passed_on :] or heard[-1:]:
            self._clock.pass_on(step, share)
        self._passed_on = len(heard)
