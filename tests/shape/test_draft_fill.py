"""Fills of whole bodies: what each mode does, what stays, and that nothing holds the sheet afterwards."""

import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, Manifold
from pytest import approx
from scipy.spatial import cKDTree

from buckwright.errors import InputError, SolidError
from buckwright.mesh.adjacency import edge_table
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.relief.raster import relief_of
from buckwright.shape.fill.cones import ConeField
from buckwright.shape.fill.draft_fill import Fill, fill_draft
from buckwright.shape.fill.envelope_solid import CellSizes
from buckwright.shape.solid import as_mesh, as_solid, faces_of, single_body
from buckwright.survey.draft import draft_deg
from buckwright.survey.sideways import sideways_mm
from buckwright.survey.undercut import find_trapped

WALL = 5.0


def cells(mm: float, *, bend: float = 1.0) -> CellSizes:
    bends = (0.003 * bend, 0.008 * bend)
    return CellSizes(cell_mm=mm, wall_cell_mm=mm / 2, rim_cell_mm=mm / 4, bend_mm=bends)


def filled(body: Manifold | Mesh, **how) -> Fill:
    mesh = body if isinstance(body, Mesh) else as_mesh(body)
    how = {"wall_deg": WALL, "settings": cells(0.8)} | how
    return fill_draft(mesh, Columns(mesh), draft_deg(mesh), **how)


def finished(fill: Fill) -> Manifold:
    """The solid as `make` takes it over: one piece, closed cavities and crumbs dropped."""
    return single_body(fill.solid, sliver_mm3=1.0)[0]


def sideways_needed(mesh: Mesh) -> np.ndarray:
    """A fresh survey of every face, mm; a step of 0.02 mm, a tenth of a print layer, holds no sheet."""
    columns = Columns(mesh)
    relief = relief_of(mesh, pixel_mm=float(mesh.size[:2].max()) / 1000)
    reach = find_trapped(mesh, columns, floor_z=1e-4)
    return sideways_mm(mesh, reach, columns, relief, give_mm=0.02)


def sideways_left(solid: Manifold) -> float:
    return float(sideways_needed(as_mesh(solid)).max())


def held_area_mm2(solid: Manifold, *, over_mm: float) -> float:
    """Area of all faces that the sheet passes only by moving sideways farther than `over_mm`."""
    mesh = as_mesh(solid)
    held = sideways_needed(mesh) > over_mm
    return float(np.linalg.norm(mesh.area_vectors()[held], axis=1).sum())


def free_vertices(mesh: Mesh, wall_deg: float) -> np.ndarray:
    """Vertices of faces with draft enough over which neither sculpt nor any cone of any edge rises."""
    chosen = np.unique(mesh.faces[draft_deg(mesh) >= wall_deg])
    points = mesh.vertices[chosen]
    points = points[Columns(mesh).clear(points) & (points[:, 2] > 1e-6)]
    every_edge = ConeField(mesh.vertices[edge_table(mesh.faces).edges].reshape(-1, 6), draft_deg=wall_deg)
    envelope, _ = every_edge.evaluate(points)
    return points[envelope <= points[:, 2] + 1e-9]


def moved_mm(points: np.ndarray, solid: Manifold) -> float:
    return float(cKDTree(as_mesh(solid).vertices).query(points)[0].max())


def wall_share(fill: Fill, within_deg: float) -> float:
    """Share of the area of the fill's own walls, above the foot, that holds the wanted draft."""
    mesh = as_mesh(fill.solid)
    drafts, area = draft_deg(mesh), np.linalg.norm(mesh.area_vectors(), axis=1)
    above = mesh.corners()[:, :, 2].max(axis=1) > 1e-4
    wall = faces_of(fill.solid, fill.mark) & above & (drafts < 89.0)
    held = wall & (np.abs(drafts - fill.wall_deg) <= within_deg)
    return float(area[held].sum() / area[wall].sum())


def ball(radius: float = 12.0, sides: int = 64) -> Manifold:
    return Manifold.sphere(radius, sides).translate((0, 0, radius))


def mushroom() -> Manifold:
    stem = Manifold.cylinder(15, 4, 3, 48)
    return stem + Manifold.sphere(11, 48).scale((1, 0.8, 0.6)).translate((1, 2, 18))


def post_and_plate() -> Manifold:
    """A flat foot, a leaning post on it and a plate that hangs over."""
    foot = Manifold.cylinder(3, 20, 18, 64)
    post = Manifold.cylinder(18, 3, 2.5, 32).translate((-6, 0, 2))
    return foot + post + Manifold.cylinder(3, 9, 8, 64).translate((-4, 0, 19))


def two_hooks() -> tuple[Manifold, Manifold]:
    """A block with draft and two plates over its sides."""
    block = Manifold.hull_points(
        [(x * s, y * s, z) for z, s in ((0, 15), (20, 12)) for x in (-1, 1) for y in (-1, 1)]
    )
    plate = Manifold.hull_points(
        [(x, y * s, z) for z, s in ((12, 5), (14, 4)) for x in (12, 22 if z == 12 else 21) for y in (-1, 1)]
    )
    return block, plate


