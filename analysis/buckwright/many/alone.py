"""Tasks worked out one after another in this very process, for a program that waits and may stop it."""

from collections.abc import Callable, Iterator, Sequence

from buckwright.clock import Progress
from buckwright.many.work import Product, Task, work_out

__all__ = ["Alone"]


class Alone:
    """One task at a time.

    Parameters
    ----------
    most : how many there will be in all rounds, for the progress
    progress : called with what is done and the share of the whole
    cancelled : whether to stop
    """

    def __init__(self, most: int, *, progress: Progress, cancelled: Callable[[], bool]) -> None:
        self._most, self._progress, self._cancelled = most, progress, cancelled
        self._done = 0

    def run(self, tasks: Sequence[Task]) -> Iterator[Product]:
        """Products as they are ready.

        Raises
        ------
        Cancelled
            It was stopped.
        """
        for task in tasks:
            yield work_out(task, progress=self._tell, cancelled=self._cancelled)
            self._done += 1

    def _tell(self, step: str, share: float) -> None:
        whole = min((self._done + min(max(share, 0.0), 1.0)) / self._most, 1.0)
        self._progress(f"variant {min(self._done + 1, self._most)} of {self._most}: {step}", whole)
