import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, JoinType
from pytest import approx

from buckwright.errors import SolidError
from buckwright.shape.loft import grown, loft


def frustum(lower_area, upper_area, height):
    return height / 3 * (lower_area + upper_area + np.sqrt(lower_area * upper_area))


@pytest.mark.parametrize("segments", [3, 7, 64])
def test_polygonal_frustum_has_the_exact_volume(segments):
    upper, lower = CrossSection.circle(10, segments), CrossSection.circle(25, segments)
    solid = loft([(30.0, upper), (4.0, lower)])
    assert solid.volume() == approx(frustum(lower.area(), upper.area(), 26.0), rel=1e-12)
    assert solid.genus() == 0


def test_drafted_rectangle_is_a_prismatoid():
    dz, run = 20.0, 20 * np.tan(np.deg2rad(5))
    lower = CrossSection.square((40, 30), True).offset(run, JoinType.Miter)
    solid = loft([(dz, CrossSection.square((40, 30), True)), (0.0, lower)])
    middle = (40 + run) * (30 + run)
    assert solid.volume() == approx(dz / 6 * (1200 + 4 * middle + (40 + 2 * run) * (30 + 2 * run)), rel=1e-9)


def test_a_hole_that_narrows_going_down_is_left_out():
    upper = CrossSection.circle(20, 48) - CrossSection.circle(8, 48)
    lower = CrossSection.circle(22, 48) - CrossSection.circle(5, 48)
    solid = loft([(10.0, upper), (0.0, lower)])

    def unit(radius):
        return CrossSection.circle(radius, 48).area()

    wanted = frustum(unit(22), unit(20), 10.0) - frustum(unit(5), unit(8), 10.0)
    assert solid.volume() == approx(wanted, rel=1e-9)
    assert solid.genus() == 1


def test_two_towers_on_one_plate():
    towers = CrossSection.square((4, 4)) + CrossSection.square((4, 4)).translate((10, 0))
    plate = CrossSection.square((20, 8)).translate((-2, -2))
    solid = loft([(9.0, towers), (3.0, towers), (2.0, plate), (0.0, plate)])
    ring = solid.volume() - 2 * 16 * 6 - 160 * 2
    assert 32 < ring < 160, "the sloped step lies between its two levels"
    assert len(solid.decompose()) == 1


def test_equal_outlines_give_an_upright_wall():
    solid = loft([(7.0, CrossSection.square((3, 5))), (0.0, CrossSection.square((3, 5)))])
    assert solid.volume() == approx(105.0, rel=1e-12)
    assert solid.num_tri() == 12


def test_touching_outlines_are_given_room():
    solid = loft([(5.0, CrossSection.square((4, 4))), (0.0, CrossSection.square((8, 4)))])
    assert 5 * 16 < solid.volume() < 5 / 2 * (16 + 32) + 0.1
    assert solid.genus() == 0


@settings(max_examples=20, deadline=None)
@given(st.floats(-180, 180), st.floats(-500, 500), st.floats(0.2, 12))
def test_moving_the_outline_keeps_the_volume(turn, shift, run):
    star = [
        (r * np.cos(a), r * np.sin(a)) for a, r in zip(np.linspace(0, 2 * np.pi, 20, False), [20, 9] * 10)
    ]
    outline = CrossSection([np.array(star)])

    def volume(section):
        return loft([(6.0, section), (0.0, grown(section, run))]).volume()

    assert volume(outline.rotate(turn).translate((shift, -shift))) == approx(volume(outline), rel=3e-4)


def test_a_grown_circle_follows_its_arc():
    for radius in (0.05, 1.0, 40.0):
        ring = grown(CrossSection.square((10, 10), True), radius)
        wanted = 100 + 40 * radius + np.pi * radius**2
        assert wanted - (40 + 2 * np.pi * radius) * 0.008 <= ring.area() <= wanted + 1e-6


@pytest.mark.parametrize(
    ("levels", "words"),
    [
        ([(1.0, 3.0)], "two levels"),
        ([(1.0, 3.0), (2.0, 4.0)], "go down"),
        ([(1.0, None), (0.0, 4.0)], "empty"),
        ([(1.0, 5.0), (0.0, 4.0)], "leaves the one below"),
    ],
)
def test_bad_levels_are_refused(levels, words):
    with pytest.raises(SolidError, match=words):
        loft([(z, CrossSection.circle(r) if r else CrossSection()) for z, r in levels])
