"""Steps of a run: their times, their progress and the user's wish to stop."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from buckwright.errors import Cancelled
from buckwright.kernel import compiling

__all__ = ["COMPILING", "Clock", "Progress"]

COMPILING = "compiling, the first time only"
"""What a step is called meanwhile, after its own name; and the time that went into it."""

type Progress = Callable[[str, float], None]
"""Called with the name of the step and the share of it that is done, 0..1."""


class Clock:
    """Names the steps of a run, times them and asks between them whether to go on.

    `gate` is called when everything is written and nothing is published yet; it may raise `Cancelled`.
    """

    def __init__(
        self,
        progress: Progress | None = None,
        cancelled: Callable[[], bool] | None = None,
        gate: Callable[[], None] | None = None,
    ) -> None:
        self.gate = gate
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
        with compiling(
            lambda: self._progress(f"{name}, {COMPILING}", self._share),
            lambda: self._progress(name, self._share),
        ) as watch:
            yield
        if watch.seconds:
            self.times_s[COMPILING] = self.times_s.get(COMPILING, 0.0) + watch.seconds
        took = max(time.perf_counter() - begun - watch.seconds, 0.0)
        self.times_s[name] = self.times_s.get(name, 0.0) + took
        self._progress(name, 1.0)

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
