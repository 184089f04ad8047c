"""The meshed solid under the envelope: closed, close to the cones, never over bare sculpt."""

import numpy as np
import pytest
from manifold3d import Manifold

from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.shape.fill.cones import ConeField
from buckwright.shape.fill.envelope_solid import CellSizes, EnvelopeSolid, build_envelope_solid
from buckwright.shape.fill.rims import find_rims
from buckwright.shape.solid import as_mesh, as_solid
from buckwright.survey.draft import draft_deg

WALL = 5.0


def built(body: Manifold, wanted: np.ndarray | None = None, **how) -> tuple[Mesh, ConeField, EnvelopeSolid]:
    mesh = as_mesh(body)
    columns = Columns(mesh)
    rims = find_rims(
        mesh,
        columns,
        draft_deg(mesh),
        enough_deg=WALL,
        wall_deg=WALL,
        tolerance_mm=0.02,
        wanted_faces=wanted,
    )
    field = ConeField(rims.segments, draft_deg=WALL)
    return (
        mesh,
        field,
        build_envelope_solid(field, rims, columns, settings=CellSizes(**how), wanted_faces=wanted),
    )


def lollipop() -> Manifold:
    return Manifold.cylinder(15, 4, 3, 48) + Manifold.sphere(10, 48).scale((1, 0.8, 0.6)).translate(
        (1, 2, 18)
    )


def two_towers() -> Manifold:
    """Walls of fill from different heights meet between them; a creased envelope."""
    return Manifold.cylinder(25, 5, 6, 64).translate((-8, 0, 0)) + Manifold.cylinder(14, 6, 7, 64).translate(
        (9, 1, 0)
    )


def plinth() -> Manifold:
    """A lollipop on a wide flat plate, where most of the sculpt is bare."""
    return Manifold.cylinder(3, 30, 28, 96) + lollipop().translate((0, 0, 2.5))


BODIES = {"lollipop": lollipop, "two towers": two_towers, "plinth": plinth}


@pytest.mark.parametrize("name", BODIES)
def test_is_a_closed_solid_that_reaches_below_the_ground(name):
    _, _, patch = built(BODIES[name]())
    solid = as_solid(patch.mesh)
    assert solid.volume() > 0.0
    assert patch.mesh.bounds[0, 2] < -1.0
    assert len(np.unique(patch.mesh.faces)) == patch.mesh.vertex_count, "no loose vertices"
    # a plan triangulation: every column goes in and out once
    up = patch.mesh.area_vectors()[:, 2]
    assert up[up > 0].sum() == pytest.approx(-up[up < 0].sum())


@pytest.mark.parametrize("name", BODIES)
def test_walls_follow_the_cones(name):
    """Sideways error at random points of the walls, not only at nodes; the allowed bend is 0.008 mm."""
    mesh, field, patch = built(BODIES[name]())
    rng = np.random.default_rng(0)
    low, high = mesh.bounds
    points = rng.uniform(low[:2] - 3, high[:2] + 3, (60_000, 2))
    envelope, _ = field.evaluate(points)
    top, _ = Columns(mesh).top(points)
    standing, _ = Columns(patch.mesh).top(points)
    wall = (envelope > np.maximum(top, 0.0) + 0.2) & np.isfinite(standing)
    assert wall.sum() > 1000
    error = np.abs(standing - envelope)[wall] / field.steepness
    assert np.quantile(error, 0.999) <= 0.008
    assert error.max() <= 0.02  # beside creases of the envelope, in cells that may not be halved again


@pytest.mark.parametrize("name", BODIES)
def test_bare_vertices_stay_on_top(name):
    mesh, field, patch = built(BODIES[name]())
    points = mesh.vertices[mesh.vertices[:, 2] > 0.0]
    envelope, _ = field.evaluate(points)
    points = points[Columns(mesh).clear(points) & (envelope <= points[:, 2] + 1e-9)]
    assert len(points) > 100
    standing, _ = Columns(patch.mesh).top(points)
    assert (standing < points[:, 2]).all()


def test_voids_lie_under_the_patch():
    """Wherever there is air under the sculpt, the patch reaches up into the layer that covers it."""
    mesh, field, patch = built(lollipop())
    points = np.random.default_rng(1).uniform(-9, 9, (20_000, 2))
    columns = Columns(mesh)
    top, _ = columns.top(points)
    under, _ = columns.below(np.column_stack([points, top]))
    hit = np.isfinite(under)
    points, top, under = points[hit], top[hit], under[hit]
    void = (under > 0.1) & (top - under > 0.5)
    assert void.sum() > 3000
    standing, _ = Columns(patch.mesh).top(points[void])
    assert (standing > under[void]).all()
    envelope, _ = field.evaluate(points[void])
    assert (standing < np.maximum(top[void], envelope + 0.05)).all()


def test_cells_tell_where_the_fill_is():
    mesh, field, patch = built(lollipop())
    assert (patch.cells[:, 3] > 0.0).all()
    envelope, _ = field.evaluate(patch.cells[:, :2])
    top, _ = Columns(mesh).top(patch.cells[:, :2])
    np.testing.assert_allclose(patch.cells[:, 3], envelope - np.maximum(top, 0.0), atol=1e-9)
    line = np.arange(-14.0, 14.0, 0.05)
    points = np.stack(np.meshgrid(line, line), axis=-1).reshape(-1, 2)
    envelope, _ = field.evaluate(points)
    top, _ = Columns(mesh).top(points)
    area = (envelope > np.maximum(top, 0.0)).sum() * 0.05**2
    assert (patch.cells[:, 2] ** 2).sum() == pytest.approx(area, rel=0.02)


def test_nothing_to_fill():
    _, _, patch = built(Manifold.cylinder(20, 15, 10, 64))
    assert patch.mesh is None
    assert patch.cells.shape == (0, 4)


def test_only_under_wanted_faces():
    body = lollipop().translate((-20, 0, 0)) + lollipop().translate((20, 0, 0))
    mesh = as_mesh(body)
    _, _, patch = built(body, mesh.centroids()[:, 0] > 0.0)
    assert patch.mesh is not None
    assert patch.mesh.bounds[0, 0] > -5.0


def test_finer_cells_make_straighter_walls():
    errors = []
    for cell, bend in ((1.6, 0.03), (0.4, 0.002)):
        _, field, patch = built(
            lollipop(), cell_mm=cell, wall_cell_mm=cell / 2, rim_cell_mm=cell / 4, bend_mm=(bend, bend)
        )
        points = np.random.default_rng(2).uniform(-12, 12, (40_000, 2))
        envelope, _ = field.evaluate(points)
        standing, _ = Columns(patch.mesh).top(points)
        wall = (
            (envelope > 0.2) & (np.hypot(points[:, 0] - 1, points[:, 1] - 2) > 10.0) & np.isfinite(standing)
        )
        errors.append(float(np.sqrt(np.mean((standing - envelope)[wall] ** 2))) / field.steepness)
    assert errors[1] < errors[0] / 4.0
