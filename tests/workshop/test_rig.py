"""Opening, blank and reducing set belong together."""

import pytest

from buckwright.errors import JobError
from buckwright.workshop.cutting.findings import about_cutting
from buckwright.workshop.cutting.planning import plan_cutting
from buckwright.workshop.cutting.settings import StockSettings
from buckwright.workshop.rig.findings import about_rig
from buckwright.workshop.rig.planning import clamp_plane_mm, plan_rig
from buckwright.workshop.rig.settings import RigSettings


def planned(**changed):
    given = {
        "base_mm": (120.0, 90.0),
        "height_mm": 50.0,
        "opening_mm": (200.4, 170.2),
        "grip_mm": 15.0,
        "reducing": True,
        "platen_mm": (600.0, 600.0),
        "dead_mm": 6.0,
        "gasket_width_mm": 10.0,
    }
    return plan_rig(**{**given, **changed})


def slugs(rig, *, trim_z_mm=20.0, flange_z_mm=6.0):
    return [one.slug for one in about_rig(rig, trim_z_mm=trim_z_mm, flange_z_mm=flange_z_mm)]


def test_one_opening_for_plate_and_frame():
    rig = planned()
    assert rig.opening_mm == (201.0, 171.0)
    assert rig.reduction.cut_out_mm == rig.reduction.frame.inside_mm == rig.opening_mm
    assert rig.blank_mm == rig.reduction.frame.outside_mm == (231.0, 201.0)
    assert rig.gap_mm == (40.5, 40.5)
    assert rig.reduction.plate_mm == (600.0, 600.0)
    assert slugs(rig) == []


def test_strips_make_both_rings():
    frame = planned().reduction.frame
    through, between = frame.strips
    assert (through.length_mm, through.count) == (231.0, 4)
    assert (between.length_mm, between.count) == (171.0, 4)
    # two strips that run through and two between them are as deep as the ring
    assert between.length_mm + 2.0 * frame.member_mm == frame.outside_mm[1]
    around = 2.0 * sum(frame.outside_mm)
    assert frame.clamps >= 4 and around / frame.clamps <= 100.0


def test_the_gasket_lies_round_the_cut_out():
    reduction = planned().reduction
    assert [strip.length_mm for strip in reduction.gasket] == [225.0, 195.0]
    assert reduction.gasket_mm == (215.0, 185.0)


def test_without_a_set_the_machines_frame_is_taken_as_it_is():
    rig = planned(reducing=False, dead_mm=0.0)
    assert rig.opening_mm == (200.4, 170.2) and rig.reduction is None and rig.dead_mm == 0.0


def test_the_plate_is_turned_with_the_opening():
    assert planned(platen_mm=(300.0, 400.0)).reduction.plate_mm == (400.0, 300.0)


def test_dead_height():
    assert clamp_plane_mm(reducing=True, mask_mm=3.0, gasket_mm=10.0, squeeze=0.25) == pytest.approx(10.5)
    assert clamp_plane_mm(reducing=False, mask_mm=3.0, gasket_mm=10.0, squeeze=0.25) == 0.0


@pytest.mark.parametrize(
    ("changed", "told", "slug"),
    [
        ({"platen_mm": None}, {}, "mask-plate"),
        ({"platen_mm": (230.0, 230.0)}, {}, "mask-plate"),
        ({"dead_mm": 15.0}, {}, "dead-height"),
        ({"dead_mm": 25.0}, {}, "dead-height"),
        ({"owned_mm": ((170.0, 200.0),)}, {}, "own-frame"),
        ({"opening_mm": (110.0, 170.0)}, {}, "frame-too-small"),
    ],
)
def test_findings(changed, told, slug):
    assert slugs(planned(**changed), **told) == [slug]


def test_the_smallest_frame_that_leaves_half_the_gap():
    owned = ((400.0, 300.0), (250.0, 175.0), (150.0, 120.0))
    rig = planned(owned_mm=owned)
    assert rig.owned.inside_mm == (250.0, 175.0)
    assert rig.owned.gap_mm == 42.5
    assert rig.owned.more_sheet == pytest.approx(280.0 * 205.0 / (231.0 * 201.0))
    assert planned(owned_mm=owned[2:]).owned is None


def test_own_frames_are_read_and_refused_in_words():
    assert RigSettings(owned="280 x 230, 300x200 mm").owned_mm == ((280.0, 230.0), (300.0, 200.0))
    assert RigSettings().owned_mm == ()
    for wrong in ("280", "280 x", "a x b", "5 x 300", "nan x 300", "inf x 300"):
        with pytest.raises(JobError, match=r"rig\.owned.*280 x 230"):
            RigSettings(owned=wrong)


def cut(blank=(330.0, 300.0), **stock):
    return plan_cutting(blank, StockSettings(**stock), thickness_mm=1.0, density_kg_m3=1040.0, gap_mm=40.0)


def test_sheets_mass_and_cost():
    plan = cut(parts=40, spare_share=0.1, price=30.0)
    assert plan.blanks == 44
    assert plan.sheets == -(-44 // len(plan.layout.pieces))
    assert plan.blank_kg == pytest.approx(0.33 * 0.3 * 0.001 * 1040.0)
    assert plan.cost_per_part == pytest.approx(plan.sheets * 30.0 / 40)


def test_a_neighbour_that_saves_sheet_is_named():
    plan = cut((340.0, 340.0))
    assert len(plan.layout.pieces) == 3
    best = plan.neighbours[0]
    assert best.per_sheet > 3 and best.less_gap_mm <= 20.0
    assert best.blank_mm == (340.0 - 2 * best.less_gap_mm,) * 2
    assert [one.slug for one in about_cutting(plan)] == ["sheet-waste"]


def test_a_blank_larger_than_the_stock_is_told_and_stops_nothing():
    plan = cut((700.0, 650.0), price=10.0)
    assert plan.sheets == 0 and plan.cost_per_part is None
    assert [one.slug for one in about_cutting(plan)] == ["stock-too-small"]
