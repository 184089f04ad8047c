"""The one door to the compiler: `kernel` compiles and caches a loop, `in_parts` shares it out to threads."""

import os
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor, wait
from contextlib import contextmanager
from functools import cache
from itertools import pairwise
from typing import Any, cast

import numba
from numba.core.event import Event, Listener, install_listener

__all__ = ["Compiling", "compiling", "in_parts", "keeps_code", "kernel"]


def kernel(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a loop over arrays; the machine code is cached beside the source.

    Parameters
    ----------
    function : loop over numpy arrays and numbers, within the subset of Python that numba compiles

    Returns
    -------
    The compiled function; it releases the interpreter's lock while it runs.

    Notes
    -----
    Division follows numpy (no ZeroDivisionError). Fast-math stays off because the kernels rely on exact
    comparison of heights.
    """
    # no loop is handed to C code as a pointer, and the wrapper for that takes a tenth of compiling
    how = {"nogil": True, "error_model": "numpy", "no_cfunc_wrapper": True}
    try:
        compiled = numba.njit(cache=True, **how)(function)
    except RuntimeError:  # nowhere to keep machine code: neither beside the source nor in a home folder
        _without_cache()
        compiled = numba.njit(**how)(function)
    return cast(Callable[..., Any], compiled)


@cache
def _without_cache() -> None:
    """Say once that every start compiles anew."""
    words = "no folder can be written to keep compiled loops: every run compiles them anew"
    print(f"buckwright: {words}; set NUMBA_CACHE_DIR to a folder that can", file=sys.stderr)  # noqa: T201


def keeps_code() -> bool:
    """Whether machine code is kept on the disk, where another process finds it."""
    return not _without_cache.cache_info().currsize


class Compiling(Listener):  # type: ignore[misc]
    """Numba listener: times compilations that missed the cache.

    Attributes
    ----------
    seconds : time spent compiling so far; loops read from the cache do not count
    """

    def __init__(self, tell: Callable[[], None], done: Callable[[], None]) -> None:
        self.seconds = 0.0
        self._tell, self._done, self._depth, self._begun = tell, done, 0, 0.0

    def on_start(self, event: Event) -> None:
        """Note that a loop, or one that it calls, starts to compile; only one thread compiles at a time.

        Parameters
        ----------
        event : numba's event, not used
        """
        del event
        self._depth += 1
        if self._depth == 1:
            self._begun = time.perf_counter()
            self._tell()

    def on_end(self, event: Event) -> None:
        """Note that the loop is compiled, and add up the time when it is the outermost one.

        Parameters
        ----------
        event : numba's event, not used
        """
        del event
        self._depth -= 1
        if not self._depth:
            self.seconds += time.perf_counter() - self._begun
            self._done()


@contextmanager
def compiling(tell: Callable[[], None], done: Callable[[], None] = lambda: None) -> Iterator[Compiling]:
    """Call `tell` whenever a compilation starts and `done` when it ends, and count the seconds that it takes.

    Parameters
    ----------
    tell, done : called without arguments, once for each outermost loop

    Yields
    ------
    Compiling : its `seconds` grow while the context is open
    """
    watch = Compiling(tell, done)
    with install_listener("numba:compile", watch):
        yield watch


@cache
def _helpers() -> ThreadPoolExecutor:
    """Threads kept for reuse: starting new ones costs as much as a small share of the work."""
    return ThreadPoolExecutor(max((os.process_cpu_count() or 1) - 1, 1))


def in_parts(work: Callable[[int, int], None], count: int, *, least: int = 1 << 16) -> None:
    """Call `work(begin, end)` on ranges that cover 0..count, on as many processors as there are.

    Parameters
    ----------
    work : called with a half-open range; each call must write to its own range only. It may call `in_parts`
        itself: what no thread has begun when it is waited for is done by the one that waits
    count : length of the whole range, >= 0
    least : smallest range worth a thread of its own, >= 1

    Raises
    ------
    Exception
        Whatever `work` raises, once all ranges are finished.

    Notes
    -----
    Kernels release the interpreter's lock, so threads run side by side.
    """
    threads = min(os.process_cpu_count() or 1, max(count // least, 1))
    if threads == 1:
        work(0, count)
        return
    cuts = [count * n // threads for n in range(threads + 1)]
    others = [(_helpers().submit(work, begin, end), begin, end) for begin, end in pairwise(cuts[1:])]
    try:
        work(cuts[0], cuts[1])
        for other, begin, end in others:
            if other.cancel():  # the helpers are busy with the ranges of another thread
                work(begin, end)
    finally:
        # a cancelled future counts as waiting until a helper comes to it
        wait([other for other, _, _ in others if not other.cancelled()])
    for other, _, _ in others:
        if not other.cancelled():
            other.result()