BODIES = {"ball": ball, "mushroom": mushroom, "post and plate": post_and_plate}


@pytest.mark.parametrize("name", BODIES)
@pytest.mark.parametrize("wall_deg", [3.0, 8.0])
def test_full_fill_frees_everything(name, wall_deg):
    body = BODIES[name]()
    fill = filled(body, wall_deg=wall_deg)
    whole = finished(fill)
    assert whole.genus() == 0
    assert fill.added_volume_mm3 > 0.0
    assert fill.solid.volume() == approx(body.volume() + fill.added_volume_mm3)
    assert (body - whole).volume() < 1e-6, "the sculpt is all there"
    assert sideways_left(body) > 3.0
    assert sideways_left(whole) <= 0.1


@pytest.mark.parametrize("name", BODIES)
def test_free_vertices_stay_where_they_were(name):
    body = BODIES[name]()
    points = free_vertices(as_mesh(body), WALL)
    assert len(points) > 50
    assert moved_mm(points, finished(filled(body))) <= 1e-4


def test_nothing_is_added_beyond_the_cones():
    """The fill lies under the envelope of the whole sculpt, walls by no more than their allowed bend."""
    mesh = as_mesh(post_and_plate())
    fill = filled(mesh)
    field = ConeField(mesh.vertices[edge_table(mesh.faces).edges].reshape(-1, 6), draft_deg=WALL)
    points = as_mesh(finished(fill)).vertices
    envelope, _ = field.evaluate(points)
    top, _ = Columns(mesh).top(points)
    over = points[:, 2] - np.maximum(np.maximum(envelope, top), 0.0)
    assert (over / field.steepness).max() < 0.008


def test_mode_none_gives_the_sculpt_back():
    body = mushroom()
    fill = filled(body, mode="none", solid=body)
    assert fill.solid is body
    assert fill.added_volume_mm3 == 0.0 and fill.mark == -1 and not len(fill.cells)


def test_keep_tight_leaves_upright_sides_alone():
    box = Manifold.cube((30, 20, 25)).translate((-15, -10, 0))
    kept = filled(box, keep_tight=True)
    assert kept.added_volume_mm3 == 0.0
    assert as_mesh(kept.solid).face_count == 12
    assert filled(box).added_volume_mm3 > 2000.0


def test_keep_tight_still_fills_under_an_upright_rim():
    body = Manifold.cylinder(10, 3, 3, 48) + Manifold.cylinder(5, 9, 9, 48).translate((0, 0, 9.5))
    kept = finished(filled(body, keep_tight=True))
    assert sideways_left(kept) <= 0.02
    drafts = draft_deg(as_mesh(kept))
    assert (np.abs(drafts) < 0.01).sum() >= 96, "the cap's upright side stays"


def test_mode_locked_fills_under_the_chosen_faces_only():
    block, plate = two_hooks()
    other = plate.rotate((0, 0, 180))
    body = block + plate + other
    mesh = as_mesh(body)
    right = mesh.centroids()[:, 0] > 0.0
    fill = filled(mesh, mode="locked", locked_faces=right & (draft_deg(mesh) < -1.0))
    grown = fill.solid - body
    assert grown.volume() > 300.0
    assert grown.bounding_box()[0] > 0.0, "nothing grows on the left"
    half = filled(mesh, mode="locked", locked_faces=draft_deg(mesh) < -1.0)
    assert half.added_volume_mm3 == approx(2 * fill.added_volume_mm3, rel=1e-3)
    # full also gives draft to the thin edges of the plates, locked does not need to
    assert filled(mesh).added_volume_mm3 >= half.added_volume_mm3 * (1 - 1e-3)


def test_locked_without_locked_faces_adds_nothing():
    mesh = as_mesh(mushroom())
    fill = filled(mesh, mode="locked", locked_faces=np.zeros(mesh.face_count, bool))
    assert fill.added_volume_mm3 == 0.0


def test_a_body_with_draft_enough_is_left_alone():
    body = Manifold.cylinder(20, 15, 10, 64)
    fill = filled(body)
    assert fill.added_volume_mm3 == 0.0 and fill.mark == -1
    assert moved_mm(as_mesh(body).vertices, fill.solid) == 0.0


@pytest.mark.parametrize(("noise_mm", "fills"), [(0.004, False), (0.1, True)])
def test_noise_under_the_tolerance_makes_no_fill(noise_mm, fills):
    """Turned grooves on a slope of 8 degrees, some faces too steep: how far they recede decides."""
    z = np.arange(0.0, 20.01, 0.2)
    r = 12.0 - z * np.tan(np.radians(8.0)) + np.random.default_rng(0).normal(0, noise_mm, len(z))
    profile = CrossSection([[(0, 0), *zip(r, z, strict=True), (0, z[-1])]])
    body = Manifold.revolve(profile, 64)
    drafts = draft_deg(as_mesh(body))
    assert ((drafts < WALL) & (drafts > -89)).sum() > 100
    fill = filled(body, tolerance_mm=0.02)
    assert (fill.added_volume_mm3 > 0.0) == fills
    assert fill.gap_left_mm <= 0.02


