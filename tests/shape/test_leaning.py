"""Slanted and elbow bores, dimples where a hole would be too deep, and short slots."""

from dataclasses import replace

import numpy as np
import pytest
from manifold3d import Manifold
from pytest import approx

from buckwright.errors import JobError
from buckwright.relief.columns import Columns
from buckwright.shape.solid import as_mesh, as_solid
from buckwright.shape.vents.drilling import FAULTY, drilled, vent_tools, without_faulty_vents
from buckwright.shape.vents.face_hole import FaceHole
from buckwright.shape.vents.leaning import opens_once
from buckwright.shape.vents.placing import NO_ROOM, TOO_NEAR, plan_vents
from buckwright.shape.vents.vent import BoreSizes, Leg

HOLE = FaceHole("hole", 1.0, 1.0, np.pi / 4, "", 1.0)
SLOT = FaceHole("slot", 0.5, 3.0, 1.5, "", 0.75)
WALL_MM = 1.6


def plan(mesh, points, *, face=HOLE, rises=None, serves=None, **chosen):
    points = np.atleast_2d(points)
    sizes = BoreSizes(**chosen)
    numbers = range(len(points))
    return plan_vents(points, numbers, Columns(mesh), face=face, bores=sizes, rises_mm=rises, serves=serves)


@pytest.fixture
def flank(terrain):
    """A hillside of 68 degrees: an upright bore breaks out of it sideways."""
    return terrain(lambda x, y: np.clip(40 - 2.5 * (x + 10), 8, 40), side=60.0, count=121)


def envelope(vent, more_mm):
    """The wide part of a leaning vent, grown."""
    top, knee = np.array(vent.top_mm), np.array(vent.leg.knee_mm)
    into = (knee - top) / np.linalg.norm(knee - top)
    radius = vent.back_bore_mm / 2 + more_mm
    ball = Manifold.sphere(radius, 48)
    start = top + (vent.leg.narrow_mm + vent.back_bore_mm / 2) * into
    leg = Manifold.batch_hull([ball.translate(tuple(start)), ball.translate(tuple(knee))])
    shaft = Manifold.cylinder(knee[2] - 1.0, radius, circular_segments=48)
    return leg + shaft.translate((knee[0], knee[1], 1.0))


@pytest.mark.parametrize("face", [HOLE, SLOT])
def test_on_a_steep_flank_the_bore_leans_into_the_solid(flank, face):
    spot = [-4.3, 0.2, 25.75]
    upright = plan(flank, spot, face=face, tilt_deg=0.0)
    assert not upright.vents and upright.dropped[0][4] == NO_ROOM
    made = plan(flank, spot, face=face)
    (vent,) = made.vents
    assert vent.kind in ("slanted", "elbow")
    x, y, z = vent.leg.knee_mm
    assert x < vent.top_mm[0] and (x, y) == vent.foot_mm
    sideways = np.hypot(x - vent.top_mm[0], y - vent.top_mm[1])
    assert sideways <= (vent.top_mm[2] - z) * np.tan(np.deg2rad(45.0)) + 1e-9
    solid = as_solid(flank)
    assert (envelope(vent, WALL_MM) - solid).volume() < 1e-6, "the wide bore keeps its wall all round"
    after = drilled(solid, made)
    assert after.genus() == 1 and len(after.decompose()) == 1
    assert made.feet == approx(np.array([[x, y]]))


def test_a_dimple_gets_no_leaning_bore(flank):
    dimple = FaceHole("dimple", 0.75, 0.75, 0.44, "", 0.75)
    assert not plan(flank, [-4.3, 0.2, 25.75], face=dimple).vents


def test_slanted_comes_before_elbow_and_an_elbow_fits_where_a_slanted_bore_does_not(terrain, flank):
    (slanted,) = plan(flank, [-4.3, 0.2, 25.75]).vents
    assert slanted.kind == "slanted"
    assert slanted.leg.knee_mm[2] == approx(2.5 + 2.0 + WALL_MM, abs=0.5)

    def tower(x, y):
        """Steep on one side, plumb on the others."""
        slope = 40 - 2.5 * (x + 10)
        return np.where((x > -11.1) & (np.abs(y) < 5.2), np.clip(slope, 8, 40), 3.0)

    (elbow,) = plan(terrain(tower, side=60.0, count=241), [-4.3, 0.2, 25.75], move_mm=0.0).vents
    assert elbow.kind == "elbow"
    assert elbow.leg.knee_mm[2] > 8.0


def test_leaning_bores_keep_a_wall_to_each_other_and_to_upright_ones(flank):
    spots = [
        [-16.0, 0.3, 40.0],
        [-4.3, 0.2, 25.75],
        [-3.1, 4.2, 22.75],
        [-5.2, -3.9, 28.0],
        [-4.9, 8.1, 27.25],
    ]
    made = plan(flank, spots)
    assert len(made.vents) >= 4 and made.vents[0].kind == "straight"
    tools = vent_tools(made)
    for i, tool in enumerate(tools):
        for other in tools[i + 1 :]:
            assert tool.min_gap(other, 4.0) >= WALL_MM - 0.05
    assert drilled(as_solid(flank), made).genus() == len(made.vents)


def test_a_pocket_that_opens_into_a_vent_beside_gets_no_other(flank):
    spots = [[-4.3, 0.2, 25.75], [-4.3, 1.6, 25.75]]
    made = plan(flank, spots, serves=lambda places, pocket: np.ones(len(places), bool))
    assert [vent.pocket for vent in made.vents] == [0]
    assert made.dropped[0][4] in (NO_ROOM, TOO_NEAR)


