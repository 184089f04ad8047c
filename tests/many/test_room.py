"""How many jobs the memory holds: arithmetic on figures that are given."""

import pytest

from buckwright.many.room import FIRST_BYTES, Room

GB = 1_000_000_000


def _count(room, *, held=0):
    """Jobs that begin one after another, each holding `held` bytes when the next is asked about."""
    running = []
    while len(running) < 100 and room.for_one_more(running):
        running.append(held)
    return len(running)


@pytest.mark.parametrize(("free_gb", "count"), [(0.5, 1), (2.9, 1), (3.0, 2), (4.0, 3), (16.0, 15)])
def test_before_anything_is_measured_each_job_takes_the_house_figure(free_gb, count):
    assert FIRST_BYTES == GB
    assert _count(Room(lambda: int(free_gb * GB), 10 * GB)) == count


def test_the_greediest_job_that_is_done_counts():
    room = Room(lambda: 10 * GB, 20 * GB)  # a tenth of 20 GB is spared: 8 GB for jobs
    room.note(int(0.5 * GB))
    assert _count(room) == 16
    room.note(2 * GB)
    room.note(GB)
    assert _count(room) == 4


def test_what_running_jobs_hold_already_is_not_counted_twice():
    room = Room(lambda: 5 * GB, 20 * GB)
    room.note(2 * GB)
    assert not room.for_one_more([0])  # 5 - 2 yet to come - 2 wanted is less than the 2 spared
    assert room.for_one_more([int(1.5 * GB)], held=int(0.5 * GB))
    assert room.for_one_more([2 * GB] * 7, held=2 * GB)


def test_one_job_always_runs():
    room = Room(lambda: 0, 20 * GB)
    assert room.for_one_more([])
    assert not room.for_one_more([0])
