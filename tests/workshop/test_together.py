"""Several sizes on common sheets, and the order of cuts."""

import itertools
import math
import time

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from buckwright.errors import InputError, JobError
from buckwright.workshop.cutting.cut_order import cut_order
from buckwright.workshop.cutting.nesting import nest
from buckwright.workshop.cutting.planning import OWN, plan_cutting
from buckwright.workshop.cutting.settings import StockSettings
from buckwright.workshop.cutting.together import Demand, nest_together

STOCK = (1220.0, 610.0)


def plan(blank_mm=(300.0, 240.0), **stock):
    return plan_cutting(blank_mm, StockSettings(**stock), thickness_mm=1.0, density_kg_m3=1040.0)


def parted(pieces, stock, gap):
    """Follow the cuts with rectangles of sheet: those that are left without the saw's width."""
    cutting = cut_order(pieces, stock, saw_gap_mm=gap)
    rooms = [(0.0, 0.0, *stock)]
    for cut in cutting.cuts:
        axis = 0 if cut.across else 1
        hit = [
            room
            for room in rooms
            if room[axis] - gap < cut.at_mm < room[2 + axis]
            and (room[1 - axis], room[3 - axis]) == (cut.start_mm, cut.end_mm)
        ]
        # a cut runs from edge to edge of exactly one piece of what is left
        assert len(hit) == 1, cut
        rooms.remove(hit[0])
        near, far = list(hit[0]), list(hit[0])
        near[2 + axis], far[axis] = cut.at_mm, min(cut.at_mm + gap, hit[0][2 + axis])
        rooms += [tuple(one) for one in (near, far) if one[axis] < one[2 + axis]]
    return cutting, rooms


def boxes(pieces):
    return sorted((one.x, one.y, one.x + one.width_mm, one.y + one.depth_mm) for one in pieces)


@given(
    blank=st.tuples(st.integers(60, 300), st.integers(60, 300)),
    stock=st.tuples(st.integers(100, 900), st.integers(100, 700)),
    gap=st.integers(0, 6),
)
def test_every_cut_runs_through_and_leaves_the_blanks(blank, stock, gap):
    pieces = nest(blank, stock, saw_gap_mm=gap).pieces
    cutting, rooms = parted(pieces, stock, gap)
    assert cutting.locked == 0
    for box in boxes(pieces):
        assert any(all(abs(a - b) < 1e-6 for a, b in zip(box, room, strict=True)) for room in rooms), box


@given(
    blank=st.tuples(st.floats(60.0, 320.0), st.floats(60.0, 320.0)),
    gap=st.floats(0.0, 6.0),
)
@example(blank=(317.2261, 275.8163), gap=3.0)
@example(blank=(317.226, 275.865), gap=3.0)
@example(blank=(60.0, 90.0), gap=2.0)
def test_blanks_of_any_size_are_parted_by_the_cuts_that_their_layout_promises(blank, gap):
    layout = nest(blank, STOCK, saw_gap_mm=gap)
    assert layout.through
    cutting = cut_order(layout.pieces, STOCK, saw_gap_mm=gap)
    assert cutting.locked == 0
    for cut in cutting.cuts:
        axis = 0 if cut.across else 1
        for box in boxes(layout.pieces):
            meets = cut.start_mm < box[3 - axis] - 0.02 and box[1 - axis] + 0.02 < cut.end_mm
            assert not (meets and box[axis] + 0.02 < cut.at_mm < box[2 + axis] - 0.02), (cut, box)


def test_a_pinwheel_is_told_to_lock():
    pieces = nest((30.0, 20.0), (50.0, 50.0), free=True).pieces
    assert cut_order(pieces, (50.0, 50.0), saw_gap_mm=0.0).locked == 4


def test_cuts_by_hand():
    # 600 x 300 on 1220 x 610 with cuts of 3 mm: two by two, 17 mm left beside and 7 mm above
    cuts = plan((600.0, 300.0), keep_direction=True).cutting.cuts
    assert [(cut.across, cut.at_mm, cut.start_mm, cut.end_mm) for cut in cuts] == [
        (True, 600.0, 0.0, 610.0),
        (False, 300.0, 0.0, 600.0),
        (False, 603.0, 0.0, 600.0),
        (True, 1203.0, 0.0, 610.0),
        (False, 300.0, 603.0, 1203.0),
        (False, 603.0, 603.0, 1203.0),
    ]


