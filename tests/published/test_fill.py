"""Added volume of draft fills against closed forms.

The shadow of a convex outline (area A, perimeter P) at a depth of s / tan(draft) under it is the outline
grown by s: A + P s + pi s^2 (Steiner's formula for parallel convex sets). Its integral over the height h,
with t = tan(draft), is A h + P t h^2 / 2 + pi t^2 h^3 / 3; for a circle that is the textbook frustum. From
it goes the volume of the body (Bronshtein et al., Handbook of Mathematics, chapter 3: ball, cap, frustum).

Side of the error: walls grown from a convex outline are convex and meshed by chords, so fills come out too
small, never too large.
"""

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold
from pytest import approx

from buckwright.relief.columns import Columns
from buckwright.shape.fill.draft_fill import fill_draft
from buckwright.shape.fill.envelope_solid import CellSizes
from buckwright.shape.solid import as_mesh
from buckwright.survey.draft import draft_deg

SIDES = 128
FINE = CellSizes(cell_mm=0.8, wall_cell_mm=0.4, rim_cell_mm=0.2)
SHORT = 1e-3
"""Share that chords in the round corners of walls may take off a fill; half of it was seen."""


def added(body: Manifold, wall_deg: float, **how) -> float:
    mesh = as_mesh(body)
    fill = fill_draft(mesh, Columns(mesh), draft_deg(mesh), wall_deg=wall_deg, settings=FINE, **how)
    assert len(fill.solid.decompose()) == 1
    assert fill.solid.volume() - body.volume() == approx(fill.added_volume_mm3, abs=1e-6)
    return fill.added_volume_mm3


def shadow(outline: CrossSection, height: float, wall_deg: float) -> float:
    """Volume from a convex outline at `height` down to z = 0."""
    loop = np.asarray(outline.to_polygons()[0])
    around = np.linalg.norm(loop - np.roll(loop, 1, axis=0), axis=1).sum()
    t = np.tan(np.radians(wall_deg))
    return outline.area() * height + around * t * height**2 / 2 + np.pi * t**2 * height**3 / 3


def assert_short(found: float, wanted: float) -> None:
    assert wanted * (1 - SHORT) < found <= wanted * (1 + 1e-9)


@pytest.mark.parametrize("wall_deg", [1.0, 3.0, 5.0, 12.0])
def test_plumb_box_gets_a_wedge_all_round_with_quarter_cones_at_its_corners(wall_deg):
    a, b, h = 30.0, 20.0, 25.0
    body = Manifold.cube((a, b, h)).translate((-a / 2, -b / 2, 0))
    t = np.tan(np.radians(wall_deg))
    four_wedges, four_quarter_cones = 2 * (a + b) * h**2 * t / 2, np.pi * (h * t) ** 2 * h / 3
    assert_short(added(body, wall_deg), four_wedges + four_quarter_cones)


@pytest.mark.parametrize("wall_deg", [2.0, 5.0])
def test_cone_upside_down(wall_deg):
    low, high, h = 5.0, 15.0, 20.0
    body = Manifold.cylinder(h, low, high, SIDES)
    outline = CrossSection.circle(high, SIDES)
    assert_short(added(body, wall_deg), shadow(outline, h, wall_deg) - body.volume())
    # the same by the two textbook frusta; a ring of 128 chords is smaller than its circle by 4e-4
    foot = high + h * np.tan(np.radians(wall_deg))
    frusta = np.pi * h / 3 * (high**2 + high * foot + foot**2 - low**2 - low * high - high**2)
    assert added(body, wall_deg) == approx(frusta, rel=SHORT + 5e-4)


def test_mushroom_is_filled_down_to_the_ground():
    stem, cap, under, top = 4.0, 15.0, 19.0, 25.0
    body = Manifold.cylinder(20, stem, stem, SIDES)
    body += Manifold.cylinder(top - under, cap, cap, SIDES).translate((0, 0, under))
    outline = CrossSection.circle(cap, SIDES)
    assert_short(added(body, 5.0), shadow(outline, top, 5.0) - body.volume())
    # tight faces left alone: the cap's own upright side stays and the fill hangs on its lower edge
    below = body.volume() - outline.area() * (top - under)
    assert_short(added(body, 5.0, keep_tight=True), shadow(outline, under, 5.0) - below)


def test_plate_over_a_post():
    h = 23.0
    body = Manifold.cube((6, 6, 20)).translate((-3, -3, 0)) + Manifold.cube((40, 10, 4)).translate(
        (-20, -5, 19)
    )
    outline = CrossSection.square((40, 10))
    assert_short(added(body, 4.0), shadow(outline, h, 4.0) - body.volume())


@pytest.mark.parametrize("wall_deg", [3.0, 5.0])
def test_ball_on_the_ground(wall_deg):
    """A wall of draft d touches the ball where r = R cos d, z = R (1 + sin d); the cap above is bare."""
    R, lean = 15.0, np.radians(wall_deg)
    ring, z = R * np.cos(lean), R * (1 + np.sin(lean))
    foot = ring + z * np.tan(lean)
    cap = R * (1 - np.sin(lean))
    frustum = np.pi * z / 3 * (ring**2 + ring * foot + foot**2)
    wanted = frustum - (4 / 3 * np.pi * R**3 - np.pi * cap**2 * (3 * R - cap) / 3)
    body = Manifold.sphere(R, 256).translate((0, 0, R))
    # Inscribed facets: the wall hangs on chords, up to (1 - cos(pi / 256)) R = 1.1e-3 mm inside of the ball
    # (too small), and the ball itself has lost 0.03 % of its volume (too large).
    assert added(body, wall_deg) == approx(wanted, rel=2e-3)
