"""How many jobs the memory holds at once, measured from those that are done."""

from collections.abc import Callable, Sequence

import psutil

__all__ = ["FIRST_BYTES", "Room", "held_bytes"]

FIRST_BYTES = 1_000_000_000
"""What a job is taken to need before one is done: a sculpt of a million faces takes 2.3 GB, a small one a
quarter of a GB (benchmarks/README.md). House rule."""
_SPARE_SHARE = 0.1
"""Of all memory, left to everything else. House rule."""


def _available() -> int:
    return int(psutil.virtual_memory().available)


def held_bytes(process: int) -> int:
    """Memory that a process holds; 0 when it is gone."""
    try:
        return int(psutil.Process(process).memory_info().rss)
    except psutil.Error:
        return 0


class Room:
    """Decides whether one more job may begin.

    Parameters
    ----------
    available : tells how much memory is free
    total : of the machine
    """

    def __init__(
        self, available: Callable[[], int] = _available, total: int = psutil.virtual_memory().total
    ) -> None:
        self._available, self._spare = available, int(total * _SPARE_SHARE)
        self._measured = 0

    @property
    def need_bytes(self) -> int:
        """What a job is taken to need."""
        return self._measured or FIRST_BYTES

    def note(self, peak_bytes: int) -> None:
        """Learn from a job that is done; the greediest one counts."""
        self._measured = max(self._measured, peak_bytes)

    def for_one_more(self, running: Sequence[int], *, held: int = 0) -> bool:
        """Whether one more may begin.

        Parameters
        ----------
        running : bytes that each running job holds so far; they may still grow to what a job needs
        held : bytes that the worker which would take it holds already
        """
        if not running:
            return True
        growing = sum(max(self.need_bytes - own, 0) for own in running)
        wanted = max(self.need_bytes - held, 0)
        return self._available() - growing - wanted >= self._spare
