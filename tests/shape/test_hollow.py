"""The cavity of a hollow buck: the wall is kept everywhere, the outside stays, nothing is shut off."""

import igl
import numpy as np
import pytest
from manifold3d import CrossSection, Manifold, OpType

from buckwright.relief.columns import Columns
from buckwright.shape.hollow.cavity import Kept, plan_cavity, rib_places
from buckwright.shape.hollow.findings import about_cast, about_no_hollow
from buckwright.shape.hollow.openings import Ground, aired, floored, shut_off
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
    (told,) = about_no_hollow(4.0)
    assert told.slug == "nothing-to-hollow" and "4 mm" in told.words


def test_the_cavity_is_one_open_pocket_under_each_hill():
    two = [Manifold.cylinder(40.0, 20.0, 16.0, 64).translate((x, 0.0, 0.0)) for x in (-40.0, 40.0)]
    board = Manifold.cube((140.0, 50.0, 6.0)).translate((-70.0, -25.0, 0.0))
    cavity = planned(Manifold.batch_boolean([board, *two], OpType.Add)).solid
    assert len(cavity.decompose()) == 2
    assert cavity.slice(0.01).area() == pytest.approx(2.0 * np.pi * 14.8**2, rel=0.12)


def two_hills():
    """On one board, their cavities apart."""
    hills = [Manifold.cylinder(40.0, 24.0, 18.0, 64).translate((x, 0.0, 0.0)) for x in (-40.0, 40.0)]
    board = Manifold.cube((140.0, 60.0, 6.0)).translate((-70.0, -30.0, 0.0))
    return Manifold.batch_boolean([board, *hills], OpType.Add)


def ground_of(solid, *, grooves=None, keep_out=None, holes=()):
    return Ground(
        solid.slice(0.01),
        CrossSection() if grooves is None else grooves,
        CrossSection() if keep_out is None else keep_out,
        np.array(holes, float).reshape(-1, 2),
        (4.0, 2.5),
    )


def shut_in(buck):
    """Areas of air at the platen that the buck rings in."""
    wide = CrossSection.square((1e3, 1e3), True)
    return [air.area() for air in (wide - buck.slice(1.0)).decompose() if air.area() < 1e5]


@pytest.mark.parametrize("spacing", [0.0, 14.0])
def test_a_cavity_that_the_platen_would_shut_gets_its_groove(spacing):
    solid = two_hills()
    cavity, ground = planned(solid, spacing_mm=spacing), ground_of(solid)
    assert len(shut_in(solid - cavity.solid)) == len(shut_off(cavity, ground)) >= 2
    vented = aired(cavity, ground)
    assert vented.grooves == len(shut_off(cavity, ground))
    assert shut_in(solid - vented.solid) == [] and shut_off(vented, ground) == []
    # nothing but the grooves is changed, and they lie at the platen
    more = vented.solid - cavity.solid
    assert more.volume() > 1.0 and more.trim_by_plane((0.0, 0.0, 1.0), 2.5 + 1e-6).volume() < 1e-6
    assert (solid - vented.solid).status() == solid.status()


def test_a_channel_or_a_hole_of_the_platen_lets_the_air_out_as_well():
    solid = two_hills()
    cavity = planned(solid)
    channel = CrossSection.square((60.0, 4.0)).translate((-90.0, -2.0))
    assert len(shut_off(cavity, ground_of(solid, grooves=channel))) == 1
    assert shut_off(cavity, ground_of(solid, grooves=channel, holes=[(41.0, 3.0)])) == []
    assert aired(cavity, ground_of(solid, holes=[(41.0, 3.0), (-40.0, 0.0)])) is cavity


def test_grooves_go_round_fixings_and_letters():
    solid = Manifold.cube((80.0, 50.0, 40.0)).translate((-40.0, -25.0, 0.0))
    barred = CrossSection.square((60.0, 60.0), True)
    cavity = planned(solid)
    (whole,) = (aired(cavity, ground_of(solid, keep_out=barred)).solid - cavity.solid).decompose()
    assert (whole.project() ^ barred).is_empty()


