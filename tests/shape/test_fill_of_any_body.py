"""Fills of blobs and solids made by chance: walls have their draft, nothing holds the sheet, few faces."""

from types import SimpleNamespace

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold
from pytest import approx

from buckwright.mesh.crossings import find_crossings
from buckwright.mesh.splitting import cut_faces
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.shape.fill.cones import ConeField
from buckwright.shape.fill.draft_fill import Fill, fill_draft
from buckwright.shape.fill.plan_cells import CellSizes
from buckwright.shape.fill.rims import find_rims
from buckwright.shape.solid import as_mesh, as_solid, faces_of, single_body
from buckwright.survey.draft import draft_deg
from buckwright.survey.verdict.judging import Verdict, judge_buck, survey_buck

WALL = 3.0
LIMITS = SimpleNamespace(low=0.01, high=0.03, source="made up", mark="judgement")


def on_foot(solid: Manifold, height: float) -> Mesh:
    """The largest piece above a height, standing on z = 0."""
    rest = solid.trim_by_plane((0, 0, 1), height).translate((0, 0, -height))
    return as_mesh(max(rest.decompose(), key=lambda piece: piece.volume()))


def blob(seed: int, *, level: int = 5) -> Mesh:
    """A ball of 40 mm with six waves over it, cut off below."""
    rng = np.random.default_rng(seed)
    ball = trimesh.creation.icosphere(level, radius=1.0)
    radius = np.ones(len(ball.vertices))
    for _ in range(6):
        wave = rng.normal(size=3) * 3.0
        radius += rng.uniform(0.03, 0.14) * np.sin(ball.vertices @ wave + rng.uniform(0.0, 6.28))
    solid = as_solid(Mesh.from_arrays(ball.vertices * radius[:, None] * 20.0, ball.faces))
    return on_foot(solid, solid.bounding_box()[2] + rng.uniform(0.0, 10.0))


def _block(rng: np.random.Generator, size: float) -> Manifold:
    """A box, a cylinder or cone, or a ball, often turned."""
    sides = rng.uniform(0.4, 1.0, 3) * size
    kind = rng.integers(3)
    if kind == 0:
        body = Manifold.cube(sides, True)
    elif kind == 1:
        top = rng.choice([0.25, 0.5]) * sides[0]
        body = Manifold.cylinder(sides[2], sides[0] / 2, top, int(rng.integers(12, 40)), True)
    else:
        body = Manifold.sphere(sides[0] / 2, int(rng.integers(16, 48)))
    return body.rotate(rng.uniform(-90, 90, 3) if rng.random() < 0.6 else (0, 0, 90 * rng.integers(4)))


def random_solid(seed: int) -> Mesh:
    """Unions and differences of a few blocks, cut off below."""
    rng = np.random.default_rng(1000 + seed)
    body = _block(rng, 40.0)
    for _ in range(int(rng.integers(2, 5))):
        part = _block(rng, 24.0).translate(rng.uniform(-14, 14, 3))
        body = body + part if rng.random() < 0.65 else body - part
    box = body.bounding_box()
    return on_foot(body, box[2] + rng.uniform(0.0, 0.3) * (box[5] - box[2]))


def post_under_a_board() -> Mesh:
    """A wall whose upper edge runs half under a board: the middle of the edge is hidden."""
    foot = Manifold.cube((60, 40, 4))
    wall = Manifold.cube((50, 12, 20)).translate((5, 14, 3))
    board = Manifold.cube((30, 34, 3)).translate((3, 3, 27)) + Manifold.cube((8, 8, 26)).translate(
        (10, 16, 2)
    )
    return as_mesh(foot + wall + board)


def filled(mesh: Mesh) -> Fill:
    cell = max(float(mesh.size[:2].max()) / 350.0, 0.2)
    sizes = CellSizes(cell_mm=cell, wall_cell_mm=cell / 2.0, rim_cell_mm=cell / 4.0)
    return fill_draft(mesh, Columns(mesh), draft_deg(mesh), wall_deg=WALL, settings=sizes)


def judged(fill: Fill) -> Verdict:
    body = single_body(fill.solid, sliver_mm3=1.0)[0]
    held = survey_buck(as_mesh(body), wanted_deg=WALL, sheet_mm=1.0, allowable=LIMITS)
    return judge_buck(held, sheet_mm=1.0, allowable=LIMITS)


def share_with_draft(fill: Fill) -> float:
    """Share of the fill's area above the foot that has the wanted draft less half a degree."""
    mesh = as_mesh(fill.solid)
    area = np.linalg.norm(mesh.area_vectors(), axis=1)
    of_fill = faces_of(fill.solid, fill.mark) & (mesh.corners()[:, :, 2].max(axis=1) > 1e-4)
    enough = of_fill & (draft_deg(mesh) >= WALL - 0.5)
    return float(area[enough].sum() / area[of_fill].sum())


BODIES = {f"blob {seed}": (blob, seed) for seed in (6, 14, 26)} | {
    f"solid {seed}": (random_solid, seed) for seed in (4, 6, 13, 22)
}


@pytest.mark.parametrize("name", BODIES)
def test_walls_have_their_draft_and_the_part_releases(name):
    make, seed = BODIES[name]
    fill = filled(make(seed))
    verdict = judged(fill)
    assert share_with_draft(fill) >= 0.98
    assert verdict.release.locked == 0
    assert verdict.release.widest_mm <= 0.1
    assert verdict.short.share <= 0.005


@pytest.mark.parametrize("make", [post_under_a_board, lambda: random_solid(4), lambda: random_solid(6)])
def test_coarse_and_fine_triangles_get_the_same_fill(make):
    coarse = make()
    fine, _ = cut_faces(coarse, np.ones(coarse.face_count, bool), over_mm=1.0)
    assert fine.face_count > 8 * coarse.face_count
    one, other = filled(coarse), filled(fine)
    assert other.added_volume_mm3 == approx(one.added_volume_mm3, rel=0.01)
    for fill in (one, other):
        assert judged(fill).short.area_mm2 < 2.0


def test_an_edge_with_a_hidden_middle_gets_its_wall():
    mesh = post_under_a_board()
    verdict = judged(filled(mesh))
    assert verdict.short.places == ()
    assert verdict.release.widest_mm <= 0.1


def test_fill_is_light_and_within_its_bounds():
    """A blob as fine as a scan; its rims tell where the walls should be."""
    mesh = blob(1, level=6)
    fill = filled(mesh)
    buck = as_mesh(fill.solid)
    assert buck.face_count <= 1.4 * mesh.face_count
    assert find_crossings(buck).count == 0
    wall = faces_of(fill.solid, fill.mark)
    points = buck.centroids()[wall]
    points = points[(points[:, 2] > 0.05) & Columns(buck).clear(points + np.array([0.0, 0.0, 1e-3]))]
    columns = Columns(mesh)
    rims = find_rims(
        mesh, columns, draft_deg(mesh), enough_deg=WALL, wall_deg=WALL, tolerance_mm=fill.tolerance_mm
    )
    field = ConeField(rims.segments, draft_deg=WALL)
    exact = np.maximum(field.evaluate(points)[0], columns.top(points)[0])
    sideways = (points[:, 2] - exact) / np.sqrt(1.0 + field.steepness**2)
    assert np.quantile(np.abs(sideways), 0.995) <= 0.01
    assert np.abs(sideways).max() <= 0.03
