"""Ranges on several processors: covered once, and parts within parts end."""

import threading

import numpy as np
import pytest

from buckwright import kernel
from buckwright.kernel import in_parts


@pytest.fixture(autouse=True)
def two_processors(monkeypatch):
    monkeypatch.setattr(kernel.os, "process_cpu_count", lambda: 2)


def test_every_place_is_worked_on_once():
    count = np.zeros(1001, int)

    def work(begin, end):
        count[begin:end] += 1

    in_parts(work, len(count), least=10)
    assert (count == 1).all()


def test_parts_within_parts_end():
    count = np.zeros((8, 1000), int)

    def rows(begin, end):
        for row in range(begin, end):

            def work(first, last, row=row):
                count[row, first:last] += 1

            in_parts(work, 1000, least=10)

    done = threading.Thread(target=lambda: in_parts(rows, len(count), least=1), daemon=True)
    done.start()
    done.join(20.0)
    assert not done.is_alive()
    assert (count == 1).all()


def test_what_goes_wrong_in_a_part_is_raised():
    def work(begin, _end):
        if begin:
            raise ValueError("here")

    with pytest.raises(ValueError, match="here"):
        in_parts(work, 100, least=10)
