"""Steps of a run: what is told while loops are compiled, and where that time goes."""

import time

import numba
import pytest

from buckwright.clock import COMPILING, Clock
from buckwright.errors import Cancelled


def compiled_anew():
    """A loop that is in no cache and has one of its own in it."""

    @numba.njit
    def inner(x):
        return x * x

    @numba.njit
    def outer(x):
        total = 0.0
        for n in range(10):
            total += inner(x + n)
        return total

    return outer


def test_compiling_is_told_and_timed_apart():
    told = []
    clock = Clock(lambda step, share: told.append((step, share)))
    loop = compiled_anew()
    before = time.perf_counter()
    with clock.step("filling"):
        begun = time.perf_counter()
        clock.tick(0.25)
        assert loop(1.0) == 385.0
        time.sleep(0.05)
        within = time.perf_counter() - begun
    around = time.perf_counter() - before
    assert told == [
        ("filling", 0.0),
        ("filling", 0.25),
        (f"filling, {COMPILING}", 0.25),  # once, the loop inside is part of it
        ("filling", 0.25),  # compiled
        ("filling", 1.0),
    ]
    assert 0.05 <= clock.times_s["filling"] < around
    assert clock.times_s[COMPILING] > 0.0
    assert within <= sum(clock.times_s.values()) <= around  # however busy the machine is


def test_what_is_compiled_already_is_no_news():
    told = []
    clock = Clock(lambda step, share: told.append((step, share)))
    loop = compiled_anew()
    loop(1.0)
    with clock.step("filling"):
        loop(2.0)
    assert told == [("filling", 0.0), ("filling", 1.0)]
    assert list(clock.times_s) == ["filling"]


def test_nothing_is_heard_after_a_step_that_failed():
    told = []
    clock = Clock(lambda step, share: told.append(step))
    with pytest.raises(Cancelled), clock.step("filling"):
        raise Cancelled("stopped")
    told.clear()
    compiled_anew()(1.0)
    assert told == []
