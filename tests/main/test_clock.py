"""Steps of a run: what is told while loops are compiled, and where that time goes."""

import itertools
import threading
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


def test_what_goes_on_beside_is_told_when_it_is_waited_for():
    told = []
    clock = Clock(lambda step, share: told.append((step, share)))
    begun = threading.Event()

    def work(own):
        with own.step("forecasting"):
            own.tick(0.25)
            begun.set()
            time.sleep(0.2)  # long enough to be waited for
            own.tick(0.5)
        with own.step("trying"):
            own.tick(0.5)
        return "formed"

    with clock.beside(work) as other:
        assert begun.wait(10.0)
        with clock.step("drilling"):
            pass
        assert told == [("drilling", 0.0), ("drilling", 1.0)]
        assert other.result() == "formed"
    names = [name for name, _ in itertools.groupby(step for step, _ in told)]
    assert names == ["drilling", "forecasting", "trying"]
    for name in names:
        shares = [share for step, share in told if step == name]
        assert shares == sorted(shares) and (shares[0], shares[-1]) == (0.0, 1.0)
    assert list(clock.times_s) == names and clock.times_s["forecasting"] >= 0.2


def test_what_goes_on_beside_stops_with_what_waits_for_it():
    ended = threading.Event()

    def work(own):
        try:
            while True:
                own.tick(0.1)
                time.sleep(0.001)
        finally:
            ended.set()

    asked = []
    clock = Clock(cancelled=lambda: len(asked) > 2 or asked.append(1))
    with pytest.raises(Cancelled), clock.beside(work) as other:
        other.result()
    assert ended.is_set()
    with pytest.raises(ZeroDivisionError), Clock().beside(lambda _: 1 / 0) as other:
        other.result()
