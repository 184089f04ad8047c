import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, Manifold
from pytest import approx

from buckwright.errors import JobError, SolidError
from buckwright.shape.outline import footprint, joined_outline, smallest_circle, solid_outline


def covers(outer, inner, slack=1e-4):
    return (inner - outer).area() <= slack * inner.area()


def test_holes_crumbs_and_several_pieces_become_one_outline():
    ring = CrossSection.circle(20, 90) - CrossSection.circle(8, 40)
    crumb = CrossSection.square((0.01, 0.01)).translate((60, 0))
    outline = solid_outline(ring + crumb + CrossSection.square((10, 10)).translate((22, -5)))
    assert outline.num_contour() == 1
    assert covers(
        outline, CrossSection.circle(20, 90) + CrossSection.square((10, 10)).translate((22, -5)), 1e-3
    )
    assert outline.bounds()[2] == approx(32, abs=0.01)


@pytest.mark.parametrize("turn", [0.0, 17.0, 111.3])
def test_the_foot_of_a_cut_body_is_its_section(turn):
    half = Manifold.sphere(45, 128).rotate((turn, turn / 3, turn)).trim_by_plane((0, 0, 1), 5.0)
    outline = solid_outline(half.slice(half.bounding_box()[2] + 0.01))
    assert outline.area() == approx(np.pi * (45**2 - 25), rel=3e-3)
    assert outline.num_contour() == 1


def test_pieces_far_apart_are_joined_by_their_hull():
    far = CrossSection.circle(2, 30) + CrossSection.circle(2, 30).translate((100, 0))
    assert joined_outline(far).area() == approx(far.hull().area())


def test_a_single_piece_stays_as_it_is():
    square = CrossSection.square((7, 9))
    assert solid_outline(square).area() == approx(63)


def test_narrow_clefts_are_closed():
    comb = CrossSection.square((20, 20)) - CrossSection.square((0.8, 15)).translate((10, 10))
    assert solid_outline(comb, gap_mm=1.0).area() == approx(400, rel=2e-3)
    assert solid_outline(comb).area() == approx(400 - 8, rel=1e-3)


def test_an_empty_foot_is_told():
    with pytest.raises(SolidError, match="no foot"):
        solid_outline(CrossSection())


@pytest.mark.parametrize("kind", ["outline", "rectangle", "circle"])
@pytest.mark.parametrize("land", [0.0, 3.0, 15.0])
def test_every_footprint_leaves_the_land(kind, land):
    angle = np.linspace(0, 2 * np.pi, 300, False)
    radius = 40 + 9 * np.cos(3 * angle)
    outline = CrossSection([np.column_stack([1.4 * radius * np.cos(angle), radius * np.sin(angle)])])
    plate = footprint(outline, kind=kind, land_mm=land)
    from buckwright.shape.loft import grown

    assert covers(plate, grown(outline, land), 1e-5)
    assert plate.num_contour() == 1


def test_grown_square_has_the_area_of_its_strips_and_corner_arcs():
    plate = footprint(CrossSection.square((30, 20)), kind="outline", land_mm=5)
    assert plate.area() == approx(600 + 2 * 5 * 50 + np.pi * 25, rel=1e-4)


def test_rectangle_that_is_its_own_box_is_widened_for_its_corners():
    plate = footprint(CrossSection.square((30, 20)), kind="rectangle", land_mm=0, corner_mm=4)
    assert covers(plate, CrossSection.square((30, 20)), 1e-6)
    assert plate.bounds()[2] - 30 == approx(4 * (1 - np.sqrt(0.5)), abs=0.01)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 40), st.floats(-300, 300))
def test_smallest_circle_holds_all_and_rests_on_some(seed, count, shift):
    points = np.random.default_rng(seed).normal(size=(count, 2)) * [30, 10] + shift
    centre, radius = smallest_circle(points)
    gaps = np.linalg.norm(points - centre, axis=1)
    assert gaps.max() <= radius + 1e-7
    on_it = points[gaps > radius - 1e-6] - centre
    assert len(on_it) >= 2
    turns = np.sort(np.arctan2(on_it[:, 1], on_it[:, 0]))
    widest = np.max(np.diff(np.append(turns, turns[0] + 2 * np.pi)))
    assert widest <= np.pi + 1e-3, "points on one half only: a smaller circle exists"


@pytest.mark.parametrize(
    "bad", [{"kind": "star"}, {"land_mm": -1.0}, {"land_mm": float("nan")}, {"corner_mm": -2.0}]
)
def test_bad_settings_are_refused(bad):
    with pytest.raises(JobError):
        footprint(CrossSection.square((3, 3)), **({"kind": "rectangle", "land_mm": 1.0} | bad))
