"""The cavity of a hollow buck: the wall is kept everywhere, the outside stays, nothing is shut off."""

import igl
import numpy as np
import pytest
from manifold3d import CrossSection, Manifold, OpType

from buckwright.relief.columns import Columns
from buckwright.shape.hollow.cavity import Kept, plan_cavity, rib_places
from buckwright.shape.hollow.findings import about_hollow
from buckwright.shape.solid import as_mesh

NOTHING = Kept((), CrossSection())


def dome():
    return Manifold.sphere(45.0, 96).trim_by_plane((0.0, 0.0, 1.0), 0.0)


def stepped():
    """A tower on a low board."""
    board = Manifold.cube((120.0, 90.0, 7.0)).translate((-60.0, -45.0, 0.0))
    return board + Manifold.cylinder(50.0, 28.0, 22.0, 64)


def planned(solid, kept=NOTHING, *, wall_mm=4.0, rib_mm=2.0, spacing_mm=0.0):
    return plan_cavity(Columns(as_mesh(solid)), kept, wall_mm=wall_mm, rib_mm=rib_mm, spacing_mm=spacing_mm)


def bore(x, y, tall, radius=2.0):
    z = np.arange(0.0, tall, 0.5)
    return np.column_stack([np.full(len(z), x), np.full(len(z), y), z, np.full(len(z), radius)])


@pytest.mark.parametrize("shape", [dome, stepped])
@pytest.mark.parametrize("wall", [3.0, 6.0])
def test_the_wall_is_kept_everywhere(shape, wall):
    solid = shape()
    cavity = planned(solid, wall_mm=wall).solid.trim_by_plane((0.0, 0.0, 1.0), 0.2)
    mesh = as_mesh(cavity)
    outside = as_mesh(solid)
    # the platen side is open on purpose: only the skin counts
    skin = outside.faces[outside.centroids()[:, 2] > 1e-6].astype(np.int64)
    squared = igl.point_mesh_squared_distance(mesh.vertices, outside.vertices, skin)[0]
    assert np.sqrt(squared.min()) >= wall - 0.03
    # and not much thicker than it must be, where nothing stands in the way
    top = mesh.vertices[mesh.vertices[:, 2].argmax()]
    assert solid.bounding_box()[5] - top[2] <= wall + 1.9


@pytest.mark.parametrize("shape", [dome, stepped])
def test_the_outside_stays(shape):
    solid = shape()
    cavity = planned(solid, spacing_mm=25.0)
    hollow = solid - cavity.solid
    grid = np.stack(np.meshgrid(np.linspace(-44, 44, 61), np.linspace(-44, 44, 61)), -1).reshape(-1, 2)
    before, after = (Columns(as_mesh(one)).top(grid)[0] for one in (solid, hollow))
    finite = np.isfinite(before)
    assert np.array_equal(finite, np.isfinite(after))
    assert np.abs(before[finite] - after[finite]).max() < 1e-6
    assert len([body for body in hollow.decompose() if abs(body.volume()) > 1e-3]) == 1
    assert hollow.volume() == pytest.approx(solid.volume() - cavity.volume_mm3, rel=1e-6)


def test_a_block_keeps_what_geometry_says():
    # block 80 x 60 x 40, wall 4: at most 72 x 52 x 36 is left out; the raster may keep two pixels more a side
    block = Manifold.cube((80.0, 60.0, 40.0))
    left_out = planned(block).volume_mm3
    assert 68.0 * 48.0 * 34.4 < left_out <= 72.0 * 52.0 * 36.0 + 1e-6


def test_no_cell_is_shut_off():
    solid = Manifold.cube((100.0, 80.0, 40.0))
    cavity = planned(solid, spacing_mm=25.0)
    assert cavity.spacing_mm == 25.0
    inside = cavity.solid.trim_by_plane((0.0, 0.0, 1.0), 0.1)
    assert len([body for body in inside.decompose() if body.volume() > 1.0]) == 1
    plain = planned(solid)
    assert cavity.volume_mm3 < plain.volume_mm3
    # without the notches the ribs part it into cells
    above = cavity.solid.trim_by_plane((0.0, 0.0, 1.0), 5.0)
    assert len(above.decompose()) == 4 * 3


@pytest.mark.parametrize(
    ("low", "high", "spacing"), [(0.0, 100.0, 30.0), (-7.0, 9.0, 30.0), (0.0, 60.0, 20.0)]
)
def test_ribs_are_never_farther_apart_than_wanted(low, high, spacing):
    places = np.concatenate([[low], rib_places(low, high, spacing), [high]])
    assert (np.diff(places) <= spacing + 1e-9).all()
    assert np.ptp(np.diff(places)) < 1e-9


def test_vents_fixings_and_letters_keep_their_walls():
    solid = Manifold.cube((100.0, 80.0, 40.0)).translate((-50.0, -40.0, 0.0))
    lean = np.array(
        [(15.0, 0.0, 35.0, 1.5), (20.0, 0.0, 25.0, 1.5), (25.0, 0.0, 15.0, 1.5), (25.0, 0.0, 0.0, 1.5)]
    )
    letters = CrossSection.square((30.0, 8.0), True).translate((0.0, -25.0))
    kept = Kept([bore(-20.0, 10.0, 40.0), lean], letters)
    cavity = planned(solid, kept, spacing_mm=30.0).solid
    for beads in kept.beads:
        for x, y, z, radius in beads:
            ball = Manifold.sphere(radius + 3.8, 32).translate((float(x), float(y), float(z)))
            assert (ball ^ cavity).volume() < 1e-6
    pad = letters.offset(3.5).extrude(30.0)
    assert (pad ^ cavity).volume() < 1e-6


def test_too_flat_stays_solid():
    assert planned(Manifold.cube((100.0, 80.0, 8.0))) is None
    (told,) = about_hollow(found=False, wall_mm=4.0)
    assert told.slug == "nothing-to-hollow" and "4 mm" in told.words
    assert about_hollow(found=True, wall_mm=4.0) == []


def test_the_cavity_is_one_open_pocket_under_each_hill():
    two = [Manifold.cylinder(40.0, 20.0, 16.0, 64).translate((x, 0.0, 0.0)) for x in (-40.0, 40.0)]
    board = Manifold.cube((140.0, 50.0, 6.0)).translate((-70.0, -25.0, 0.0))
    cavity = planned(Manifold.batch_boolean([board, *two], OpType.Add)).solid
    assert len(cavity.decompose()) == 2
    assert cavity.slice(0.01).area() == pytest.approx(2.0 * np.pi * 14.8**2, rel=0.12)
