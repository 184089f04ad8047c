import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold
from pytest import approx

from buckwright.errors import JobError
from buckwright.mesh.crossings import find_crossings
from buckwright.mesh.triangles import Mesh
from buckwright.shape.offset.allowance import offset_inward, shrink_scale
from buckwright.shape.solid import as_mesh, as_solid


def plane_offsets(before, after):
    """Signed distance of each moved face's corners from its old plane, (F, 3)."""
    normal = before.area_vectors()
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    return np.einsum("fk,fck->fc", normal, after.corners() - before.corners())


def wedge(half_angle_deg, length=30.0, height=20.0):
    """Roof with its ridge along y."""
    half = height * np.tan(np.deg2rad(half_angle_deg))
    points = [(-half, 0, 0), (half, 0, 0), (0, 0, height)]
    points = np.array([(x, y, z) for y in (0.0, length) for x, _, z in points])
    return as_mesh(Manifold.hull_points(points))


@pytest.mark.parametrize("half_angle", [15.0, 30.0, 45.0, 70.0])
def test_the_ridge_of_a_wedge_sinks_by_t_over_the_sine(half_angle):
    mesh = wedge(half_angle)
    made = offset_inward(mesh, 0.6)
    top = made.mesh.vertices[:, 2].max()
    assert top == approx(20.0 - 0.6 / np.sin(np.deg2rad(half_angle)), abs=1e-6)
    assert plane_offsets(mesh, made.mesh) == approx(-0.6, abs=1e-6)
    assert made.places == ()


@pytest.mark.parametrize("half_angle", [20.0, 40.0])
def test_the_apex_of_a_cone_sinks_by_t_over_the_sine_of_its_facets(half_angle):
    count, height = 180, 30.0
    radius = height * np.tan(np.deg2rad(half_angle))
    cone = as_mesh(Manifold.cylinder(height, radius, 0.0, count))
    made = offset_inward(cone, 0.5)
    facet = np.arctan(radius * np.cos(np.pi / count) / height)
    assert made.mesh.vertices[:, 2].max() == approx(height - 0.5 / np.sin(facet), abs=1e-6)
    assert plane_offsets(cone, made.mesh) == approx(-0.5, abs=1e-6)


def test_a_frustum_keeps_its_taper():
    frustum = as_mesh(Manifold.cylinder(20, 15, 10, 96))
    made = offset_inward(frustum, 0.7)
    assert plane_offsets(frustum, made.mesh) == approx(-0.7, abs=1e-6)
    assert as_solid(made.mesh).volume() < as_solid(frustum).volume()


def test_a_box_with_many_triangles_is_offset_over_its_edges():
    fine = as_mesh(Manifold.cube((20, 30, 10)).refine(20))
    made = offset_inward(fine, 1.5)
    assert made.mesh.volume_mm3() == approx(17 * 27 * 7, rel=1e-4)
    assert made.shortfall_mm.max() < 0.01
    assert made.places == ()
    assert find_crossings(made.mesh).count == 0
    assert np.array_equal(made.mesh.faces, fine.faces)


def test_the_foot_stays_in_its_plane():
    box = as_mesh(Manifold.cube((20, 30, 10)).refine(6))
    made = offset_inward(box, 0.8, still=box.corners()[:, :, 2].max(1) == 0)
    low, high = made.mesh.bounds
    assert low == approx([0.8, 0.8, 0.0], abs=2e-3)
    assert high == approx([19.2, 29.2, 9.2], abs=2e-3)


def test_a_sphere_shrinks_by_the_offset():
    ball = as_mesh(Manifold.sphere(20, 128))
    made = offset_inward(ball, 1.0)
    assert np.linalg.norm(made.mesh.vertices, axis=1) == approx(19.0, abs=0.01)
    assert plane_offsets(ball, made.mesh).max() <= -1.0 + 0.02


def test_a_plate_thinner_than_two_offsets_says_where_it_falls_short():
    plate = Manifold.cube((20, 20, 1.0)).refine(20).translate((0, 0, 9.5))
    body = as_mesh(plate + Manifold.cube((20, 6, 10)).refine(12))
    made = offset_inward(body, 0.8)
    assert made.places
    worst = made.places[0]
    assert 0.3 <= worst.shortfall_mm <= 0.8
    assert worst.centre_mm[2] > 8
    assert "falls short" in made.notes[0]
    assert made.crossings == 0
    assert find_crossings(made.mesh).count == 0
    assert made.mesh.volume_mm3() > 0


@pytest.mark.parametrize("half_angle", [3.0, 5.0, 8.0, 10.0, 12.0])
def test_a_sharp_ridge_moves_by_six_offsets_at_most(half_angle):
    mesh = wedge(half_angle)
    made = offset_inward(mesh, 0.6)
    ridge = mesh.vertices[:, 2] == 20.0
    moves = np.linalg.norm((made.mesh.vertices - mesh.vertices)[ridge], axis=1) / 0.6
    sinks = np.hypot(1.0, 1.0 / np.sin(np.deg2rad(half_angle)))  # the gable moves in by one offset as well
    assert moves == approx(min(sinks, 6.0), abs=1e-6)


@pytest.mark.parametrize(("half_angle", "offset"), [(8.0, 0.6), (9.0, 0.6), (8.0, 0.1), (5.0, 0.1)])
def test_a_place_is_told_where_a_tenth_of_the_offset_is_missing_and_no_less_than_0_02_mm(half_angle, offset):
    # A ridge that may move by six offsets falls short of its planes by 1 - sin(a) * sqrt(36 - 1) of one, or
    # a little less, as the least squares share the lack between its three planes.
    made = offset_inward(wedge(half_angle), offset)
    missing = made.shortfall_mm.max()
    lack = 1.0 - np.sin(np.deg2rad(half_angle)) * np.sqrt(35.0)
    assert 0.5 * lack * offset <= missing <= 1.05 * lack * offset
    assert bool(made.places) == (missing > max(0.1 * offset, 0.02))


