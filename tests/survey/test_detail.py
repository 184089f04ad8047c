"""Strokes that fill and edges that are too sharp, against closed forms of a ball."""

import manifold3d
import numpy as np
import pytest

from buckwright.mesh.manifolds import from_manifold
from buckwright.survey.detail.findings import about_detail
from buckwright.survey.detail.measuring import filled_mm, measure_detail, rounded_off_mm

PIXEL, SHEET = 0.1, 1.0  # strokes from 2 mm on come out: a ball of radius 1


def profile(heights, rows=41):
    """A relief that is the same all along y."""
    return np.repeat(np.asarray(heights, float)[None], rows, axis=0)


X = (np.arange(200) - 99.5) * PIXEL


@pytest.mark.parametrize(("wide", "deep"), [(1.0, 2.0), (1.6, 2.0), (1.0, 0.6)])
def test_a_groove_loses_all_that_the_ball_does_not_sink_in(wide, deep):
    gone = filled_mm(profile(np.where(np.abs(X) < wide / 2.0, 5.0 - deep, 5.0)), PIXEL, 1.0)
    sinks = 1.0 - np.sqrt(1.0 - (wide / 2.0) ** 2)
    assert gone[20, 99:101].max() == pytest.approx(deep - min(sinks, deep), abs=PIXEL)
    assert gone[20][np.abs(X) > wide / 2.0 + PIXEL].max() == 0.0


@pytest.mark.parametrize(
    "heights",
    [
        np.where(np.abs(X) < 1.2, 3.0, 5.0),  # a groove of 2.4 mm
        np.where(np.abs(X) < 4.0, 9.0, 0.0),  # a wall on the flat
        np.where(X < 0.0, 9.0, 5.0),  # a step
        5.0 + 0.58 * np.abs(X),  # a valley of 30 degrees
    ],
)
def test_what_is_wide_enough_and_corners_of_walls_lose_next_to_nothing(heights):
    assert filled_mm(profile(heights), PIXEL, 1.0).max() < 0.5 * SHEET


@pytest.mark.parametrize("round_mm", [0.0, 1.0, 2.0, 3.0])
def test_an_upright_edge_loses_the_difference_of_the_radii(round_mm):
    """At the wall a ball of radius R lies R under a sharp edge, and R - r under one of radius r."""
    inside = np.clip(5.0 - np.abs(X), 0.0, None)
    bend = np.clip(round_mm - inside, 0.0, None)
    heights = np.where(inside > 0.0, 9.0 - round_mm + np.sqrt(round_mm**2 - bend**2), 0.0)
    off = rounded_off_mm(profile(heights), PIXEL, 2.0)[20].max()
    at = PIXEL / 2.0  # the first pixel is that far inside
    ends = [r - np.sqrt(r**2 - max(r - at, 0.0) ** 2) for r in (2.0, round_mm)]
    most = max(ends[0] - ends[1], 0.0)
    assert max(most - 0.2, 0.0) <= off <= most + 1e-9  # short by what a pixel is off the wall, never long


def rounded(radius, size=(40.0, 30.0, 12.0)):
    """A box whose edges have a radius; 0 for sharp ones."""
    half = np.array(size) / 2.0 - radius
    corners = [half * (a, b, c) for a in (-1, 1) for b in (-1, 1) for c in (-1, 1)]
    if not radius:
        return manifold3d.Manifold.hull_points(np.array(corners)).translate((0.0, 0.0, size[2] / 2.0))
    balls = [manifold3d.Manifold.sphere(radius, 48).translate(tuple(corner)) for corner in corners]
    return manifold3d.Manifold.batch_hull(balls).translate((0.0, 0.0, size[2] / 2.0))


def measured(solid, **asked):
    given = {"stroke_mm": 0.0, "edge_radius_mm": 0.0, "sheet_mm": SHEET, "above_mm": 3.0}
    return measure_detail(from_manifold(solid), **(given | asked))


@pytest.mark.parametrize(("radius", "told"), [(0.0, True), (1.0, True), (2.2, False)])
def test_edges_sharper_than_asked_are_told_with_place_and_length(radius, told):
    detail = measured(rounded(radius), edge_radius_mm=2.0)
    found = [one for one in about_detail(detail) if one.slug == "sharp-edges"]
    assert bool(found) == bool(detail.edges) == told
    if not radius:
        (ring,) = detail.edges
        assert detail.edge_length_mm == pytest.approx(2.0 * (40.0 + 30.0), rel=0.1)
        x, y, z = ring.at_mm
        assert z == pytest.approx(12.0) and (abs(abs(x) - 20.0) < 0.3 or abs(abs(y) - 15.0) < 0.3)
        assert found[0].severity == "warn" and found[0].setting == "detail.edge_radius_mm"
        assert "sharper than 2 mm in 1 place, over about 1" in found[0].words


def test_a_narrow_stroke_is_named_and_a_wide_one_is_not():
    cut = manifold3d.Manifold.cube((1.2, 20.0, 3.0), True).translate((-8.0, 0.0, 12.0))
    wide = manifold3d.Manifold.cube((2.6, 20.0, 3.0), True).translate((8.0, 0.0, 12.0))
    detail = measured(rounded(0.0) - cut - wide, stroke_mm=2.0)
    (stroke,) = detail.strokes
    assert stroke.at_mm[0] == pytest.approx(-8.0, abs=0.6) and stroke.at_mm[2] == pytest.approx(10.5)
    assert stroke.lost_mm == pytest.approx(1.5 - (1.0 - np.sqrt(1.0 - 0.36)), abs=0.15)
    assert stroke.area_mm2 == pytest.approx(24.0, rel=0.25)
    (found,) = about_detail(detail)
    assert (
        "1 stroke narrower than 2 mm will not come out" in found.words
        and f"{stroke.lost_mm:.1f} mm lost" in found.words
    )
    over = detail.lost_at(np.array([(-8.0, 0.0), (8.0, 0.0), (0.0, 0.0)]))
    assert over[0] > 1.0 and over[1:].max() == 0.0
    assert detail.to_dict()["strokes"]["count"] == 1 and detail.to_dict()["edges"] is None


def test_a_check_that_was_not_made_is_told():
    plate = manifold3d.Manifold.cube((900.0, 900.0, 5.0))
    detail = measured(plate, stroke_mm=0.2, edge_radius_mm=0.1)
    assert [one.slug for one in about_detail(detail)] == ["detail-not-checked"] * 2
    assert np.isnan(detail.lost_at(np.zeros((1, 2)))).all()
    off = measured(plate)
    assert about_detail(off) == [] and off.edge_length_mm == 0.0
