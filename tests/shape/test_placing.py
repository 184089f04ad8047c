import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, Manifold
from pytest import approx

from buckwright.errors import JobError
from buckwright.relief.columns import Columns
from buckwright.shape.solid import as_mesh
from buckwright.shape.vents.face_hole import FaceHole
from buckwright.shape.vents.foot_ring import ring_points
from buckwright.shape.vents.placing import plan_vents
from buckwright.shape.vents.vent import FOOT, BoreSizes

HOLE = FaceHole("hole", 1.0, 1.0, np.pi / 4, "")


def plan(mesh, points, **chosen):
    points = np.atleast_2d(points)
    return plan_vents(points, range(len(points)), Columns(mesh), face=HOLE, bores=BoreSizes(**chosen))


def distance_to_surface(mesh, point, away=12.0):
    """Distance from a point to the nearest triangle, by dense samples of the triangles around."""
    corners = mesh.corners()
    near = np.linalg.norm(corners.mean(1) - point, axis=1) < away
    share = np.array([(i / 12, j / 12, 1 - i / 12 - j / 12) for i in range(13) for j in range(13 - i)])
    samples = np.einsum("sk,fkd->fsd", share, corners[near]).reshape(-1, 3)
    return np.linalg.norm(samples - point, axis=1).min()


def test_in_a_slab_the_bore_stops_a_skin_below_the_face(terrain):
    made = plan(terrain(lambda x, y: 20.0 + 0 * x), [3.3, 4.4, 20.0])
    (vent,) = made.vents
    assert vent.top_mm == approx((3.3, 4.4, 20.0))
    assert (vent.back_bore_mm, vent.bore_top_mm, vent.moved_mm) == approx((4.0, 17.0, 0.0))
    assert made.through == 1
    assert made.notes == ()


def test_every_bore_keeps_its_wall_in_hills(hills):
    mesh, _ = hills
    spots = np.random.default_rng(3).uniform(-36, 36, (60, 2))
    made = plan(mesh, np.column_stack([spots, np.zeros(60)]))
    assert len(made.vents) > 20
    bored = [vent for vent in made.vents if vent.bore_top_mm > 0]
    assert len(bored) > 15
    angle = np.linspace(0, 2 * np.pi, 16, False)
    for vent in bored[:12]:
        rim = vent.back_bore_mm / 2 * np.column_stack([np.cos(angle), np.sin(angle)]) + vent.top_mm[:2]
        for x, y in rim:
            assert distance_to_surface(mesh, np.array([x, y, vent.bore_top_mm])) >= 1.6 - 0.1
        axis = np.array([*vent.top_mm[:2], vent.bore_top_mm])
        assert distance_to_surface(mesh, axis) >= 1.6 - 0.1


def test_a_vent_beside_a_cliff_moves_away_from_it(terrain):
    mesh = terrain(lambda x, y: np.where(x > 0.2, 20.0, 4.0), count=401)
    made = plan(mesh, [1.2, 0.3, 20.0])
    (vent,) = made.vents
    assert 0 < vent.moved_mm <= 3
    assert vent.top_mm[0] > 2.2
    assert "moved" in made.notes[0]


@pytest.mark.parametrize(("low", "moves"), [(17.0, False), (16.2, True)])
def test_a_vent_moves_to_save_more_than_two_millimetres_of_narrow_hole(terrain, low, moves):
    """The back-bore ends a wall of 1.6 mm under the lower ground beside it; the skin is 3 mm."""
    mesh = terrain(lambda x, y: np.where(x > 0.1, 20.0, low), count=401)
    (vent,) = plan(mesh, [2.2, 0.3, 20.0]).vents
    longer = 20.0 - (low - 1.6) - 3.0
    assert (longer > 2.0) == moves
    assert (vent.moved_mm > 0) == moves
    assert vent.bore_top_mm == (approx(17.0, abs=0.5) if moves else approx(low - 1.6))


def test_beside_a_wall_that_rises_the_vent_stays(terrain):
    mesh = terrain(lambda x, y: np.where(x > 0.2, 40.0, 20.0), count=401)
    (vent,) = plan(mesh, [-2.5, 0.3, 20.0]).vents
    assert vent.moved_mm == 0
    assert vent.bore_top_mm == approx(17.0)


def test_in_a_slim_pillar_the_bore_gets_narrower(terrain):
    pillar = terrain(lambda x, y: np.where(np.hypot(x, y) < 3.4, 30.0, 10.0), side=20.0, count=401)
    (vent,) = plan(pillar, [0.01, 0.02, 30.0], move_mm=0.0).vents
    assert vent.back_bore_mm == approx(3.0)
    assert vent.bore_top_mm == approx(27.0)