def test_a_vent_may_sit_up_the_flank_but_not_outside_its_pocket(terrain):
    """A crease beside a cliff: the bottom has no room, its other flank has."""
    mesh = terrain(lambda x, y: np.where(x < 0, 20 + 1.5 * -x, 5.0), side=40.0, count=161)
    spot, most = [-0.4, 0.1, 20.6], np.array([4.0])
    low = plan(mesh, spot, tilt_deg=0.0)
    assert not low.vents
    (vent,) = plan(mesh, spot, rises=most, tilt_deg=0.0).vents
    assert 20.6 + 0.5 < vent.top_mm[2] <= 20.6 + 4.0
    there = plan(mesh, spot, rises=most, tilt_deg=0.0, serves=lambda places, pocket: places[:, 0] > -1.0)
    assert not there.vents


def test_a_hole_too_deep_to_print_becomes_a_dimple_to_drill(terrain):
    wall = terrain(lambda x, y: np.where(np.abs(x) < 2.4, 40.0, 6.0), side=40.0, count=401)
    made = plan(wall, [0.02, 0.1, 40.0])
    (vent,) = made.vents
    assert vent.face.opening == "dimple" and vent.narrow_mm(2.5) == approx(40 - (6 - WALL_MM))
    assert made.through == 0 and made.to_drill == made.vents
    assert drilled(as_solid(wall), made).genus() == 0
    (printed,) = plan(wall, [0.02, 0.1, 40.0], narrow_most_mm=40.0).vents
    assert printed.face.opening == "hole"


def test_a_long_narrow_hole_is_widened_behind_a_shorter_slot(terrain):
    pillar = terrain(lambda x, y: np.where(np.hypot(x, y) < 3.4, 30.0, 10.0), side=20.0, count=401)
    (vent,) = plan(pillar, [0.01, 0.02, 30.0], face=SLOT, move_mm=0.0).vents
    assert vent.face.opening == "slot"
    assert vent.face.length_mm == approx(1.5) and vent.face.area_mm2 == approx(0.75)
    assert vent.back_bore_mm == approx(3.0) and vent.narrow_mm(2.5) == approx(3.0)


@pytest.mark.parametrize(("deep", "once"), [(0.0, True), (3.0, False)])
def test_a_leaning_hole_that_meets_a_groove_has_two_mouths(terrain, deep, once):
    groove = terrain(lambda x, y: 20 - deep * np.clip(1 - np.abs(x - 2.5) / 0.5, 0, 1), side=20.0, count=401)
    leg = Leg((6.0, 0.0, 14.0), 4.0, "elbow")
    face = np.array([0.0, 0.0, 20.0])
    assert opens_once(face, leg, HOLE, Columns(groove)) == once


def test_a_leaning_bore_that_opens_twice_is_dropped_before_it_is_drilled(terrain, flank):
    groove = as_solid(
        terrain(lambda x, y: 20 - 3 * np.clip(1 - np.abs(x - 2.5) / 0.5, 0, 1), side=40.0, count=401)
    )
    made = plan(flank, [-4.3, 0.2, 25.75])
    (sound,) = made.vents
    leg = Leg((6.0, 0.0, 14.0), 4.0, "elbow")
    faulty = replace(sound, top_mm=(0.0, 0.0, 20.0), leg=leg, cap_mm=20.5, face=HOLE)
    assert without_faulty_vents(as_solid(flank), made) is made
    kept = without_faulty_vents(groove, replace(made, vents=(faulty,)))
    assert kept.vents == () and kept.dropped[0][4] == FAULTY
    beside = [plan(as_mesh(groove), [x, 0.2, 20.0]).vents[0] for x in (-15.0, -9.0, 12.0)]
    kept = without_faulty_vents(groove, replace(made, vents=(*beside[:2], faulty, beside[2])))
    assert kept.vents == tuple(beside)


def test_what_lies_under_a_leaning_bore_is_told(flank):
    made = plan(flank, [-4.3, 0.2, 25.75])
    (vent,) = made.vents
    middle = (np.array(vent.top_mm) + vent.leg.knee_mm) / 2
    under, foot, away = made.under_legs(np.array([middle[:2], vent.foot_mm, [20.0, 20.0]]))
    assert middle[2] - 2 * vent.back_bore_mm < under < middle[2]
    assert foot < 0.5 and away == np.inf
    straight = plan(flank, [-20.0, 0.2, 40.0])
    assert np.all(straight.under_legs(straight.feet) == np.inf)


@pytest.mark.parametrize("bad", [{"tilt_deg": 61.0}, {"tilt_deg": -1.0}, {"narrow_most_mm": -1.0}])
def test_bad_measures_are_refused(bad):
    with pytest.raises(JobError):
        BoreSizes(**bad)


def test_the_longest_narrow_hole_follows_from_its_width():
    assert BoreSizes().deepest_narrow_mm(SLOT) == approx(10.0)
    assert BoreSizes(skin_mm=12.0).deepest_narrow_mm(SLOT) == approx(14.0)
    assert BoreSizes(narrow_most_mm=7.0).deepest_narrow_mm(HOLE) == 7.0


def test_leaning_vents_are_told_in_the_notes_and_the_report(flank):
    made = plan(flank, [-4.3, 0.2, 25.75])
    assert any("slanted" in note or "elbow" in note for note in made.notes)
    (entry,) = made.to_dict()
    assert entry["bore"] == made.vents[0].kind and entry["foot_mm"] != entry["top_mm"][:2]
    assert as_mesh(drilled(as_solid(flank), made)).face_count > 0
