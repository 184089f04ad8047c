"""The one door to the compiler: `kernel` marks a loop to compile and cache, `in_parts` shares it out."""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from functools import cache
from itertools import pairwise
from typing import Any, cast

import numba

__all__ = ["in_parts", "kernel"]


def kernel(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a loop over arrays, keeping the machine code in the cache beside the source.

    Division follows numpy (no ZeroDivisionError); fast-math stays off because exact comparison of
    heights is what the kernels are for.
    """
    return cast(Callable[..., Any], numba.njit(cache=True, nogil=True, error_model="numpy")(function))


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