def test_a_shell_to_be_cast_has_a_floor_a_pour_hole_and_air_holes():
    solid = two_hills()
    channel = CrossSection.square((160.0, 4.0), True)
    ground = ground_of(solid, grooves=channel)
    made = floored(planned(solid), ground, wall_mm=4.0, pour_mm=9.0)
    shell = solid - made.solid
    assert len(made.pours) == 2 and len(made.airs) == 4
    assert all(hole.diameter_mm == 9.0 for hole in made.pours)
    # the floor is as thick as the wall, but for its holes
    floor = solid ^ Manifold.cube((200.0, 200.0, 4.0), center=True).translate((0.0, 0.0, 2.0))
    opened = floor - shell
    holes = sum(hole.outline().area() for hole in (*made.pours, *made.airs))
    assert opened.volume() == pytest.approx(4.0 * holes, rel=1e-6)
    assert shell.genus() == 4 and len(made.solid.decompose()) == 2
    # nothing runs into the channel: it keeps the wall
    around = channel.offset(3.9).extrude(2.5 + 3.9)
    assert (around ^ made.solid).volume() < 1e-6
    # turned over, what stands highest is the ceiling beside the channel: each part of it has its hole
    for body in made.solid.decompose():
        for ceiling in body.slice(4.05).decompose():
            assert any(not (hole.outline() ^ ceiling).is_empty() for hole in made.airs)
    (told,) = about_cast(made)
    assert "2 pour holes of up to 9 mm; 4 air holes let the air out" in told.words
    assert f"{made.volume_mm3 / 1000.0:.0f} cm3" in told.words


def test_a_part_without_room_for_a_pour_hole_stays_filled():
    solid = two_hills() + Manifold.cylinder(40.0, 9.0, 9.0, 48)
    ground = ground_of(solid)
    assert len(planned(solid).solid.decompose()) == 3
    made = floored(planned(solid), ground, wall_mm=4.0, pour_mm=20.0)
    assert len(made.solid.decompose()) == len(made.pours) == 2
    assert floored(planned(dome()), ground_of(dome()), wall_mm=4.0, pour_mm=200.0).pours[0].diameter_mm < 90.0


@pytest.mark.parametrize("place", [(28.475, -13.833, 75.5), (40.0, 7.0, 80.0)])
def test_the_wall_around_a_vent_has_no_folds(place):
    """The hull of two balls has them at these places, and the buck then crosses itself."""
    x, y, tall = place
    solid = Manifold.cylinder(95.0, 55.0, 55.0, 64)
    vent = np.array([(x, y, tall, 2.0), (x, y, 0.0, 2.0)])
    _, ring = planned(solid, Kept([vent], CrossSection())).solid.slice(27.0).to_polygons()
    hole = CrossSection([ring[::-1]])
    assert hole.hull().area() - hole.area() < 1e-4
    assert np.pi * 6.0**2 <= hole.area() <= 1.01 * np.pi * 6.0**2


def test_nothing_of_the_outside_moves():
    """Every corner of the outside is one of the hollow buck's too, and it has no others there."""
    solid = two_hills()
    hollow = as_mesh(solid - aired(planned(solid, spacing_mm=20.0), ground_of(solid)).solid)
    outside = as_mesh(solid)
    skin = outside.faces[outside.centroids()[:, 2] > 1e-6].astype(np.int64)
    inner = hollow.faces.astype(np.int64)
    places = outside.vertices[outside.vertices[:, 2] > 1e-6]
    assert np.sqrt(igl.point_mesh_squared_distance(places, hollow.vertices, inner)[0].max()) < 1e-3
    far = np.sqrt(igl.point_mesh_squared_distance(hollow.vertices, outside.vertices, skin)[0])
    above = hollow.vertices[:, 2] > 2.6
    assert not ((far > 1e-3) & (far < 3.9) & above).any()
