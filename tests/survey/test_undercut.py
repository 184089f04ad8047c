"""Reach along the pull: shapes with known answers, invariants, degenerate input."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold, OpType

from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.shape.solid import as_mesh, as_solid
from buckwright.survey.draft import draft_deg
from buckwright.survey.undercut import Reach, find_trapped


def block(size: tuple[float, float, float], low: tuple[float, float, float]) -> Manifold:
    return Manifold.cube(list(size)).translate(list(low))


def mushroom(split: int = 1) -> Mesh:
    """A stem of 20 x 20 x 30 mm under a cap of 60 x 60 x 10 mm."""
    cap, stem = block((60, 60, 10), (-30, -30, 30)), block((20, 20, 35), (-10, -10, 0))
    return as_mesh((cap + stem).refine(split))


def knot(seed: int, split: int = 1) -> Mesh:
    """Balls run together at random: overhangs of every kind."""
    rng = np.random.default_rng(seed)
    balls = [Manifold.sphere(rng.uniform(4, 9), 16).translate(list(rng.uniform(-8, 8, 3))) for _ in range(6)]
    return as_mesh(Manifold.batch_boolean(balls, OpType.Add).refine(split))


def areas(mesh: Mesh) -> np.ndarray:
    return np.linalg.norm(mesh.area_vectors(), axis=1)


def trapped_area(mesh: Mesh, reach: Reach | None = None) -> float:
    reach = find_trapped(mesh) if reach is None else reach
    return float(areas(mesh)[reach.trapped].sum())


@pytest.mark.parametrize("split", [1, 7])
def test_mushroom(split: int) -> None:
    mesh = mushroom(split)
    reach = find_trapped(mesh, floor_z=0.0)
    underside = np.abs(mesh.corners()[:, :, 2] - 30.0).max(axis=1) < 1e-9
    drafts = draft_deg(mesh)
    below_cap = underside & (drafts < -89.0)
    stem = (mesh.centroids()[:, 2] < 30.0) & (np.abs(drafts) < 1e-6)
    foot = mesh.corners()[:, :, 2].max(axis=1) < 1e-9
    assert areas(mesh)[below_cap].sum() == pytest.approx(60**2 - 20**2)
    assert areas(mesh)[stem].sum() == pytest.approx(4 * 20 * 30)
    assert np.array_equal(reach.trapped, below_cap | stem)
    assert np.array_equal(reach.leaning, below_cap)
    assert np.array_equal(reach.left_out, foot)
    assert np.allclose(reach.depth_mm[below_cap], 10.0)
    assert np.allclose(reach.depth_mm[stem], 40.0 - mesh.centroids()[stem, 2])
    assert np.allclose(reach.cover_z[reach.covered], 40.0, rtol=0.0, atol=1e-9)
    assert np.isnan(reach.cover_z[~reach.covered]).all()
    assert np.all(reach.depth_mm[~reach.covered] == 0.0)


def test_without_a_floor_the_foot_leans_under() -> None:
    mesh = mushroom()
    assert trapped_area(mesh) == pytest.approx(60**2 - 20**2 + 4 * 20 * 30 + 20**2)
    whole = find_trapped(mesh, floor_z=40.0)
    assert whole.left_out.all()
    assert not whole.trapped.any()


def test_faces_that_reach_over_the_floor_stay_in() -> None:
    mesh = mushroom()
    reach = find_trapped(mesh, floor_z=29.0)
    assert np.array_equal(reach.left_out, mesh.corners()[:, :, 2].max(axis=1) <= 29.0)
    assert not reach.left_out[draft_deg(mesh) == 0.0].any()


def test_a_wall_under_its_own_rim_is_not_covered() -> None:
    for turn in np.linspace(0.0, 90.0, 13):
        mesh = as_mesh(block((40, 20, 60), (-20, -10, 0)).rotate([0, 0, float(turn)]).translate([70, -20, 5]))
        reach = find_trapped(mesh, floor_z=5.0)
        assert not reach.trapped.any(), turn


def test_a_pointed_roof_hides_nothing() -> None:
    mesh = as_mesh(Manifold.cylinder(30.0, 20.0, 0.0, 50))
    assert not find_trapped(mesh, floor_z=0.0).trapped.any()


def test_touching_twins_do_not_cover_each_other() -> None:
    """The same square twice: neither stands above the other."""
    corners = [[0, 0, 1], [5, 0, 1], [5, 5, 1], [0, 5, 1]]
    mesh = Mesh.from_arrays(corners, [[0, 1, 2], [0, 2, 3], [0, 1, 2], [0, 2, 3]])
    assert not find_trapped(mesh).trapped.any()


def test_open_sheets() -> None:
    """A roof over half of a floor, neither of them closed."""
    floor = [[0, 0, 0], [10, 0, 0], [10, 10, 0], [0, 10, 0], [5, 5, 0]]
    roof = [[5, -1, 4], [11, -1, 4], [11, 11, 4], [5, 11, 4]]
    faces = [[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4], [5, 6, 7], [5, 7, 8]]
    reach = find_trapped(Mesh.from_arrays(floor + roof, faces))
    # middle of the floor's triangles: x = 5 (under the very edge of the roof), 8.3, 5, 1.7
    assert reach.covered[[1, 3, 4, 5]].tolist() == [True, False, False, False]
    assert reach.depth_mm[1] == 4.0


def test_degenerate_and_empty() -> None:
    empty = find_trapped(Mesh.from_arrays(np.zeros((0, 3)), np.zeros((0, 3), int)))
    assert empty.trapped.shape == empty.depth_mm.shape == (0,)
    line = Mesh.from_arrays([[0, 0, 0], [1, 0, 0], [2, 0, 0]], [[0, 1, 2]])
    reach = find_trapped(line)
    assert reach.left_out.tolist() == [True]
    assert not reach.trapped.any()
    single = Mesh.from_arrays([[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[0, 1, 2], [0, 2, 1]])
    assert find_trapped(single).trapped.tolist() == [False, True]


@pytest.mark.parametrize(("over_mm", "covered"), [(0.0, False), (0.05, True)])
def test_a_wall_is_asked_just_outside_of_itself(over_mm: float, covered: bool) -> None:
    """Under its own flush rim it is free; a rim that stands out by a hair covers it."""
    foot = Manifold.cube([10.0, 10.0, 6.0]).translate((-5.0, -5.0, 0.0))
    rim = Manifold.cube([10.0 + 2 * over_mm, 10.0 + 2 * over_mm, 4.0])
    mesh = as_mesh((foot + rim.translate((-5.0 - over_mm, -5.0 - over_mm, 6.0))).refine(3))
    reach = find_trapped(mesh, floor_z=0.0)
    wall = (draft_deg(mesh) == 0.0) & (mesh.centroids()[:, 2] < 6.0)
    assert wall.sum() > 20
    assert (reach.covered[wall] == covered).all()


def test_given_columns_are_used() -> None:
    mesh = mushroom(2)
    assert np.array_equal(find_trapped(mesh, Columns(mesh)).trapped, find_trapped(mesh).trapped)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10**6), st.floats(0.0, 360.0), st.floats(-300.0, 300.0), st.floats(0.05, 20.0))
def test_rigid_motion_and_scale(seed: int, turn: float, shift: float, scale: float) -> None:
    mesh = knot(seed)
    before = find_trapped(mesh)
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    matrix = np.eye(4)
    matrix[:3, :3] = scale * np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    matrix[:3, 3] = [shift, -2.0 * shift, 0.5 * shift]
    after = find_trapped(mesh.transformed(matrix))
    # a column may pass so close to a rim that rounding decides: tiny faces at most
    differs = before.trapped != after.trapped
    assert areas(mesh)[differs].sum() < 1e-3 * areas(mesh).sum()
    same = before.covered & after.covered
    assert np.allclose(after.depth_mm[same], scale * before.depth_mm[same], rtol=1e-6, atol=1e-6 * scale)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10**6), st.randoms(use_true_random=False))
def test_order_and_winding(seed: int, random: object) -> None:
    mesh = knot(seed)
    before = find_trapped(mesh)
    order = list(range(mesh.face_count))
    random.shuffle(order)  # type: ignore[attr-defined]
    shuffled = find_trapped(Mesh(mesh.vertices, mesh.faces[order]))
    assert np.array_equal(shuffled.trapped, before.trapped[order])
    assert np.allclose(shuffled.depth_mm, before.depth_mm[order], rtol=0.0, atol=1e-10)
    turned = find_trapped(Mesh(mesh.vertices, np.ascontiguousarray(mesh.faces[:, ::-1])))
    steep = np.abs(before.drafts_deg) < 0.02
    assert np.array_equal(turned.covered[~steep], before.covered[~steep])
    assert np.array_equal(turned.leaning, before.drafts_deg > before.lean_tolerance_deg)


def test_a_closed_body_is_trapped_by_half_at_least() -> None:
    """What leans under projects onto the same outline as what is seen."""
    for seed in range(5):
        mesh = knot(seed)
        reach = find_trapped(mesh)
        plan = mesh.area_vectors()[:, 2]
        assert -plan[reach.leaning].sum() == pytest.approx(plan[~reach.leaning].sum())
        # every face seen from above adds up to the outline
        outline = Manifold.project(as_solid(mesh)).area()
        assert plan[~reach.trapped].sum() == pytest.approx(outline, rel=0.05)


def test_subdivision_comes_nearer_to_the_area_that_is_seen() -> None:
    seen, outline = [], Manifold.project(as_solid(knot(3))).area()
    for split in (1, 6):
        mesh = knot(3, split)
        reach = find_trapped(mesh)
        seen.append(float(mesh.area_vectors()[~reach.trapped, 2].sum()))
        assert np.array_equal(reach.leaning, mesh.area_vectors()[:, 2] < -1e-9 * areas(mesh))
    assert abs(seen[1] - outline) < 0.01 * outline
    assert abs(seen[1] - outline) <= abs(seen[0] - outline)
