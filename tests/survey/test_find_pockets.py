import json

import numpy as np
import pytest
from scipy import ndimage

from buckwright.errors import Cancelled, InputError
from buckwright.relief.raster import Relief
from buckwright.survey.pockets.basins import closed_basins
from buckwright.survey.pockets.find_pockets import find_pockets, least_pocket_depth_mm, vent_points

SIZE, TOP, PIXEL = 80.0, 20.0, 0.5


def plane(size=SIZE, pixel=PIXEL):
    x = (np.arange(round(size / pixel)) + 0.5) * pixel - size / 2
    return np.meshgrid(x, x)


def relief_from(height, pixel=PIXEL, origin=(-SIZE / 2, -SIZE / 2)):
    return Relief(np.array(origin), pixel, height, np.full(height.shape, -1, np.int32))


def dimple(X, Y, x, y, radius, depth):
    """Depth of a spherical dimple under its rim."""
    ball = (radius**2 + depth**2) / (2 * depth)
    return np.maximum(np.sqrt(np.maximum(ball**2 - (X - x) ** 2 - (Y - y) ** 2, 0)) - (ball - depth), 0)


def block_with(hollow):
    return relief_from(TOP - hollow)


def found(relief, **options):
    return find_pockets(relief, **({"min_depth_mm": 0.3, "work_px": 256, "gap_to_frame_mm": 8.0} | options))


def two_bowls(saddle_gap):
    """Two dimples of radius 10; the saddle lies about `saddle_gap` under the rim."""
    X, Y = plane()
    half = 10.0 - saddle_gap * 1.2
    return block_with(np.maximum(dimple(X, Y, -half, 0, 10, 6), dimple(X, Y, half, 0, 10, 5)))


def test_a_dimple_seals_at_once_with_its_whole_volume():
    X, Y = plane()
    result = found(block_with(dimple(X, Y, 5, -3, 15, 5)))
    (pocket,) = result.pockets
    # Derived: a spherical cap, pi d (3 a^2 + d^2) / 6, on a disc of pi a^2.
    assert pocket.sealed_at == 0
    assert pocket.depth_mm == pytest.approx(5.0, abs=0.01)
    assert pocket.volume_mm3 == pytest.approx(np.pi * 5 * (3 * 225 + 25) / 6, rel=0.005)
    assert pocket.area_mm2 == pytest.approx(np.pi * 225, rel=0.02)
    for point in (pocket.centre_mm, pocket.deepest_mm):
        assert point == pytest.approx((5, -3, TOP - 5), abs=PIXEL)


def test_flat_plate_and_dome_hold_no_air():
    X, Y = plane()
    assert found(block_with(np.zeros_like(X))).pockets == ()
    assert found(relief_from(30 - (X**2 + Y**2) / 90)).pockets == ()


def test_the_ring_round_the_foot_is_vented():
    X, Y = plane()
    wall = np.where(np.hypot(X, Y) < 20, 25.0, 3.0)
    assert found(relief_from(wall), foot_mm=3.0).pockets == ()
    (ring,) = found(relief_from(wall), foot_mm=0.0).pockets
    assert np.hypot(*ring.deepest_mm[:2]) > 20


def test_noise_under_the_least_depth_makes_no_pocket():
    X, Y = plane()
    noise = np.random.default_rng(4).normal(0, 0.04, X.shape)
    assert found(relief_from(30 - (X**2 + Y**2) / 90 + noise)).pockets == ()


def test_noise_does_not_split_a_dimple():
    X, Y = plane()
    noise = np.random.default_rng(5).normal(0, 0.03, X.shape)
    assert len(found(block_with(dimple(X, Y, 0, 0, 15, 5) + noise)).pockets) == 1


def test_a_groove_holds_air_when_its_ends_are_closed():
    X, Y = plane()
    groove = np.maximum(6 - np.abs(Y), 0)
    closed = np.where(np.abs(X) < 25, groove, 0)
    assert found(block_with(groove), min_depth_mm=1.5).pockets == ()
    (pocket,) = found(block_with(closed), min_depth_mm=1.5).pockets
    assert pocket.sealed_at == 0
    assert pocket.volume_mm3 == pytest.approx(36 * 50, rel=0.01)


