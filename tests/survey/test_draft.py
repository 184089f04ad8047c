"""Draft against closed forms and invariants."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold

from buckwright.errors import InputError
from buckwright.mesh.triangles import Mesh
from buckwright.shape.solid import as_mesh
from buckwright.survey.draft import DRAFT_TOLERANCE_DEG, FaceState, draft_deg, draft_states, wanted_draft_deg

angles = st.floats(-89.9, 89.9)
turns = st.floats(0.0, 360.0)


def wall(draft: float, azimuth: float, size: float = 10.0) -> Mesh:
    """Two triangles of a flat wall that faces `azimuth` and leans back by `draft` degrees."""
    lean, turn = math.radians(draft), math.radians(azimuth)
    along = np.array([-math.sin(turn), math.cos(turn), 0.0])
    up = np.array([-math.sin(lean) * math.cos(turn), -math.sin(lean) * math.sin(turn), math.cos(lean)])
    corners = np.array([0 * along, along, along + up, up]) * size
    return Mesh.from_arrays(corners, [[0, 1, 2], [0, 2, 3]])


def rotated(mesh: Mesh, degrees: float) -> Mesh:
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    matrix = np.eye(4)
    matrix[:2, :2] = [[c, -s], [s, c]]
    return mesh.transformed(matrix)


@settings(deadline=None)
@given(angles, turns, st.floats(0.01, 1000.0))
def test_a_leaning_wall_has_its_angle(draft: float, azimuth: float, size: float) -> None:
    assert np.abs(draft_deg(wall(draft, azimuth, size)) - draft).max() < 1e-9


@pytest.mark.parametrize("half_angle", [0.5, 1.0, 3.0, 5.0, 30.0, 60.0, 89.0])
def test_facets_of_a_cone(half_angle: float) -> None:
    """A cone with n facets: the facet plane stands at atan(r cos(pi/n) / h) from the axis."""
    height, facets = 50.0, 64
    radius = height * math.tan(math.radians(half_angle))
    mesh = as_mesh(Manifold.cylinder(height, radius, 0.0, facets))
    drafts = draft_deg(mesh)
    sides = drafts > -80.0
    expected = math.degrees(math.atan2(radius * math.cos(math.pi / facets), height))
    assert sides.sum() == facets
    assert np.abs(drafts[sides] - expected).max() < 1e-9
    assert np.all(drafts[~sides] == -90.0)


def test_axis_directions_are_exact() -> None:
    drafts = draft_deg(as_mesh(Manifold.cube([3.0, 2.0, 1.0])))
    assert sorted(drafts) == [-90.0, -90.0] + [0.0] * 8 + [90.0, 90.0]


def test_half_of_a_sphere_leans_under() -> None:
    mesh = as_mesh(Manifold.sphere(20.0, 64))
    drafts = draft_deg(mesh)
    states = draft_states(mesh, drafts, wanted_deg=0.0)
    assert states.trapped_share == pytest.approx(0.5, abs=1e-12)
    assert states.free_share == pytest.approx(0.5, abs=1e-12)
    # the zone between two latitudes: area share (sin b - sin a) / 2 on a sphere
    belt = draft_states(mesh, drafts, wanted_deg=30.0).tight_share
    assert belt == pytest.approx(math.sin(math.radians(30.0)) / 2.0, abs=0.02)


def test_slivers_keep_their_draft() -> None:
    """Single precision would err by hundredths of a degree here."""
    tall = wall(3.0, 37.0, 1.0)
    corners = tall.vertices.copy()
    corners[1:3] = corners[[0, 3]] + (corners[1:3] - corners[[0, 3]]) * 1e-6
    assert np.abs(draft_deg(Mesh.from_arrays(corners + 100.0, tall.faces)) - 3.0).max() < 1e-6


def test_degenerate_and_empty() -> None:
    empty = Mesh.from_arrays(np.zeros((0, 3)), np.zeros((0, 3), int))
    assert draft_deg(empty).shape == (0,)
    points = [[0, 0, 0], [1, 0, 0], [2, 0, 0], [0, 1, 0], [np.nan, 0, 0]]
    mesh = Mesh.from_arrays(points, [[0, 1, 2], [0, 0, 3], [0, 1, 3], [0, 1, 4]])
    drafts = draft_deg(mesh)
    assert np.isnan(drafts).tolist() == [True, True, False, True]
    assert drafts[2] == 90.0
    states = draft_states(empty, draft_deg(empty), wanted_deg=3.0)
    assert (states.free_share, states.tight_share, states.trapped_share, states.judged_mm2) == (0, 0, 0, 0)


@settings(max_examples=25, deadline=None)
@given(turns, st.floats(-500.0, 500.0), st.floats(0.01, 100.0), st.randoms(use_true_random=False))
def test_invariants(turn: float, shift: float, scale: float, random: object) -> None:
    mesh = as_mesh(Manifold.sphere(10.0, 12))
    drafts = draft_deg(mesh)
    assert np.abs(draft_deg(rotated(mesh, turn)) - drafts).max() < 1e-9
    moved = Mesh(mesh.vertices * scale + [shift, 0.5 * shift, -shift], mesh.faces)
    assert np.abs(draft_deg(moved) - drafts).max() < 1e-8 * max(1.0, abs(shift) / scale)
    order = list(range(mesh.face_count))
    random.shuffle(order)  # type: ignore[attr-defined]
    assert np.array_equal(draft_deg(Mesh(mesh.vertices, mesh.faces[order])), drafts[order])
    assert np.array_equal(draft_deg(Mesh(mesh.vertices, mesh.faces[:, [0, 2, 1]])), -drafts)


def test_subdivision_keeps_the_shares() -> None:
    solid = Manifold.sphere(10.0, 16)
    shares = []
    for mesh in (as_mesh(solid), as_mesh(solid.refine(3))):
        states = draft_states(mesh, draft_deg(mesh), wanted_deg=7.0)
        shares.append([states.free_share, states.tight_share, states.trapped_share, *states.bin_area_mm2])
    assert np.allclose(shares[0], shares[1], rtol=1e-6, atol=1e-6)


def test_states_of_single_walls() -> None:
    for draft, expected in [
        (3.0, FaceState.FREE),
        (3.0 - 0.5 * DRAFT_TOLERANCE_DEG, FaceState.FREE),
        (2.9, FaceState.TIGHT),
        (0.0, FaceState.TIGHT),
        (-0.1, FaceState.TRAPPED),
    ]:
        mesh = wall(draft, 20.0)
        assert set(draft_states(mesh, draft_deg(mesh), wanted_deg=3.0).state) == {expected}


def test_reach_and_base_override_the_angle() -> None:
    mesh = wall(10.0, 0.0)
    drafts = draft_deg(mesh)
    trapped, base = np.array([True, False]), np.array([False, True])
    states = draft_states(mesh, drafts, wanted_deg=3.0, trapped=trapped, left_out=base)
    assert states.state.tolist() == [FaceState.TRAPPED, FaceState.BASE]
    assert states.trapped_share == 1.0
    assert states.judged_mm2 == pytest.approx(50.0)


def test_histogram_adds_up_to_the_judged_area() -> None:
    mesh = as_mesh(Manifold.sphere(20.0, 48) + Manifold.cube([30.0, 30.0, 10.0]))
    states = draft_states(mesh, draft_deg(mesh), wanted_deg=3.0)
    area = np.linalg.norm(mesh.area_vectors(), axis=1).sum()
    assert states.bin_area_mm2.sum() == pytest.approx(area)
    assert (states.bin_edges_deg[0], states.bin_edges_deg[-1]) == (-90.0, 90.0)
    record = states.to_dict()
    assert len(record["histogram"]["edges_deg"]) == len(record["histogram"]["area_mm2"]) + 1
    assert record["free_share"] + record["tight_share"] + record["trapped_share"] == pytest.approx(1.0)


@pytest.mark.parametrize("wanted", [-1.0, 90.0, math.nan])
def test_states_refuse_impossible_drafts(wanted: float) -> None:
    mesh = wall(3.0, 0.0)
    with pytest.raises(InputError, match="wanted draft"):
        draft_states(mesh, draft_deg(mesh), wanted_deg=wanted)


def test_texture_adds_draft_in_proportion() -> None:
    assert wanted_draft_deg(3.0) == 3.0
    once = wanted_draft_deg(3.0, 0.05) - 3.0
    assert wanted_draft_deg(5.0, 0.10) - 5.0 == pytest.approx(2.0 * once)


@pytest.mark.parametrize(("base", "texture"), [(-1.0, 0.0), (3.0, -0.1), (math.nan, 0.0), (3.0, math.inf)])
def test_texture_refuses_nonsense(base: float, texture: float) -> None:
    with pytest.raises(InputError, match="0 or more"):
        wanted_draft_deg(base, texture)


def test_texture_as_deep_as_the_shape_is_refused() -> None:
    with pytest.raises(InputError, match="depth of the grain"):
        wanted_draft_deg(3.0, 10.0)