def test_other_jobs_fill_what_is_left():
    # 8 of 300 x 240 leave 242 x 610 of a sheet of 1220 x 610 with cuts of 3 mm: two of 240 x 300 go there
    demands = [Demand("a", (300.0, 240.0), 8), Demand("b", (240.0, 300.0), 2)]
    together = nest_together(demands, STOCK, saw_gap_mm=3.0)
    assert together.count == together.least == 1
    alone = nest_together(demands[:1], STOCK, saw_gap_mm=3.0).count
    assert alone == 1


def test_direction_is_kept_together_too():
    demands = [Demand("a", (600.0, 300.0), 1), Demand("b", (300.0, 600.0), 1)]
    for sheet in nest_together(demands, STOCK, may_turn=False).sheets:
        for one in sheet.pieces:
            wanted = next(d.blank_mm for d in demands if d.name == one.name)
            assert (one.piece.width_mm, one.piece.depth_mm) == pytest.approx(wanted)


@given(
    sizes=st.lists(
        st.tuples(st.integers(60, 500), st.integers(60, 500), st.integers(1, 6)), min_size=1, max_size=5
    ),
    gap=st.integers(0, 6),
)
def test_all_blanks_are_there_apart_inside_and_cut_through(sizes, gap):
    demands = [Demand(f"{n}", (w, d), count) for n, (w, d, count) in enumerate(sizes)]
    together = nest_together(demands, STOCK, saw_gap_mm=gap)
    assert together.count >= together.least
    for one in demands:
        laid = [
            named.piece
            for sheet in together.sheets
            for named in sheet.pieces * sheet.count
            if named.name == one.name
        ]
        assert len(laid) == one.count
        assert all(sorted((p.width_mm, p.depth_mm)) == pytest.approx(sorted(one.blank_mm)) for p in laid)
    for sheet in together.sheets:
        pieces = [named.piece for named in sheet.pieces]
        for one in pieces:
            assert one.x >= 0.0 and one.x + one.width_mm <= STOCK[0] + 1e-6
            assert one.y >= 0.0 and one.y + one.depth_mm <= STOCK[1] + 1e-6
        for one, other in itertools.combinations(pieces, 2):
            across = max(one.x - other.x - other.width_mm, other.x - one.x - one.width_mm)
            along = max(one.y - other.y - other.depth_mm, other.y - one.y - one.depth_mm)
            assert max(across, along) >= gap - 1e-6
        assert cut_order(pieces, STOCK, saw_gap_mm=gap).locked == 0


def test_a_blank_too_large_is_named():
    with pytest.raises(InputError, match=r"700 x 650 mm \(cup\) does not go on stock"):
        nest_together([Demand("cup", (700.0, 650.0), 1)], STOCK)


@pytest.mark.parametrize("text", ["300", "300 x 240: many", "300 x 240: 0", "5 x 5", "x"])
def test_other_blanks_that_cannot_be_read_are_refused(text):
    with pytest.raises(JobError, match=r"stock.also: .* names no blanks"):
        StockSettings(also=text)


def test_other_blanks_are_read():
    assert StockSettings(also="300 x 240: 4, 260x220 mm").also_mm == (
        ((300.0, 240.0), 4),
        ((260.0, 220.0), 1),
    )


def test_cost_is_shared_by_area():
    alone = plan(parts=10, spare_share=0.0, price=20.0)
    assert (alone.sheets, alone.cost_per_part) == (1, 2.0)
    shared = plan(parts=4, spare_share=0.0, price=20.0, also="300 x 240: 6")
    assert shared.together.count == 1
    assert shared.cost_per_part == pytest.approx(20.0 * 0.4 / 4)
    told = shared.to_dict()["together"]
    assert told["sheets"] == 1 and len(told["layouts"][0]["pieces"]) == 10
    assert sum(one["for"] == OWN for one in told["layouts"][0]["pieces"]) == 4


def test_two_hundred_blanks_take_less_than_two_seconds():
    sizes = [(420.0, 300.0), (260.0, 220.0), (340.0, 340.0), (180.0, 150.0), (300.0, 240.0)]
    demands = [Demand(f"{n}", size, 40) for n, size in enumerate(sizes)]
    start = time.process_time()
    together = nest_together(demands, STOCK, saw_gap_mm=3.0)
    assert time.process_time() - start < 2.0
    assert together.count <= 1.2 * together.least
    area = sum(w * d for w, d in sizes) * 40 / (STOCK[0] * STOCK[1])
    assert together.least >= math.ceil(area) - 1
