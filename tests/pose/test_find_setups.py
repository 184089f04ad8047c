"""Search for a setup: figures that are known, order, differences, frames, refusals."""

import math
from itertools import pairwise

import numpy as np
import pytest
from manifold3d import Manifold
from scipy.spatial.transform import Rotation

from buckwright.errors import Cancelled, InputError
from buckwright.mesh.triangles import Mesh
from buckwright.pose.setups.costs import cost_of
from buckwright.pose.setups.search import MOST, find_setups, setups_along
from buckwright.shape.solid import as_mesh
from buckwright.survey.pull import frame_for


def between_deg(a, b):
    u, v = np.asarray(a, float), np.asarray(b, float)
    return math.degrees(math.atan2(np.linalg.norm(np.cross(u, v)), u @ v))


def standing(mesh, direction):
    """Turn a mesh whose pull is +Z so that its pull is `direction`."""
    matrix = np.eye(4)
    matrix[:3, :3] = frame_for(direction).T
    return mesh.transformed(matrix)


def dome(sides=48):
    return as_mesh(Manifold.sphere(30.0, sides).trim_by_plane([0.0, 0.0, 1.0], 0.0))


def roof():
    """A roof of 60 x 40 mm, 25 mm high, its ridge along x and all sides sloping."""
    foot = [[-30, -20, 0], [30, -20, 0], [30, 20, 0], [-30, 20, 0]]
    return as_mesh(Manifold.hull_points(np.array([*foot, [-20, 0, 25], [20, 0, 25]], float)))


def lumps(seed):
    """Nine balls in a heap: no axes, no symmetry, no foot."""
    rng = np.random.default_rng(seed)
    heap = Manifold()
    for _ in range(9):
        heap += Manifold.sphere(rng.uniform(10, 22), 24).translate(tuple(rng.normal(0.0, (24, 17, 12))))
    return as_mesh(heap)


@pytest.mark.parametrize("direction", [(0, 0, 1), (0.3, -0.4, 0.87), (0.9, 0.1, -0.3), (-0.5, 0.5, -0.9)])
@pytest.mark.parametrize("shape", [dome, roof])
def test_finds_the_way_a_shape_stands(shape, direction):
    mesh = standing(shape(), direction)
    best = find_setups(mesh, draft_deg=3.0, previews=False, directions=60)[0]
    assert between_deg(best.direction, direction) < 0.01
    assert best.figures.sink_mm == 0.0
    assert best.figures.trapped_area_mm2 == pytest.approx(0.0, abs=1.0)
    assert best.figures.foot_share > 0.95
    exact = mesh.vertices @ np.asarray(direction, float) / np.linalg.norm(direction)
    assert best.figures.height_mm == pytest.approx(float(np.ptp(exact)), rel=1e-6)


def test_upright_walls_are_not_trapped():
    """A cube of 60 mm stands on a face, where nothing is trapped and only its draft is filled."""
    best = find_setups(
        as_mesh(Manifold.cube((60.0, 60.0, 60.0))), draft_deg=3.0, previews=False, directions=200
    )[0]
    assert best.direction == pytest.approx((0.0, 0.0, 1.0), abs=1e-9)
    assert best.figures.trapped_area_mm2 == 0.0
    assert best.figures.buried_area_mm2 == pytest.approx(0.0, abs=5.0)


def test_a_cube_has_the_fill_of_its_draft():
    """Wedges on four walls, and a quarter of a cone at each corner: the raster agrees within 5 %."""
    high, lean = 60.0, math.tan(math.radians(3.0))
    wedges = 4 * 60.0 * high * high * lean / 2
    cone = math.pi * (high * lean) ** 2 * high / 3
    best = setups_along(as_mesh(Manifold.cube((60.0, 60.0, 60.0))), (0, 0, 1), draft_deg=3.0)[0]
    assert best.figures.fill_volume_mm3 == pytest.approx(wedges + cone, rel=0.05)


