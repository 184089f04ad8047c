"""The one door to the compiler: `kernel` marks a loop to compile and cache, `in_parts` shares it out."""

import os
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor, wait
from contextlib import contextmanager
from functools import cache
from itertools import pairwise
from typing import Any, cast

import numba
from numba.core.event import Event, Listener, install_listener

__all__ = ["Compiling", "compiling", "in_parts", "kernel"]


def kernel(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a loop over arrays, keeping the machine code in the cache beside the source.

    Division follows numpy (no ZeroDivisionError); fast-math stays off because exact comparison of
    heights is what the kernels are for.
    """
    return cast(Callable[..., Any], numba.njit(cache=True, nogil=True, error_model="numpy")(function))


class Compiling(Listener):  # type: ignore[misc]
    """Hears when loops are compiled that are not kept yet.

    Attributes
    ----------
    seconds : spent on it so far; loops that are read from the cache do not count
    """

    def __init__(self, tell: Callable[[], None]) -> None:
        self.seconds = 0.0
        self._tell, self._depth, self._begun = tell, 0, 0.0

    def on_start(self, event: Event) -> None:
        """A loop, or one that it calls; only one thread compiles at a time."""
        del event
        self._depth += 1
        if self._depth == 1:
            self._begun = time.perf_counter()
            self._tell()

    def on_end(self, event: Event) -> None:
        """The same is ready."""
        del event
        self._depth -= 1
        if not self._depth:
            self.seconds += time.perf_counter() - self._begun


@contextmanager
def compiling(tell: Callable[[], None]) -> Iterator[Compiling]:
    """Call `tell` whenever compiling begins, and count the seconds that it takes."""
    watch = Compiling(tell)
    with install_listener("numba:compile", watch):
        yield watch


@cache
def _helpers() -> ThreadPoolExecutor:
    """Threads that are kept: making them anew costs as much as a small share of work."""
    return ThreadPoolExecutor(max((os.process_cpu_count() or 1) - 1, 1))


def in_parts(work: Callable[[int, int], None], count: int, *, least: int = 1 << 16) -> None:
    """Call `work(begin, end)` on ranges that cover 0..count, on as many processors as there are.

    Kernels let go of the interpreter's lock, so threads run side by side; ranges of fewer than `least`
    are not worth a thread. Each call must write to its own range only, and must not share out work itself.
    """
    threads = min(os.process_cpu_count() or 1, max(count // least, 1))
    if threads == 1:
        work(0, count)
        return
    cuts = [count * n // threads for n in range(threads + 1)]
    others = [_helpers().submit(work, begin, end) for begin, end in pairwise(cuts[1:])]
    try:
        work(cuts[0], cuts[1])
    finally:
        wait(others)
    for done in others:
        done.result()
