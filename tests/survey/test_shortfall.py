"""What of a buck falls short of the wanted draft, and where."""

import math
from types import SimpleNamespace

import pytest
from manifold3d import Manifold
from pytest import approx

from buckwright.shape.solid import as_mesh
from buckwright.survey.verdict.findings import about_draft
from buckwright.survey.verdict.judging import Held, survey_buck

LIMITS = SimpleNamespace(low=0.01, high=0.03, source="made up", mark="judgement")


def frustum(draft_deg: float) -> Manifold:
    """A square block 20 mm high, 40 mm wide at the foot."""
    top = 20.0 - 20.0 * math.tan(math.radians(draft_deg))
    return Manifold.hull_points(
        [(x * s, y * s, z) for z, s in ((0.0, 20.0), (20.0, top)) for x in (-1, 1) for y in (-1, 1)]
    )


def judged(solid: Manifold) -> Held:
    return survey_buck(as_mesh(solid), wanted_deg=3.0, sheet_mm=1.0, allowable=LIMITS)


@pytest.mark.parametrize(("draft", "short"), [(3.0, False), (2.6, False), (2.4, True), (0.0, True)])
def test_half_a_degree_is_let_pass(draft, short):
    assert bool(judged(frustum(draft)).short.places) == short


@pytest.mark.parametrize(
    ("deep_mm", "wide_mm", "high_mm", "sheet_mm", "holds"),
    [
        (0.15, 0.15, 0.15, 1.0, False),
        (0.15, 0.15, 0.15, 0.3, True),
        (0.6, 0.6, 0.6, 1.0, True),
        (0.1, 0.5, 0.02, 1.4, False),  # a crack, long enough but too narrow
        (0.1, 0.5, 0.02, 1.0, True),
    ],
)
def test_a_notch_holds_only_sheet_that_goes_into_it(deep_mm, wide_mm, high_mm, sheet_mm, holds):
    notch = Manifold.cube((2.0 * deep_mm, wide_mm, high_mm), True).translate((19.476, 0.0, 10.0))
    body = as_mesh(frustum(3.0) - notch)
    held = survey_buck(body, wanted_deg=3.0, sheet_mm=sheet_mm, allowable=LIMITS)
    assert bool(held.grips) == holds


def test_a_wall_is_told_with_place_area_and_draft():
    """One upright wall, 40 x 20 mm, at the far end in x."""
    verdict = judged(frustum(3.0).trim_by_plane((-1, 0, 0), -15.0))
    (place,) = verdict.short.places
    slope = math.tan(math.radians(3.0)) * 20.0
    assert place.area_mm2 == approx((40.0 + 40.0 - 2.0 * slope) / 2.0 * 20.0, rel=1e-6)
    assert place.least_deg == approx(0.0, abs=1e-6)
    assert place.centre_mm[0] == approx(15.0)
    assert place.height_mm == approx(20.0)
    (finding,) = about_draft(verdict.short, filled=True, lift_mm=10.0)
    assert finding.slug == "buck-draft"
    assert finding.severity == "warn"
    assert finding.at_mm[2] == approx(place.centre_mm[2] + 10.0)
    assert f"{place.area_mm2:.0f} mm2" in finding.words
    assert about_draft(verdict.short, filled=False, lift_mm=10.0) == []
    assert about_draft(judged(frustum(3.0)).short, filled=True, lift_mm=0.0) == []