@pytest.mark.parametrize("angle_deg", [10, 25, 45])
def test_a_slanting_valley_does_not_break_into_pits(angle_deg):
    X, Y = plane()
    across = X * np.sin(np.radians(angle_deg)) - Y * np.cos(np.radians(angle_deg))
    valley = np.maximum(6 - np.abs(across), 0)
    coarse = found(block_with(valley), work_px=96)
    assert coarse.pixel_mm == 3 * PIXEL
    assert len(coarse.pockets) <= 1
    closed = found(block_with(np.where(np.hypot(X, Y) < 30, valley, 0)), work_px=96)
    assert closed.pockets[0].depth_mm == pytest.approx(6, abs=1.5)


def test_the_sheet_parts_two_bowls_at_a_deep_saddle():
    result = found(two_bowls(0.8))
    first, second = result.pockets[:2]
    assert first.sealed_at == 0 < second.sealed_at
    assert first.volume_mm3 > second.volume_mm3
    assert np.sign(first.deepest_mm[0]) != np.sign(second.deepest_mm[0])
    assert first.deepest_mm == pytest.approx((-9.04, 0, 14), abs=PIXEL)
    assert second.deepest_mm == pytest.approx((9.04, 0, 15), abs=PIXEL)
    assert second.depth_mm < 5
    inside = result.label == second.label
    assert 0 < inside.sum() * PIXEL**2 == pytest.approx(second.area_mm2)


def test_one_vent_is_enough_for_bowls_that_join_near_the_floor():
    X, Y = plane()
    hollow = np.maximum(dimple(X, Y, -6, 0, 15, 6), dimple(X, Y, 6, 0, 15, 6))
    assert len(found(block_with(hollow), min_depth_mm=1.6).pockets) == 1


def test_a_moat_is_one_pocket_with_vents_all_round():
    X, Y = plane()
    across = np.abs(np.hypot(X, Y) - 25)
    moat = np.maximum(4 - across, 0)
    result = found(block_with(moat))
    large = result.pockets[0]
    # Derived (Pappus): triangle of 8 x 4 mm on a circle of radius 25.
    assert large.volume_mm3 == pytest.approx(16 * 2 * np.pi * 25, rel=0.01)
    points = np.array([point for index, point in vent_points(result, spacing_mm=20) if index == 0])
    assert len(points) >= 4
    assert np.all(np.abs(np.hypot(points[:, 0], points[:, 1]) - 25) < 1.5)
    ring = 25 * np.stack([np.cos(np.linspace(0, 6.28, 90)), np.sin(np.linspace(0, 6.28, 90))], 1)
    assert np.hypot(*np.moveaxis(ring[:, None] - points[None, :, :2], 2, 0)).min(1).max() <= 21.5


def test_a_crease_half_way_down_a_slope_is_found_though_no_water_would_stand_in_it():
    X, Y = plane()
    slope = 10 + (X + 40) / 3
    crease = 5 * np.exp(-((X / 3) ** 2) - (Y / 14) ** 2)
    height = slope - crease
    level = ndimage.minimum_filter(height, (1, 3))
    assert np.all(level[80, 75:90] <= height[80, 75:90])
    result = found(relief_from(height))
    assert any(np.hypot(*pocket.deepest_mm[:2]) < 4 for pocket in result.pockets)


def test_a_deep_hole_with_two_pits_gets_both_vented():
    X, Y = plane()
    hollow = np.where(np.hypot(X, Y) < 8, 14.0, 0.0)
    for x in (-4, 4):
        hollow += np.where(np.hypot(X - x, Y) < 3, 3.0, 0.0)
    result = found(block_with(hollow))
    points = np.array([point for _, point in vent_points(result)])
    for x in (-4, 4):
        assert np.hypot(points[:, 0] - x, points[:, 1]).min() < 3


