"""Search for the pull: shapes whose best direction is known, frames, ties, refusals."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold

from buckwright.errors import Cancelled, InputError
from buckwright.mesh.triangles import Mesh
from buckwright.shape.solid import as_mesh
from buckwright.survey.proxy import area_of
from buckwright.survey.pull import frame_for, search_pull
from buckwright.survey.undercut import find_trapped

coordinates = st.floats(-10.0, 10.0)


def between_deg(a: object, b: object) -> float:
    u, v = np.asarray(a, float), np.asarray(b, float)
    return math.degrees(math.atan2(np.linalg.norm(np.cross(u, v)), u @ v))


def standing(mesh: Mesh, direction: object) -> Mesh:
    """Turn a mesh whose pull is +Z so that its pull is `direction`."""
    matrix = np.eye(4)
    matrix[:3, :3] = frame_for(direction).T  # type: ignore[arg-type]
    return mesh.transformed(matrix)


def dome(segments: int = 48) -> Mesh:
    return as_mesh(Manifold.sphere(30.0, segments).trim_by_plane([0.0, 0.0, 1.0], 0.0))


def wedge() -> Mesh:
    """A roof of 60 x 40 mm, 25 mm high, its ridge along x and all sides sloping."""
    foot = [[-30, -20, 0], [30, -20, 0], [30, 20, 0], [-30, 20, 0]]
    return as_mesh(Manifold.hull_points(np.array([*foot, [-20, 0, 25], [20, 0, 25]], float)))


@pytest.mark.parametrize("direction", [(0, 0, 1), (0.3, -0.4, 0.87), (0.9, 0.1, 0.3), (-0.5, 0.5, 0.05)])
@pytest.mark.parametrize("shape", [dome, wedge])
def test_finds_the_way_a_shape_stands(shape: object, direction: tuple[float, float, float]) -> None:
    mesh = standing(shape(), direction)  # type: ignore[operator]
    found = search_pull(mesh, directions=60)
    assert between_deg(found.direction, direction) < 0.01
    best = found.candidates[0]
    assert best.confirmed
    assert best.trapped_area_mm2 == 0.0
    exact = standing(mesh, (0, 0, 1)).vertices @ np.asarray(direction, float) / np.linalg.norm(direction)
    assert best.height_mm == pytest.approx(float(np.ptp(exact)), rel=1e-6)


def test_dome_has_its_figures() -> None:
    best = search_pull(dome(200), directions=30).candidates[0]
    assert best.height_mm == pytest.approx(30.0, rel=1e-3)
    assert best.footprint_mm2 == pytest.approx(math.pi * 900.0, rel=2e-3)


def test_large_meshes_are_scored_by_their_likeness() -> None:
    """A dome of more than 40 000 faces: its exact foot is found although it is simplified."""
    direction = (0.4, -0.2, 0.9)
    solid = Manifold.sphere(30.0, 400).trim_by_plane([0.0, 0.0, 1.0], 0.0)
    assert solid.num_tri() > 40_000
    mesh = standing(as_mesh(solid), direction)
    found = search_pull(mesh, directions=100)
    assert found.coarse_faces < mesh.face_count / 1.4
    assert between_deg(found.direction, direction) < 0.01
    assert found.candidates[0].trapped_area_mm2 < 1e-3 * found.candidates[0].footprint_mm2


def test_estimates_are_near_the_exact_figures() -> None:
    """A ball on a thick stem: along +Z the lower half and the stem are trapped."""
    solid = Manifold.sphere(20.0, 300).translate([0, 0, 40]) + Manifold.cylinder(40.0, 8.0, 8.0, 100)
    mesh = as_mesh(solid.refine(2) if solid.num_tri() < 30_000 else solid)
    figures = []
    for confirm in (0, 1):
        found = search_pull(mesh, cone_deg=0.0, directions=1, keep=1, confirm=confirm)
        assert found.candidates[0].confirmed == bool(confirm)
        figures.append(found.candidates[0])
    assert figures[0].trapped_area_mm2 == pytest.approx(figures[1].trapped_area_mm2, rel=0.04)
    assert figures[0].height_mm == pytest.approx(figures[1].height_mm, rel=1e-9)
    assert figures[0].footprint_mm2 == pytest.approx(figures[1].footprint_mm2, rel=0.03)
    reach = find_trapped(mesh, floor_z=1e-4)
    assert figures[1].trapped_area_mm2 == pytest.approx(area_of(mesh.vertices, mesh.faces, reach.trapped))


def test_candidates_are_apart_and_in_order() -> None:
    mesh = as_mesh(
        Manifold.cube([60.0, 40.0, 20.0], True) + Manifold.sphere(14.0, 40).translate([20, 10, 12])
    )
    found = search_pull(mesh, directions=120, keep=10)
    ways = [candidate.direction for candidate in found.candidates]
    assert len(ways) == 10
    apart = [between_deg(a, b) for k, a in enumerate(ways) for b in ways[:k]]
    assert 5.0 <= min(apart) < 7.0, "others may be as near as that"
    assert [candidate.confirmed for candidate in found.candidates] == [True] * 3 + [False] * 7
    rest = [candidate.trapped_area_mm2 for candidate in found.candidates[3:]]
    assert all(b >= a - max(found.tie_mm2, 0.01 * a) for a, b in pairwise(rest))
    assert between_deg(ways[0], (0, 0, 1)) < 0.01
    assert found.tried >= 120


def test_ties_go_to_the_lowest_then_the_widest() -> None:
    """A brick stands free on each of its faces; flat on the broad one it is lowest."""
    found = search_pull(as_mesh(Manifold.cube([60.0, 40.0, 15.0], True)), directions=50)
    assert between_deg(found.direction, (0, 0, 1)) < 0.01
    heights = [candidate.height_mm for candidate in found.candidates if candidate.trapped_area_mm2 == 0.0]
    assert heights == sorted(heights)
    assert heights[:1] == [pytest.approx(15.0)]


def test_the_cone_is_kept() -> None:
    mesh = standing(dome(), (1, 0, 0))
    for about, cone in [((0, 0, 1), 40.0), ((0, 1, 1), 25.0), ((0, 0, -1), 10.0)]:
        found = search_pull(mesh, directions=40, cone_deg=cone, about=about, confirm=1)
        assert all(between_deg(c.direction, about) <= cone + 1e-6 for c in found.candidates)
    assert between_deg(search_pull(mesh, cone_deg=120.0, directions=60).direction, (1, 0, 0)) < 0.01


def test_sinking_a_ball_to_its_widest_frees_it() -> None:
    mesh = as_mesh(Manifold.sphere(20.0, 64))
    whole = search_pull(mesh, cone_deg=0.0, directions=1).candidates[0]
    half = search_pull(mesh, cone_deg=0.0, directions=1, sink_mm=20.0).candidates[0]
    called = search_pull(
        mesh, cone_deg=0.0, directions=1, sink_mm=lambda turned: turned.size[2] / 2
    ).candidates[0]
    area = area_of(mesh.vertices, mesh.faces, np.ones(mesh.face_count, bool))
    assert whole.trapped_area_mm2 == pytest.approx(area / 2, rel=1e-3)
    assert half.trapped_area_mm2 == called.trapped_area_mm2 == 0.0
    assert half.height_mm == called.height_mm == pytest.approx(20.0)


@settings(max_examples=60, deadline=None)
@given(coordinates, coordinates, coordinates)
def test_frames_are_rotations(x: float, y: float, z: float) -> None:
    way = np.array([x, y, z])
    length = float(np.linalg.norm(way))
    if length < 1e-6:
        return
    frame = frame_for(way)
    assert np.allclose(frame @ way, [0.0, 0.0, length], atol=1e-7 * length)
    assert np.allclose(frame @ frame.T, np.eye(3), atol=1e-7)
    assert np.linalg.det(frame) == pytest.approx(1.0, abs=1e-7)
    # no roll: what is square to both the pull and +Z stays where it is
    hinge = np.cross(way, [0.0, 0.0, 1.0])
    assert np.allclose(frame @ hinge, hinge, atol=1e-6 * length)


def test_frames_of_the_axes() -> None:
    assert np.array_equal(frame_for((0, 0, 5)), np.eye(3))
    assert np.array_equal(frame_for((0, 0, -2)), np.diag([1.0, -1.0, -1.0]))
    assert np.allclose(frame_for((1, 0, 0)) @ [1, 0, 0], [0, 0, 1])


def test_the_search_repeats_itself() -> None:
    mesh = standing(dome(30), (0.2, 0.5, 0.7))
    assert search_pull(mesh, directions=40) == search_pull(mesh, directions=40)


def test_progress_rises_to_the_end_and_can_stop_it() -> None:
    told: list[float] = []
    search_pull(wedge(), directions=30, tick=told.append)
    assert told == sorted(told)
    assert 0.0 < told[0] < told[-1] <= 1.0

    def stop(_: float) -> None:
        raise Cancelled("asked to stop")

    with pytest.raises(Cancelled):
        search_pull(wedge(), directions=30, tick=stop)


def test_nothing_to_search() -> None:
    empty = Mesh.from_arrays(np.zeros((0, 3)), np.zeros((0, 3), int))
    line = Mesh.from_arrays([[0, 0, 0], [1, 0, 0], [2, 0, 0]], [[0, 1, 2]])
    for mesh in (empty, line):
        with pytest.raises(InputError, match="no faces with area"):
            search_pull(mesh)


def test_an_open_relief_and_a_single_face() -> None:
    one = Mesh.from_arrays([[0, 0, 0], [10, 0, 0], [0, 10, 0]], [[0, 1, 2]])
    found = search_pull(one, directions=20)
    assert found.candidates[0].trapped_area_mm2 == 0.0
    n = 12
    x, y = np.meshgrid(np.arange(n + 1.0), np.arange(n + 1.0), indexing="ij")
    points = np.column_stack([x.ravel(), y.ravel(), (2 * np.sin(x) * np.cos(y)).ravel()])
    q = (np.arange(n)[:, None] * (n + 1) + np.arange(n)).ravel()
    faces = np.concatenate(
        [np.column_stack([q, q + n + 1, q + n + 2]), np.column_stack([q, q + n + 2, q + 1])]
    )
    relief = search_pull(Mesh.from_arrays(points, faces), directions=80)
    assert relief.candidates[0].trapped_area_mm2 == 0.0


@pytest.mark.parametrize(
    "wrong",
    [{"cone_deg": 181.0}, {"cone_deg": -1.0}, {"directions": 0}, {"keep": 0}, {"confirm": -1}],
)
def test_settings_out_of_range(wrong: dict[str, int]) -> None:
    with pytest.raises(InputError, match="cone"):
        search_pull(wedge(), **wrong)  # type: ignore[arg-type]


@pytest.mark.parametrize("about", [(0, 0, 0), (1, 2), (math.nan, 0, 1)])
def test_directions_must_point_somewhere(about: tuple[float, ...]) -> None:
    with pytest.raises(InputError, match="direction"):
        search_pull(wedge(), about=about)


def test_record_has_the_keys_of_the_report() -> None:
    found = search_pull(wedge(), directions=30)
    record = found.to_dict()
    assert record["direction"] == list(found.direction) == record["candidates"][0]["direction"]
    assert len(record["candidates"]) == len(found.candidates)
    assert record["candidates"][0].keys() >= {"trapped_area_mm2", "height_mm", "footprint_mm2"}
