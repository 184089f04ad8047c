"""Several bucks on one platen: two stories worked out by hand, and what must always hold."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buckwright.workshop.cutting.planning import plan_cutting
from buckwright.workshop.cutting.settings import StockSettings
from buckwright.workshop.group.comparing import way_of
from buckwright.workshop.group.planning import outlines_of, placed, plan_group, spacing_for
from buckwright.workshop.templates import drawings

SQUARE = np.array([(-40.0, -27.5), (40.0, -27.5), (40.0, 27.5), (-40.0, 27.5)])


def tray(copies, **changed):
    """Soap tray: bars of 80 x 55 x 25 mm, clear opening 280 x 220, gap 25 mm."""
    usual = {"spacing_mm": spacing_for(25.0), "edge_mm": 25.0, "opening_mm": (280.0, 220.0)}
    return plan_group((80.0, 55.0), copies, **(usual | changed))


def cups(copies, **changed):
    """Wall-sconce cups of 120 x 90 x 50 mm on a machine of 600 x 600 mm, 50 mm to the clamp."""
    usual = {"spacing_mm": spacing_for(50.0), "edge_mm": 50.0, "opening_mm": (600.0, 600.0)}
    return plan_group((120.0, 90.0), copies, **(usual | changed))


def test_six_soap_bars_are_refused_and_four_accepted():
    assert spacing_for(25.0) == 43.75
    six, four = tray(6), tray(4)
    assert not six.fits and six.most == 4
    assert {(302.5, 253.75), (377.5, 203.75)} <= set(six.needs_mm)
    assert four.fits and (253.75, 203.75) in four.needs_mm
    assert four.size_mm == (203.75, 153.75)


def test_nine_cups_are_refused_and_six_accepted():
    assert spacing_for(50.0) == 87.5
    nine, six = cups(9), cups(6)
    assert not nine.fits and nine.most == 6
    assert (635.0, 545.0) in nine.needs_mm
    assert six.fits and (427.5, 545.0) in six.needs_mm


def test_four_stand_in_a_square_and_not_in_a_row():
    four = plan_group((80.0, 90.0), 4, spacing_mm=75.0, edge_mm=25.0, opening_mm=(600.0, 600.0))
    assert four.size_mm == (235.0, 255.0)


def test_flat_bucks_keep_25_mm():
    assert spacing_for(5.0) == 25.0


def test_without_an_opening_the_group_says_what_it_needs():
    six = cups(6, opening_mm=None)
    assert six.fits and six.most == 6 and not six.opening_given
    width, depth = six.opening_mm
    assert width * depth == min(w * d for w, d in six.needs_mm)


def test_a_round_opening_is_asked_for_the_corners():
    # two 40 x 40, 25 mm apart: half the way round 52.5 x 20, corner at 56.2 mm, with an edge of 10 mm 66.2
    two = {"spacing_mm": 25.0, "edge_mm": 10.0, "round_one": True}
    assert plan_group((40.0, 40.0), 2, opening_mm=(132.5, 132.5), **two).fits
    small = plan_group((40.0, 40.0), 2, opening_mm=(132.0, 132.0), **two)
    assert not small.fits and small.most == 1


@given(
    base=st.tuples(st.integers(20, 200), st.integers(20, 200)),
    copies=st.integers(2, 12),
    spacing=st.integers(0, 90),
    edge=st.integers(0, 60),
    opening=st.tuples(st.integers(150, 900), st.integers(150, 900)),
)
def test_distances_are_kept_and_no_more_are_promised_than_fit(base, copies, spacing, edge, opening):
    plan = plan_group(base, copies, spacing_mm=spacing, edge_mm=edge, opening_mm=opening)
    assert plan.fits == (copies <= plan.most) or plan.most < copies <= 2 * plan.most
    if plan.most:
        assert plan_group(base, plan.most, spacing_mm=spacing, edge_mm=edge, opening_mm=opening).fits
    assert not plan_group(base, plan.most + 1, spacing_mm=spacing, edge_mm=edge, opening_mm=opening).fits
    outline = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * np.array(base) / 2.0
    boxes = [(ring.min(axis=0), ring.max(axis=0)) for ring in outlines_of([outline], plan.places)]
    for low, high in boxes:
        assert (low >= -np.array(opening) / 2.0 + edge - 1e-9).all()
        assert (high <= np.array(opening) / 2.0 - edge + 1e-9).all()
    for (low, high), (low2, high2) in itertools.combinations(boxes, 2):
        assert max(*(low2 - high), *(low - high2)) >= spacing - 1e-9


def test_the_drawing_keeps_the_distances_and_two_dowels_stand_unlike():
    plan = cups(6)
    cup = SQUARE * np.array([120.0 / 80.0, 90.0 / 55.0])
    outlines = outlines_of([cup], plan.places)
    screws = np.concatenate([placed(np.array([(-30.0, 0.0), (30.0, 0.0)]), place) for place in plan.places])
    board = drawings.base_board(outlines, screws, 2.5, dowels=True)
    drawn = [line.points for line in board.lines if line.layer == "engrave" and line.closed]
    assert len(drawn) == 6
    lows, highs = (np.array([choose(points, axis=0) for points in drawn]) for choose in (np.min, np.max))
    gaps = [max(*(lows[j] - highs[i]), *(lows[i] - highs[j])) for i, j in itertools.combinations(range(6), 2)]
    assert min(gaps) == pytest.approx(87.5)
    assert len(board.circles) == 12 + 2
    pins = np.array([(one.x, one.y) for one in board.circles[-2:]])
    middle = board.bounds.mean(axis=0)
    assert not np.allclose(pins[0] - middle, middle - pins[1]), "turned by half a turn it would go on too"


def test_one_up_and_six_up_are_set_side_by_side():
    stock = StockSettings(parts=40, spare_share=0.0)
    one = way_of(1, (250.0, 220.0), stock, pull_s=120.0)
    six = way_of(6, (457.5, 575.0), stock, pull_s=120.0)
    assert (one.pulls, six.pulls) == (40, 7)
    assert (one.per_sheet, six.per_sheet) == (10, 2) and (one.sheets, six.sheets) == (4, 4)
    assert (one.hours, six.hours) == (pytest.approx(2.0), pytest.approx(0.35))
    assert six.sheet_m2_per_part == pytest.approx(0.4575 * 0.575 / 6)


def test_a_blank_for_six_serves_six_parts():
    stock = StockSettings(parts=40, spare_share=0.0)
    plan = plan_cutting((457.5, 575.0), stock, thickness_mm=1.0, density_kg_m3=1040.0, per_blank=6)
    assert plan.blanks == 7