def organic(seed):
    X, Y = plane()
    rough = ndimage.gaussian_filter(np.random.default_rng(seed).normal(size=X.shape), 6)
    return relief_from(np.maximum(30 - (X**2 + Y**2) / 60 + 3 * rough / rough.std(), 3.0))


def vented(relief, points):
    """The pixels of a relief in which vents stand."""
    mask = np.zeros(relief.height.shape, bool)
    mask[relief.pixel_of(points)] = True
    return mask


@pytest.mark.parametrize("seed", range(3))
def test_vents_at_the_places_named_leave_no_pocket(seed):
    result = found(organic(seed), foot_mm=3.0)
    assert result.pockets
    points = np.array([point for _, point in vent_points(result)])
    assert found(organic(seed), foot_mm=3.0, vented_mask=vented(organic(seed), points)).pockets == ()
    assert found(organic(seed), foot_mm=3.0).pockets == result.pockets


@pytest.mark.parametrize("seed", range(3))
def test_every_closed_basin_of_the_relief_has_its_vent(seed):
    relief = organic(seed)
    result = found(relief, foot_mm=3.0)
    basins = closed_basins(relief.height, drained=relief.height <= 3.0, least_depth=1.0)
    vents = relief.pixel_of(np.array([pocket.deepest_mm for pocket in result.pockets]))
    assert basins
    assert all(basin.region[vents].any() for basin in basins)


def test_a_vent_beside_the_pocket_does_not_help():
    X, Y = plane()
    relief = block_with(dimple(X, Y, 5, -3, 15, 5))
    beside = vented(relief, np.array([[-30.0, 30.0, TOP]]))
    assert beside.sum() == 1
    assert found(relief, vented_mask=beside).pockets == found(relief).pockets


def test_vented_mask_counts_as_vents():
    X, Y = plane()
    mask = np.hypot(X - 5, Y + 3) < 1
    assert found(block_with(dimple(X, Y, 5, -3, 15, 5)), vented_mask=mask).pockets == ()


def measures(result):
    return np.array([[p.depth_mm, p.volume_mm3, p.area_mm2, p.sealed_at] for p in result.pockets])


def test_turning_and_moving_the_part_changes_nothing():
    relief = organic(0)
    base = found(relief, foot_mm=3.0)
    turned = relief_from(np.ascontiguousarray(np.rot90(relief.height)))
    assert np.allclose(measures(found(turned, foot_mm=3.0)), measures(base), rtol=0.02)
    moved = found(relief_from(relief.height, origin=(100.0, 7.0)), foot_mm=3.0)
    assert np.allclose(measures(moved), measures(base))
    shift = np.array(moved.pockets[0].deepest_mm) - base.pockets[0].deepest_mm
    assert shift == pytest.approx([140, 47, 0])


def test_twice_the_size_holds_eight_times_the_air():
    X, Y = plane()
    height = TOP - dimple(X, Y, -12, 0, 14, 4) - dimple(X, Y, 20, 5, 8, 3)
    base = measures(found(relief_from(height), sharpest_radius_mm=1.0))
    twice = relief_from(2 * height, pixel=2 * PIXEL)
    large = measures(found(twice, min_depth_mm=0.6, sharpest_radius_mm=2.0))
    assert len(base) == 2
    assert np.allclose(large, base * [2, 8, 4, 1], rtol=0.005)


def test_long_floors_get_more_vents():
    X, Y = plane()
    slot = np.where((np.abs(X) < 35) & (np.abs(Y) < 3), 5.0, 0.0)
    result = found(block_with(slot))
    counts = [len(vent_points(result, spacing_mm=spacing)) for spacing in (100.0, 25.0, 12.0)]
    assert counts[0] == len(result.pockets)
    assert counts[0] < counts[1] < counts[2]
    points = np.array([point for _, point in vent_points(result, spacing_mm=12.0)])
    assert np.abs(points[:, 0, None] - np.linspace(-34, 34, 50)).min(0).max() <= 12
    assert np.all(points[:, 2] == TOP - 5)


