"""What stands round the buck: lines and further bucks in the frame of the first."""

import numpy as np
import pytest

from buckwright.workshop.rig.bench import BENCH, bench_lines, bench_places
from buckwright.workshop.rig.planning import plan_rig


def plan(*, reducing=True, dead_mm=6.0):
    return plan_rig(
        base_mm=(120.0, 90.0),
        height_mm=50.0,
        opening_mm=(200.0, 170.0),
        grip_mm=15.0,
        reducing=reducing,
        platen_mm=(600.0, 500.0),
        dead_mm=dead_mm if reducing else 0.0,
        gasket_width_mm=10.0,
        machine_height_mm=None,
        owned_mm=(),
    )


def lines(**more):
    asked = {"corner_mm": 10.0, "platen_mm": (600.0, 500.0), "machine_mm": (580.0, 480.0), "round_one": False}
    return bench_lines(plan(), **(asked | more))


def test_each_line_has_its_size_and_its_height():
    made = lines()
    assert set(made) == set(BENCH)
    sizes = {name: np.ptp(line, axis=0)[:2].tolist() for name, line in made.items()}
    assert sizes["platen"] == [600.0, 500.0] and sizes["machine"] == [580.0, 480.0]
    assert sizes["opening"] == pytest.approx([200.0, 170.0]) == sizes["frame_inside"]
    assert sizes["blank"] == pytest.approx([230.0, 200.0])
    heights = {name: {*line[:, 2].tolist()} for name, line in made.items()}
    assert heights["platen"] == heights["machine"] == {0.0}
    assert all(heights[name] == {6.0} for name in ("opening", "blank", "frame_inside", "frame_outside"))


def test_what_is_not_known_is_left_out_and_round_is_round():
    bare = bench_lines(plan(reducing=False), corner_mm=10.0, platen_mm=None, machine_mm=None, round_one=False)
    assert set(bare) == {"opening", "blank"}
    turn = bench_lines(
        plan(reducing=False), corner_mm=0.0, platen_mm=(140.0, 140.0), machine_mm=None, round_one=True
    )["platen"]
    assert np.hypot(*turn[:, :2].T) == pytest.approx(np.full(len(turn), 70.0))


def test_one_buck_stands_in_the_middle_of_its_opening():
    (only,) = bench_places([(0.0, 0.0, False)], np.array([3.0, -2.0]))
    assert only @ [0.0, 0.0, 0.0, 1.0] == pytest.approx([3.0, -2.0, 0.0, 1.0])


@pytest.mark.parametrize("turned", [False, True])
def test_copies_stand_to_the_first_as_on_the_board(turned):
    """The middle of each base lies where the plan has it, seen from the opening."""
    places, middle = (
        [(-50.0, -30.0, turned), (50.0, -30.0, turned), (0.0, 40.0, not turned)],
        np.array([5.0, 7.0]),
    )
    first, *copies = bench_places(places, middle)
    back = np.linalg.inv(first)
    for (x, y, around), matrix in zip(places, [np.eye(4), *copies], strict=True):
        there = back @ matrix @ [*middle, 0.0, 1.0]
        assert there == pytest.approx([x, y, 0.0, 1.0])
        along = (back @ matrix)[:2, 0]
        assert along == pytest.approx([0.0, 1.0] if around else [1.0, 0.0], abs=1e-12)
