import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, Manifold, OpType
from pytest import approx

from buckwright.errors import JobError
from buckwright.relief.columns import Columns
from buckwright.shape.solid_height import solid_height
from buckwright.shape.underside.fixings import FixingRequest, fixing_tools, plan_fixings


def level(height):
    return lambda points: np.full(len(points), float(height))


def dome(points):
    return 40.0 - 0.02 * (points**2).sum(1)


def test_two_pilots_lie_at_the_far_ends_with_their_walls():
    plan = plan_fixings(CrossSection.square((100, 30), True), level(20))
    first, second = plan.holes
    assert (first.diameter_mm, first.depth_mm) == (3.0, 12.0)
    gap = np.hypot(first.x_mm - second.x_mm, first.y_mm - second.y_mm)
    assert 90 <= gap <= np.hypot(100 - 7, 30 - 7)
    assert abs(first.x_mm) <= 50 - 3.5
    assert abs(first.y_mm) <= 15 - 3.5
    assert plan.notes == ()


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 9999), st.integers(1, 5))
def test_fixings_keep_clear_of_vents_and_never_break_through(seed, count):
    spots = np.random.default_rng(seed).uniform(-30, 30, (14, 2))
    vents = CrossSection.batch_boolean(
        [CrossSection.circle(2).translate(tuple(s)) for s in spots], OpType.Add
    )
    plan = plan_fixings(
        CrossSection.circle(38, 90), dome, keep_out=vents, settings=FixingRequest(fixing_count=count)
    )
    assert len(plan.holes) >= 1
    for hole in plan.holes:
        here = np.array([hole.x_mm, hole.y_mm])
        assert np.linalg.norm(spots - here, axis=1).min() >= 2 + 1.5 + 2.0 - 1e-6
        assert np.linalg.norm(here) + 1.5 + 2.0 <= 38
        lowest = 40.0 - 0.02 * (np.linalg.norm(here) + 3.5) ** 2
        assert hole.depth_mm + 2.0 <= lowest + 1e-6


def test_the_solid_stays_closed_above(hills):
    mesh, solid = hills
    columns = Columns(mesh)
    plan = plan_fixings(
        CrossSection.square((80, 80), True),
        lambda points: solid_height(columns, points),
        settings=FixingRequest(fixing_count=4),
    )
    assert len(plan.holes) == 4
    cut = Manifold.batch_boolean([solid, *fixing_tools(plan)], OpType.Subtract)
    assert cut.genus() == 0
    assert len(cut.decompose()) == 1
    section = 32 / 2 * np.sin(2 * np.pi / 32) * 1.5**2
    assert solid.volume() - cut.volume() == approx(
        sum(section * hole.depth_mm for hole in plan.holes), rel=1e-6
    )


def test_low_ground_gets_shorter_pilots_and_says_so():
    plan = plan_fixings(CrossSection.square((60, 60), True), level(9))
    assert plan.holes[0].depth_mm == 6.0
    assert "6.0 mm deep instead of 12 mm" in plan.notes[0]


def test_magnets_need_their_whole_depth():
    magnets = FixingRequest(fixing="magnet")
    assert len(plan_fixings(CrossSection.square((60, 60), True), level(5.3), settings=magnets).holes) == 2
    nothing = plan_fixings(CrossSection.square((60, 60), True), level(5.1), settings=magnets)
    assert nothing.holes == ()
    assert "only 0 of 2 magnet pockets fit" in nothing.notes[0]
    assert nothing.circles.shape == (0, 3)


def test_a_disc_magnet_has_a_tenth_of_a_millimetre_of_play_all_round():
    plan = plan_fixings(
        CrossSection.square((60, 60), True), level(20), settings=FixingRequest(fixing="magnet")
    )
    disc, thick = 10.0, 3.0
    assert [hole.diameter_mm - disc for hole in plan.holes] == approx([0.2, 0.2])
    assert [hole.depth_mm - thick for hole in plan.holes] == approx([0.2, 0.2])


def test_a_foot_on_which_fixings_are_nearer_than_20_mm_is_told_that_it_can_turn():
    far = []
    for length in range(20, 44, 2):
        plan = plan_fixings(CrossSection.square((length, 9), True), level(30))
        (first, second) = plan.holes
        far.append(np.hypot(first.x_mm - second.x_mm, first.y_mm - second.y_mm))
        assert any("apart" in note for note in plan.notes) == (far[-1] < 20.0)
    assert far[0] < 20.0 < far[-1]


def test_none_wanted():
    plan = plan_fixings(CrossSection(), level(0), settings=FixingRequest(fixing="none"))
    assert fixing_tools(plan) == []
    assert plan.to_dict() == {"kind": "none", "holes": [], "notes": []}


@pytest.mark.parametrize(
    "bad",
    [
        {"fixing": "glue"},
        {"fixing_count": -1},
        {"diameter_mm": -1.0},
        {"skin_mm": 1.0},
        {"depth_mm": float("nan")},
    ],
)
def test_bad_settings_are_refused(bad):
    with pytest.raises(JobError, match="fixing"):
        FixingRequest(**bad)