def test_figures_of_a_ball():
    """Whole: the lower half is trapped, and a cylinder less half a ball is filled; sunk: nothing is."""
    mesh = as_mesh(Manifold.sphere(20.0, 128))
    found = {round(one.figures.sink_mm): one.figures for one in setups_along(mesh, (0, 0, 1), draft_deg=0.1)}
    assert sorted(found) == [0, 20]
    half = 2 * math.pi * 400.0
    assert found[0].trapped_area_mm2 == pytest.approx(half, rel=0.02)
    assert found[0].fill_volume_mm3 == pytest.approx(math.pi * 8000.0 / 3, rel=0.03)
    assert found[0].height_mm == pytest.approx(40.0, rel=1e-3)
    assert found[0].footprint_mm2 == pytest.approx(math.pi * 400.0, rel=0.01)
    assert found[20].trapped_area_mm2 < 0.03 * half
    assert found[20].cut_volume_mm3 == pytest.approx(math.pi * 16000.0 / 3, rel=0.03)
    assert found[20].lost_share > found[0].lost_share - 0.2
    assert find_setups(mesh, draft_deg=3.0, previews=False, directions=60)[
        0
    ].figures.sink_mm == pytest.approx(20.0, abs=0.5)


def test_a_ring_stands_on_all_that_it_encloses():
    ring = as_mesh(Manifold.cylinder(12.0, 45.0, 45.0, 96) - Manifold.cylinder(12.0, 28.0, 28.0, 96))
    figures = setups_along(ring, (0, 0, 1), draft_deg=3.0)[0].figures
    assert figures.foot_share == 1.0
    assert figures.footprint_mm2 == pytest.approx(math.pi * 2025.0, rel=0.01)


def test_a_given_depth_is_kept(sculpt):
    for one in find_setups(sculpt("animal"), draft_deg=3.0, previews=False, sink_mm=7.5, directions=40):
        assert one.figures.sink_mm == 7.5
    with pytest.raises(InputError, match="leaves nothing"):
        find_setups(dome(), draft_deg=3.0, previews=False, sink_mm=500.0, directions=5)


def test_setups_differ_clearly_and_are_in_order(sculpt):
    found = find_setups(sculpt("bust"), draft_deg=3.0, previews=False, directions=200)
    assert 3 <= len(found) <= MOST
    for k, one in enumerate(found):
        for other in found[:k]:
            kinds = {one.figures.sink_mm > 0.0, other.figures.sink_mm > 0.0}
            assert len(kinds) == 2 or between_deg(one.direction, other.direction) >= 20.0
    assert all(later.cost > earlier.cost * 0.98 for earlier, later in pairwise(found))
    assert all(one.note for one in found)


def test_mirror_images_are_one_setup(sculpt):
    """Left and right side of the animal are alike: only one of them is told."""
    found = find_setups(sculpt("animal"), draft_deg=3.0, previews=False, directions=200)
    sides = [one for one in found if abs(one.direction[1]) > 0.98 and one.figures.sink_mm > 0.0]
    assert len(sides) == 1


def test_the_cone_is_kept():
    mesh = standing(dome(), (1, 0, 0))
    for about, cone in [((0, 0, 1), 40.0), ((0, 1, 1), 25.0), ((0, 0, -1), 10.0)]:
        found = find_setups(mesh, draft_deg=3.0, previews=False, directions=40, cone_deg=cone, about=about)
        assert all(between_deg(one.direction, about) <= cone + 1e-4 for one in found)


@pytest.mark.parametrize("seed", range(2))
def test_attitude_of_the_file_does_not_matter(seed):
    """The least cost that is found changes by at most 2 % when the file is turned."""
    mesh, costs = lumps(seed), []
    for turn in range(5):
        matrix = Rotation.random(random_state=turn).as_matrix()
        turned = Mesh(np.ascontiguousarray(mesh.vertices @ matrix.T), mesh.faces)
        costs.append(find_setups(turned, draft_deg=3.0, previews=False, directions=300)[0].cost)
    assert max(costs) <= 1.02 * min(costs)


