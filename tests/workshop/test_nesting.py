"""Blanks on a stock sheet: counts worked out by hand, and layouts that hold."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buckwright.errors import InputError
from buckwright.workshop.cutting.nesting import nest

STOCK = (1220.0, 610.0)

# Worked out by hand with a saw gap of 3 mm. 420 x 300: two rows of two, and one turned beside them.
BY_HAND = [
    ((300.0, 240.0), 10, 0.967),
    ((260.0, 220.0), 10, 0.769),
    ((420.0, 300.0), 5, 0.847),
    ((340.0, 340.0), 3, 0.466),
    ((300.0, 300.0), 8, 0.967),
]


@pytest.mark.parametrize(("blank", "count", "share"), BY_HAND)
def test_counts_by_hand(blank, count, share):
    layout = nest(blank, STOCK, saw_gap_mm=3.0)
    assert len(layout.pieces) == count
    assert layout.used_share == pytest.approx(share, abs=0.001)


def test_in_rows_all_the_same_way_round():
    """420 x 300 with the direction kept: four, 68 % used; turned, one more goes beside them."""
    kept = nest((420.0, 300.0), STOCK, saw_gap_mm=3.0, may_turn=False)
    assert len(kept.pieces) == 4 and kept.used_share == pytest.approx(0.677, abs=1e-3)


def test_the_last_piece_needs_no_cut():
    assert len(nest((50.0, 100.0), (100.0, 100.0), saw_gap_mm=0.0).pieces) == 2
    assert len(nest((48.5, 100.0), (100.0, 100.0), saw_gap_mm=3.0).pieces) == 2
    assert len(nest((48.6, 100.0), (100.0, 100.0), saw_gap_mm=3.0).pieces) == 1


def test_a_pinwheel_beats_cuts_that_run_through():
    # four 3 x 2 around a hole of 1 x 1 fill 5 x 5; cuts that run through leave room for three only
    through, free = (nest((30.0, 20.0), (50.0, 50.0), free=free) for free in (False, True))
    assert (len(through.pieces), through.through) == (3, True)
    assert (len(free.pieces), free.through) == (4, False)


def test_direction_is_kept():
    kept = nest((300.0, 240.0), STOCK, saw_gap_mm=3.0, may_turn=False)
    assert {(piece.width_mm, piece.depth_mm) for piece in kept.pieces} == {(300.0, 240.0)}
    assert len(kept.pieces) == 8


def test_none_where_it_does_not_fit():
    assert nest((700.0, 650.0), STOCK).pieces == ()


def test_a_stock_of_kilometres_is_refused():
    with pytest.raises(InputError, match="check its size"):
        nest((10.0, 10.0), (10_000.0, 10_000.0))


@given(
    blank=st.tuples(st.integers(40, 300), st.integers(40, 300)),
    stock=st.tuples(st.integers(100, 700), st.integers(100, 700)),
    gap=st.integers(0, 8),
    free=st.booleans(),
)
def test_pieces_keep_apart_and_inside(blank, stock, gap, free):
    layout = nest(blank, stock, saw_gap_mm=gap, free=free)
    for piece in layout.pieces:
        assert piece.x >= 0.0 and piece.x + piece.width_mm <= stock[0] + 1e-6
        assert piece.y >= 0.0 and piece.y + piece.depth_mm <= stock[1] + 1e-6
        assert sorted((piece.width_mm, piece.depth_mm)) == sorted(blank)
    for one, other in itertools.combinations(layout.pieces, 2):
        across = max(one.x - other.x - other.width_mm, other.x - one.x - one.width_mm)
        along = max(one.y - other.y - other.depth_mm, other.y - one.y - one.depth_mm)
        assert max(across, along) >= gap - 1e-6
    # never fewer than rows of pieces all the same way round
    rows = [
        ((stock[0] + gap) // (width + gap)) * ((stock[1] + gap) // (depth + gap))
        for width, depth in (blank, blank[::-1])
    ]
    assert len(layout.pieces) >= max(rows)