def test_a_narrower_bore_keeps_its_whole_wall(terrain):
    """Rings of samples at even steps would end at 2.29 instead of 2.6 mm and let the bore into the wall."""
    wall = terrain(lambda x, y: np.where(np.abs(x) < 2.45, 40.0, 6.0), side=40.0, count=401)
    (vent,) = plan(wall, [0.02, 0.1, 40.0]).vents
    assert vent.bore_top_mm <= 6.0 - 1.6


def test_over_a_hollow_there_is_no_vent(terrain):
    solid = Manifold.cube((40, 40, 20), True).translate((0, 0, 10))
    solid -= Manifold.cube((20, 20, 4), True).translate((0, 0, 12))
    made = plan(as_mesh(solid), [0.1, 0.2, 20.0])
    assert not made.vents
    assert made.dropped[0][4] == "too little solid around the bore"


def test_under_an_overhang_the_bore_stays_in_solid():
    post = Manifold.cube((10, 10, 30), True).translate((0, 0, 15))
    hat = Manifold.cube((30, 30, 6), True).translate((0, 0, 30))
    made = plan(as_mesh(post + hat), [12.1, 0.3, 33.0])
    assert not made.vents, "an overhang has no way down to the platen"


def test_beside_the_part_there_is_no_surface(hills):
    made = plan(hills[0], [60.0, 0.0, 0.0])
    assert made.dropped[0][4] == "no surface there"


def test_near_vents_are_bored_narrower_and_twins_dropped(terrain):
    made = plan(terrain(lambda x, y: 20.0 + 0 * x), [[0.1, 0, 20], [5.2, 0, 20], [0.6, 0, 20]])
    assert [vent.pocket for vent in made.vents] == [0, 1]
    assert made.vents[1].back_bore_mm == approx(2 * (5.1 - 2 - 1.6))
    assert made.dropped[0][3:] == (2, "another vent is too close")


def test_a_thin_plate_is_bored_narrow_all_the_way(terrain):
    (vent,) = plan(terrain(lambda x, y: 5.5 + 0 * x), [0.3, 0.1, 5.5]).vents
    assert vent.bore_top_mm == 0
    assert vent.back_bore_mm == 1.0


def test_no_points_no_vents(hills):
    made = plan_vents(np.zeros((0, 3)), [], Columns(hills[0]), face=HOLE)
    assert made.vents == ()
    assert made.axes.shape == (0, 2)
    assert made.to_dict() == []


@settings(max_examples=10, deadline=None)
@given(st.floats(-500, 500), st.integers(0, 3))
def test_shifts_and_quarter_turns_carry_the_vents_along(shift, quarter):
    solid = Manifold.cube((40, 30, 20), False) - Manifold.sphere(9, 60).translate((12, 11, 22))
    spots = np.array([[12.0, 11.1, 13.0], [30.3, 20.2, 20.0], [1.2, 15.1, 20.0]])
    turn = np.round(np.array([[0.0, -1.0], [1.0, 0.0]]))
    spin = np.linalg.matrix_power(turn, quarter)
    moved = solid.rotate((0, 0, 90 * quarter)).translate((shift, -shift, 0))
    there = np.column_stack([spots[:, :2] @ spin.T + [shift, -shift], spots[:, 2]])
    first, second = plan(as_mesh(solid), spots), plan(as_mesh(moved), there)
    assert len(first.vents) == len(second.vents) >= 2
    for a, b in zip(first.vents[:2], second.vents[:2]):
        assert (a.bore_top_mm, a.back_bore_mm) == approx((b.bore_top_mm, b.back_bore_mm), abs=0.02)


def test_ring_points_are_evenly_spaced():
    points = ring_points(CrossSection.circle(50, 720), spacing_mm=25)
    assert len(points) == 13
    steps = np.linalg.norm(np.roll(points, -1, 0) - points, axis=1)
    assert steps.max() <= 25
    assert np.ptp(steps) < 0.01
    assert FOOT == -1


@pytest.mark.parametrize(
    "bad", [{"skin_mm": 0.1}, {"wall_mm": float("nan")}, {"back_bore_mm": -4.0}, {"dimple_mm": 5.0}]
)
def test_bad_settings_are_refused(bad):
    with pytest.raises(JobError):
        BoreSizes(**bad)


def test_bad_spacing_and_counts_are_refused(hills):
    with pytest.raises(JobError, match="spacing"):
        ring_points(CrossSection.circle(5), spacing_mm=0.0)
    with pytest.raises(JobError, match="pocket numbers"):
        plan_vents(np.zeros((2, 3)), [1], Columns(hills[0]), face=HOLE)