def test_large_meshes_are_measured_by_their_proxy():
    """A lumpy ball of 130 000 faces has nearly the figures of the same with 8 000."""
    figures = []
    for sides in (90, 360):
        ball = Manifold.sphere(30.0, sides).warp_batch(
            lambda p: p * (1.0 + 0.12 * np.sin(p[:, :1] / 5.0) * np.cos(p[:, 1:2] / 7.0))
        )
        figures.append(setups_along(as_mesh(ball), (0.2, 0.1, 1.0), draft_deg=3.0)[0].figures)
    coarse, fine = figures
    assert fine.fill_volume_mm3 == pytest.approx(coarse.fill_volume_mm3, rel=0.05)
    area = 4.0 * math.pi * 900.0
    assert fine.trapped_area_mm2 == pytest.approx(coarse.trapped_area_mm2, abs=0.005 * area)
    assert fine.lost_share == pytest.approx(coarse.lost_share, abs=0.02)


def test_the_search_repeats_itself():
    mesh = standing(dome(30), (0.2, 0.5, 0.7))
    # nan, as the previews are left out, is no equal of itself
    once, again = (find_setups(mesh, draft_deg=3.0, previews=False, directions=40) for _ in range(2))
    assert repr(once) == repr(again)


def test_each_part_of_the_cost_counts():
    """More fill, a taller part, a larger foot or more that is trapped never costs less."""
    from dataclasses import replace

    figures = setups_along(roof(), (0, 0, 1), draft_deg=3.0)[0].figures
    plain = cost_of(figures, size_mm=30.0, area_mm2=7000.0)
    for name in ("fill_volume_mm3", "height_mm", "trapped_area_mm2", "lost_share"):
        worse = replace(figures, **{name: getattr(figures, name) * 1.5 + 0.1})
        assert cost_of(worse, size_mm=30.0, area_mm2=7000.0) > plain
    assert cost_of(replace(figures, foot_share=0.0), size_mm=30.0, area_mm2=7000.0) > plain


def test_progress_rises_to_the_end_and_can_stop_it():
    told = []
    find_setups(roof(), draft_deg=3.0, previews=False, directions=30, tick=told.append)
    assert told == sorted(told)
    assert 0.0 < told[0] < told[-1] <= 1.0

    def stop(_):
        raise Cancelled("asked to stop")

    with pytest.raises(Cancelled):
        find_setups(roof(), draft_deg=3.0, previews=False, directions=30, tick=stop)


def test_nothing_to_search():
    empty = Mesh.from_arrays(np.zeros((0, 3)), np.zeros((0, 3), int))
    line = Mesh.from_arrays([[0, 0, 0], [1, 0, 0], [2, 0, 0]], [[0, 1, 2]])
    for mesh in (empty, line):
        with pytest.raises(InputError, match="no faces with area"):
            find_setups(mesh, draft_deg=3.0, previews=False)


def test_an_open_relief_and_a_single_face():
    one = Mesh.from_arrays([[0, 0, 0], [10, 0, 0], [0, 10, 0]], [[0, 1, 2]])
    assert len(find_setups(one, draft_deg=3.0, previews=False, directions=20)) >= 1
    n = 12
    x, y = np.meshgrid(np.arange(n + 1.0), np.arange(n + 1.0), indexing="ij")
    points = np.column_stack([x.ravel(), y.ravel(), (2 * np.sin(x) * np.cos(y)).ravel()])
    q = (np.arange(n)[:, None] * (n + 1) + np.arange(n)).ravel()
    faces = np.concatenate(
        [np.column_stack([q, q + n + 1, q + n + 2]), np.column_stack([q, q + n + 2, q + 1])]
    )
    best = find_setups(Mesh.from_arrays(points, faces), draft_deg=3.0, previews=False, directions=80)[0]
    assert between_deg(best.direction, (0, 0, 1)) < 20.0