@pytest.mark.parametrize("thick", [0.6, 1.0, 1.5, 1.7])
def test_a_tenth_of_a_thin_plate_stays_solid(thick):
    plate = as_mesh(Manifold.cube((20, 20, thick)).refine_to_length(1.0))
    made = offset_inward(plate, 1.0)
    inner = np.all(np.abs(plate.vertices[:, :2] - 10.0) < 3.0, axis=1)
    upper = plate.vertices[:, 2] > thick / 2
    height = made.mesh.vertices[:, 2]
    left = height[inner & upper].min() - height[inner & ~upper].max()
    assert left == approx(0.1 * thick, abs=1e-9)


@pytest.mark.parametrize("length", [0.5, 1.0, 2.0])
def test_the_move_rises_by_half_of_the_way_from_a_thin_plate_to_the_block_beside_it(length):
    """A plate 1 mm thick leaves little room, the block all of it: between them the top becomes a ramp."""
    solid = Manifold.cube((16, 16, 10)) + Manifold.cube((16, 16, 1)).translate((-15, 0, 9))
    mesh = as_mesh(solid.refine_to_length(length))
    sunk = mesh.vertices[:, 2] - offset_inward(mesh, 2.0).mesh.vertices[:, 2]
    x, y, z = mesh.vertices.T
    inner = np.isclose(z, 10.0) & (np.abs(x) < 11.5) & (np.abs(y - 8.0) < 4.0)
    assert sunk[inner & (x > 8)] == approx(2.0)
    assert sunk[inner & (x < -2)].max() <= 0.45 + 1e-9
    edges = np.concatenate([mesh.faces[:, [0, 1]], mesh.faces[:, [1, 2]], mesh.faces[:, [2, 0]]])
    edges = edges[inner[edges].all(axis=1)]
    ways = np.linalg.norm(np.diff(mesh.vertices[edges], axis=1)[:, 0], axis=1)
    rises = np.abs(np.diff(sunk[edges], axis=1)[:, 0]) / ways
    assert rises.max() == approx(0.5, abs=1e-6)


def test_a_deep_groove_and_a_fin_never_cross():
    solid = Manifold.cube((30, 20, 12)) - Manifold.cube((1.2, 30, 8)).translate((12, -5, 6))
    solid += Manifold.cube((0.6, 20, 8)).translate((20, 0, 10))
    made = offset_inward(as_mesh(solid.refine_to_length(1.0)), 0.7)
    assert find_crossings(made.mesh).count == made.crossings == 0
    assert as_solid(made.mesh).volume() > 0
    assert any(19 < place.centre_mm[0] < 21.5 for place in made.places)


def test_nothing_moves_for_no_offset_and_an_empty_mesh():
    box = as_mesh(Manifold.cube((1, 2, 3)))
    assert offset_inward(box, 0.0).mesh is box
    empty = Mesh.from_arrays(np.zeros((0, 3)), np.zeros((0, 3), np.int32))
    assert offset_inward(empty, 1.0).places == ()


def test_an_open_sheet_moves_against_its_normal():
    sheet = Mesh.from_arrays([[0, 0, 5], [9, 0, 5], [9, 9, 5], [0, 9, 5]], [[0, 1, 2], [0, 2, 3]])
    assert offset_inward(sheet, 0.4).mesh.vertices[:, 2] == approx(4.6)


@settings(max_examples=15, deadline=None)
@given(st.floats(-180, 180), st.floats(-90, 90), st.floats(-300, 300), st.floats(0.1, 10))
def test_turning_shifting_and_scaling_carry_the_offset_along(spin, tilt, shift, scale):
    body = Manifold.cylinder(20, 12, 7, 24) - Manifold.cube((6, 30, 9), True).translate((0, 0, 20))
    still = as_mesh(body)
    first = offset_inward(still, 0.5).mesh.vertices
    matrix = np.eye(4)
    a, b = np.deg2rad([spin, tilt])
    turn = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])
    lean = np.array([[1, 0, 0], [0, np.cos(b), -np.sin(b)], [0, np.sin(b), np.cos(b)]])
    matrix[:3, :3] = scale * turn @ lean
    matrix[:3, 3] = shift
    second = offset_inward(still.transformed(matrix), 0.5 * scale).mesh.vertices
    assert second == approx(first @ matrix[:3, :3].T + shift, abs=2e-5 * scale + 1e-6)


def test_progress_runs_from_start_to_end():
    told = []
    offset_inward(as_mesh(Manifold.cube((5, 5, 5))), 0.2, tick=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0


@pytest.mark.parametrize("bad", [-0.1, float("nan"), float("inf")])
def test_bad_distances_are_refused(bad):
    box = as_mesh(Manifold.cube((1, 1, 1)))
    with pytest.raises(JobError, match="offset"):
        offset_inward(box, bad)
    with pytest.raises(JobError, match="still"):
        offset_inward(box, 0.1, still=np.zeros(3, bool))


@pytest.mark.parametrize("bad", [-0.01, 0.5, float("nan")])
def test_shrinkage_is_a_ratio(bad):
    with pytest.raises(JobError, match="ratio"):
        shrink_scale(bad)
