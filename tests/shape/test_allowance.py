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