def test_walls_come_nearer_with_finer_cells():
    body = mushroom()
    exact = filled(body, settings=cells(0.2, bend=0.2)).added_volume_mm3
    error = [
        abs(filled(body, settings=cells(mm, bend=mm / 0.4)).added_volume_mm3 - exact) for mm in (1.6, 0.4)
    ]
    assert error[1] < error[0] / 3.0


@settings(max_examples=12, deadline=None)
@given(
    angle=st.floats(0.0, 360.0),
    x=st.floats(-200.0, 200.0),
    y=st.floats(-200.0, 200.0),
    scale=st.sampled_from([0.25, 1.0, 3.0, 10.0]),
    seed=st.integers(0, 999),
)
def test_pose_size_and_order_of_the_faces_do_not_matter(angle, x, y, scale, seed):
    plain = filled(mushroom(), tolerance_mm=0.02)
    pose = mushroom().rotate((0, 0, angle)).scale((scale,) * 3).translate((x, y, 0))
    mesh = as_mesh(pose)
    order = np.random.default_rng(seed).permutation(mesh.face_count)
    wide = CellSizes(
        cell_mm=0.8 * scale,
        wall_cell_mm=0.4 * scale,
        rim_cell_mm=0.2 * scale,
        bend_mm=(0.003 * scale, 0.008 * scale),
        over_mm=0.02 * scale,
        sink_mm=1.5 * scale,
    )
    fill = filled(Mesh(mesh.vertices, mesh.faces[order]), settings=wide, tolerance_mm=0.02 * scale)
    assert fill.added_volume_mm3 == approx(plain.added_volume_mm3 * scale**3, rel=1e-3)
    assert finished(fill).genus() == 0


@pytest.mark.parametrize("wall_deg", [0.0, -3.0, 45.0, np.nan])
def test_draft_out_of_range(wall_deg):
    with pytest.raises(InputError, match="between 0 and 45"):
        filled(ball(), wall_deg=wall_deg)


def test_locked_needs_faces():
    with pytest.raises(InputError, match="locked"):
        filled(ball(), mode="locked")


def test_open_mesh_is_refused():
    mesh = as_mesh(ball())
    with pytest.raises(SolidError, match="not a closed solid"):
        filled(Mesh(mesh.vertices, mesh.faces[1:]))


def test_report():
    told = filled(mushroom()).to_dict()
    assert told["mode"] == "full" and told["wall_deg"] == WALL
    assert told["added_volume_mm3"] > 1000.0


@pytest.fixture(scope="module")
def faun() -> tuple[Mesh, Fill]:
    """The antlered faun of the samples at an eighth of its faces, face up, cut at its widest, 217 mm tall."""
    samples = str(Path(__file__).parents[2] / "sample_scenes")
    sys.path.insert(0, samples)
    try:
        from sculpts import antler_bust

        vertices, faces = antler_bust.sculpt(2.2)
    finally:
        sys.path.remove(samples)
    up = np.array([[1.0, 0, 0], [0, 0, 1.0], [0, -1.0, 0]])
    body = as_solid(Mesh.from_arrays(vertices @ up.T, faces))
    low, high = body.bounding_box()[2], body.bounding_box()[5]
    heights = np.linspace(low, high, 50)[1:-1]
    widest = float(max(heights, key=lambda z: body.slice(float(z)).area()))
    part = body.trim_by_plane((0.0, 0.0, 1.0), widest).translate((0.0, 0.0, -widest))
    mesh = as_mesh(part)
    # the default of the job: 350 cells across
    return mesh, filled(mesh, wall_deg=3.0, settings=cells(float(mesh.size[:2].max()) / 350.0), solid=part)


@pytest.mark.slow
class TestFaun:
    def test_comes_off(self, faun):
        mesh, fill = faun
        assert mesh.face_count > 100_000
        whole = finished(fill)
        assert len(whole.decompose()) == 1
        # Where two walls meet over a nick of a few um the union may leave a bridge of the same size.
        assert whole.genus() <= 3
        assert whole.volume() > as_solid(mesh).volume()
        # Nicks of a few um are left where sculpt and fill meet at random angles. Alone, each may be far from
        # open sky, but all of them together are smaller than a square of 0.1 mm.
        assert held_area_mm2(as_solid(mesh), over_mm=0.1) > 100.0
        assert held_area_mm2(whole, over_mm=0.1) < 0.01

    def test_walls_hold_their_draft(self, faun):
        assert wall_share(faun[1], 0.5) >= 0.98

    def test_free_vertices_stay(self, faun):
        mesh, fill = faun
        points = free_vertices(mesh, 3.0)
        assert len(points) > 20_000
        assert moved_mm(points, finished(fill)) <= 1e-4