def test_an_open_relief_is_not_offered_on_its_edge():
    """On edge, its widest outline is all but its whole height up: a sliver would stand above the platen."""
    x, y = np.meshgrid(np.linspace(0.0, 150.0, 61), np.linspace(0.0, 150.0, 61), indexing="ij")
    z = 8.0 * np.sin(x / 19.0) * np.cos(y / 23.0) + 0.05 * x
    points = np.column_stack([x.ravel(), y.ravel(), z.ravel()])
    q = (np.arange(60)[:, None] * 61 + np.arange(60)).ravel()
    faces = np.concatenate([np.column_stack([q, q + 61, q + 62]), np.column_stack([q, q + 62, q + 1])])
    found = find_setups(Mesh.from_arrays(points, faces), draft_deg=3.0, previews=False, directions=200)
    assert between_deg(found[0].direction, (0, 0, 1)) < 20.0
    most = found[0].figures
    for one in found:
        told = one.figures
        assert 1.0 - told.lost_share > 0.32 * (1.0 - most.lost_share)
        assert told.height_mm > 0.1 * (told.height_mm + told.sink_mm)
        assert told.footprint_mm2 > 0.1 * most.footprint_mm2
    # Along its edge alone, it is still told what that costs.
    assert setups_along(Mesh.from_arrays(points, faces), (0, 1, 0), draft_deg=3.0)


@pytest.mark.parametrize("wrong", [{"cone_deg": 181.0}, {"cone_deg": -1.0}, {"directions": 0}])
def test_settings_out_of_range(wrong):
    with pytest.raises(InputError, match="cone"):
        find_setups(roof(), draft_deg=3.0, previews=False, **wrong)


def test_record_has_the_keys_of_the_report():
    found = find_setups(roof(), draft_deg=3.0, previews=False, directions=30)
    record = found[0].to_dict()
    assert record["direction"] == list(found[0].direction)
    assert record.keys() >= {
        "sink_mm",
        "fill_volume_mm3",
        "height_mm",
        "footprint_mm2",
        "trapped_area_mm2",
        "detail_buried_mm2",
        "detail_lost_share",
        "score",
        "note",
    }


def bowl():
    """Half a ball of 50 mm, 4 mm thick, hollow side up."""
    shell = Manifold.sphere(50.0, 96) - Manifold.sphere(46.0, 96)
    return as_mesh(shell.trim_by_plane((0.0, 0.0, -1.0), 0.0))


def test_a_cut_through_a_hollow_says_how_much_of_it_is_hollow():
    """A level cut 25 mm below the rim is a ring between two circles."""
    (figures,) = (one.figures for one in setups_along(bowl(), (0, 0, 1), draft_deg=3.0, sink_mm=25.0))
    ring, disc = 50.0**2 - 46.0**2, 50.0**2 - 25.0**2
    hollow = 1.0 - ring / disc
    # 15 % are taken for the coarseness of the raster
    assert figures.hollow_share == pytest.approx((hollow - 0.15) / 0.85, abs=0.02)
    solid = as_mesh(Manifold.sphere(50.0, 96))
    assert setups_along(solid, (0, 0, 1), draft_deg=3.0, sink_mm=40.0)[0].figures.hollow_share == 0.0


def test_a_wall_under_a_roof_is_trapped_and_one_under_its_own_rim_is_not():
    """A table on one thick upright leg: the leg and the underside, less the leg's top, are trapped."""
    leg, top = Manifold.cylinder(40.0, 12.0, 12.0, 96), Manifold.cylinder(10.0, 35.0, 35.0, 96)
    mesh = as_mesh(leg + top.translate((0.0, 0.0, 40.0)))
    figures = setups_along(mesh, (0, 0, 1), draft_deg=3.0, sink_mm=0.0)[0].figures
    under = 2.0 * math.pi * 12.0 * 40.0 + math.pi * (35.0**2 - 12.0**2)
    assert figures.trapped_area_mm2 == pytest.approx(under, rel=0.02)
    assert figures.buried_area_mm2 == pytest.approx(under, rel=0.04)