def slot_with(floor, *, half=35.0):
    """A closed slot along x, 6 mm wide, whose floor lies so deep."""
    X, Y = plane()
    return np.where((np.abs(X) < half) & (np.abs(Y) < 3), floor(X), 0.0)


def test_left_alone_the_vents_of_a_floor_stand_20_to_40_mm_apart():
    # Common practice along corners and foot.
    result = found(block_with(slot_with(lambda x: 5.0 + 0 * x)))
    x = np.sort([point[0] for index, point in vent_points(result) if index == 0])
    assert len(x) >= 2
    assert np.all((np.diff(x) >= 20) & (np.diff(x) <= 40))
    assert x[0] <= -35 + 25 and x[-1] >= 35 - 25


@pytest.mark.parametrize(("shelf", "is_floor"), [(2.7, False), (3.3, True)])
def test_what_is_half_as_deep_as_the_deepest_place_is_floor(shelf, is_floor):
    result = found(block_with(slot_with(lambda x: np.where(x < -25, 6.0, shelf))))
    x = np.array([point[0] for index, point in vent_points(result, spacing_mm=15) if index == 0])
    assert (x.max() > 0) == is_floor
    assert x.min() < -25


@pytest.mark.parametrize(("spacing", "moves"), [(40.0, True), (10.0, False)])
def test_a_further_vent_moves_to_lower_ground_within_a_quarter_of_the_spacing(spacing, moves):
    X, Y = plane()
    gutter = np.where((np.abs(X) < 35) & (np.abs(Y + 2) < 1), np.where(X < -33, 6.0, 5.0), 0.0)
    result = found(block_with(np.maximum(slot_with(lambda x: 4.0 + 0 * x), gutter)))
    points = np.array([point for index, point in vent_points(result, spacing_mm=spacing) if index == 0])
    x, y, _ = points[points[:, 0].argmax()]
    assert x > 25
    assert (abs(y + 2) < 1) == moves


def test_on_a_flat_floor_a_further_vent_stays_where_it_is_wanted():
    result = found(block_with(slot_with(lambda x: 5.0 + 0 * x)))
    x = np.array([point[0] for index, point in vent_points(result) if index == 0])
    assert len(x) == 3
    assert np.abs(x[1:]) == pytest.approx(35.0, abs=PIXEL)


def test_vents_that_are_there_already_count():
    result = found(block_with(slot_with(lambda x: 5.0 + 0 * x)))
    ends = np.array([[-30.0, 0.0], [30.0, 0.0]])
    ((number, point),) = vent_points(result, given=ends)
    assert number == 0 and abs(point[0]) <= 6.0
    assert vent_points(result, spacing_mm=31.0, given=ends) == []
    elsewhere = np.array([[0.0, 20.0]])
    assert vent_points(result, given=elsewhere) == vent_points(result)


def test_result_goes_into_json():
    X, Y = plane()
    row = json.loads(json.dumps(found(block_with(dimple(X, Y, 5, -3, 15, 5))).to_dict()))
    assert {"centre_mm", "depth_mm", "volume_mm3", "area_mm2"} <= set(row["pockets"][0])
    assert row["sharpest_radius_mm"] == pytest.approx(1.0)
    assert "foot" in row["assumption"]


def test_least_depth_follows_the_sheet():
    assert least_pocket_depth_mm(0.5) == 0.3
    assert least_pocket_depth_mm(2.0) == pytest.approx(0.8)


def test_nothing_there():
    empty = relief_from(np.full((30, 30), -np.inf))
    assert found(empty).pockets == ()
    assert vent_points(found(empty)) == []


def test_stopping_half_way():
    def stop(_):
        raise Cancelled

    with pytest.raises(Cancelled):
        found(organic(0), tick=stop)


@pytest.mark.parametrize("bad", [{"min_depth_mm": 0.0}, {"sharpest_radius_mm": 0.0}, {"work_px": 3}])
def test_nonsense_is_refused(bad):
    with pytest.raises(InputError):
        found(organic(0), **bad)
    with pytest.raises(InputError):
        vent_points(found(relief_from(np.zeros((20, 20)))), spacing_mm=0.0)
