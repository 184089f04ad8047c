"""A buck in pieces: they fit, they make the whole again, they keep off the vents, and they fit one way."""

import io
import os
import zipfile
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, Manifold, OpType

from buckwright.errors import JobError
from buckwright.mesh.manifolds import from_manifold
from buckwright.printing.amounts import amounts_of
from buckwright.printing.materials import PRINT_MATERIALS
from buckwright.printing.pieces.axes import from_axis, section, to_axis
from buckwright.printing.pieces.findings import about_pieces
from buckwright.printing.pieces.fitting import box_after, turn_to_fit, turned
from buckwright.printing.pieces.joints import find_joints, loose_pin
from buckwright.printing.pieces.packing import pack
from buckwright.printing.pieces.places import split_places
from buckwright.printing.pieces.planning import plan_pieces
from buckwright.printing.pieces.splitting import Cut
from buckwright.printing.settings import PrinterSettings, PrintSettings
from buckwright.relief.columns import Columns
from buckwright.shape.hollow.cavity import Kept, plan_cavity

NO_BEADS = np.zeros((0, 4))
PLANES = 67 if os.environ.get("BUCKWRIGHT_ALL_SETTINGS") else 15
"""Across each of three bodies; `make explore` tries two hundred in all."""


def dome(radius=60.0):
    return Manifold.sphere(radius, 96).trim_by_plane((0.0, 0.0, 1.0), 0.0)


def bar():
    """A long ridge on a board."""
    board = Manifold.cube((320.0, 90.0, 12.0)).translate((-160.0, -45.0, 0.0))
    ridge = Manifold.cylinder(300.0, 25.0, 25.0, 64).rotate((0.0, 90.0, 0.0)).translate((-150.0, 0.0, 12.0))
    return (board + ridge).trim_by_plane((0.0, 0.0, 1.0), 0.0)


def horseshoe():
    ring = Manifold.cylinder(40.0, 120.0, 100.0, 96) - Manifold.cylinder(40.0, 70.0, 80.0, 96)
    return ring - Manifold.cube((300.0, 60.0, 50.0)).translate((0.0, -30.0, -1.0))


def planned(solid, beads=NO_BEADS, **printer):
    return plan_pieces(
        solid,
        beads=beads,
        detail_above_mm=0.0,
        printed=PrintSettings(),
        printer=PrinterSettings(**printer),
    )


def column_beads(places, tall=40.0, radius=2.0):
    z = np.arange(0.0, tall, 0.5)
    return np.concatenate(
        [np.column_stack([np.tile(p, (len(z), 1)), z, np.full(len(z), radius)]) for p in places]
    )


@pytest.mark.parametrize("shape", [dome, bar, horseshoe])
def test_pieces_make_the_whole_again(shape):
    solid = shape()
    made = planned(solid, bed_mm=(130.0, 110.0), height_mm=100.0, joint="none", glue_groove=False)
    assert made.split
    lettering = sum(one.solid.volume() for one in made.pieces) - solid.volume()
    assert -60.0 * len(made.pieces) < lettering < 0.0
    whole = Manifold.batch_boolean([one.solid for one in made.pieces], OpType.Add)
    assert (whole - solid).volume() < 1e-3
    lost = solid - whole
    # only the letters are missing, and they lie within their depth above a piece's own foot
    feet = {round(one.solid.bounding_box()[2], 6) for one in made.pieces}
    for body in lost.decompose():
        if body.volume() > 1e-3:
            low, high = body.bounding_box()[2], body.bounding_box()[5]
            assert round(low, 6) in feet and high - low < 0.61


@pytest.mark.parametrize("shape", [dome, bar, horseshoe])
@pytest.mark.parametrize("joint", ["loose", "printed"])
def test_each_piece_fits_and_is_sound(shape, joint):
    made = planned(shape(), bed_mm=(130.0, 110.0), height_mm=100.0, joint=joint)
    plates = {}
    for one in (*made.pieces, *made.pins):
        laid = one.laid()
        x0, y0, z0, x1, y1, z1 = laid.bounding_box()
        assert x0 >= 4.0 - 1e-6 and y0 >= 4.0 - 1e-6 and x1 <= 126.0 + 1e-6 and y1 <= 106.0 + 1e-6
        assert abs(z0) < 1e-6 and z1 <= 100.0 + 1e-6
        assert len([body for body in laid.decompose() if body.volume() > 1.0]) == 1
        plates.setdefault(one.place.plate, []).append(laid.project())
    assert set(plates) == set(range(made.plates))
    for outlines in plates.values():
        for n, one in enumerate(outlines):
            for other in outlines[:n]:
                assert (one.offset(2.9) ^ other.offset(2.9)).is_empty()
    assert bool(made.pins) == (joint == "loose")


def test_joints_fit_one_way_only():
    made = planned(bar(), bed_mm=(200.0, 200.0))
    (joint,) = made.joints
    wide, slim = joint.pins
    assert (wide.hole_mm, slim.hole_mm) == (6.0, 4.5)
    assert np.hypot(wide.u_mm - slim.u_mm, wide.v_mm - slim.v_mm) > 50.0
    above, below = made.pieces[joint.above].solid, made.pieces[joint.below].solid
    for pin in joint.pins:
        assert made.turn_deg == 0.0
        rod = Manifold.cylinder(20.0, 0.4 * pin.hole_mm, 0.4 * pin.hole_mm, 24)
        rod = rod.translate((pin.u_mm, pin.v_mm, joint.at_mm - 10.0))
        free = from_axis(rod, joint.axis)
        deep = pin.hole_mm + 0.5
        for body in (above, below):
            met = (free ^ body).volume() / (np.pi * (0.4 * pin.hole_mm) ** 2)
            assert met == pytest.approx(10.0 - deep, rel=0.02)


def test_printed_pins_go_into_the_holes_with_their_clearance():
    solid = bar()
    made = planned(solid, bed_mm=(200.0, 200.0), joint="printed", clearance_mm=0.25)
    (joint,) = made.joints
    above, below = made.pieces[joint.above].solid, made.pieces[joint.below].solid
    assert (above ^ below).volume() < 1e-6
    pin = below.trim_by_plane((1.0, 0.0, 0.0), joint.at_mm + 1.0)
    assert len(pin.decompose()) == 2
    assert (pin - solid).volume() < 1e-6
    _, _, _, tip, _, _ = pin.bounding_box()
    assert tip == pytest.approx(joint.at_mm + 6.0)


def test_the_glue_groove_lies_inside_the_edge():
    plain = planned(bar(), bed_mm=(200.0, 200.0), glue_groove=False)
    grooved = planned(bar(), bed_mm=(200.0, 200.0))
    lost = plain.pieces[0].solid - grooved.pieces[0].solid
    (joint,) = grooved.joints
    low, high = lost.bounding_box()[0], lost.bounding_box()[3]
    assert high == pytest.approx(joint.at_mm) and high - low == pytest.approx(0.6, abs=1e-6)
    outline = to_axis(lost, 0).project()
    assert (outline - joint.face.offset(-2.9)).area() < 1e-6
    assert outline.area() > 100.0


@settings(max_examples=30)
@given(places=st.lists(st.tuples(st.floats(-150, 150), st.floats(-40, 40)), min_size=1, max_size=12))
def test_no_vent_is_cut(places):
    beads = column_beads(places, tall=12.0)
    made = planned(bar(), beads, bed_mm=(220.0, 120.0), joint="none", glue_groove=False)
    nearest = min(cut.clear_mm for cut in made.cuts)
    assert nearest > 0.0
    # the told distance is the true one, in the frame that the planes were chosen in
    turn = np.radians(made.turn_deg)
    along = beads[:, 0] * np.cos(turn) - beads[:, 1] * np.sin(turn)
    first = [cut for cut in made.cuts if cut.axis == 0]
    assert len(first) == len(made.cuts)
    for cut in first:
        assert np.abs(along - cut.at_mm).min() - 2.0 == pytest.approx(cut.clear_mm, abs=1e-9)


def test_a_few_vents_are_kept_five_millimetres_away():
    beads = column_beads([(0.0, 0.0), (-8.0, 20.0), (9.0, -20.0)], tall=12.0)
    made = planned(bar(), beads, bed_mm=(220.0, 220.0))
    assert len(made.pieces) == 2
    assert made.cuts[0].clear_mm >= 5.0


@pytest.mark.parametrize("quarter", [0.0, 90.0])
def test_slanting_rows_of_vents_are_kept_off_whichever_way_the_buck_lies(quarter):
    """Rows that lean by 20 degrees, 12 mm of room between them: planes go along them, across x or y."""
    lean = np.radians(20.0)
    along, across = np.array([np.sin(lean), np.cos(lean)]), np.array([np.cos(lean), -np.sin(lean)])
    rows, steps = np.arange(-10, 11), np.arange(-12, 13)
    spots = [16.0 * row * across + 5.0 * step * along for row in rows for step in steps]
    spots = [spot for spot in spots if abs(spot[0]) < 145.0 and abs(spot[1]) < 35.0]
    beads = column_beads(turned(np.array(spots), quarter), tall=12.0)
    made = planned(bar().rotate((0.0, 0.0, quarter)), beads, bed_mm=(220.0, 220.0))
    assert len(made.pieces) == 2 and made.cuts[0].clear_mm >= 5.0


def test_a_plane_goes_between_vents_that_leave_just_room_for_it():
    """10.2 mm between the walls of the bores, the middle of it between two millimetres."""
    beads = column_beads([(x, y) for x in (0.45 - 7.1, 0.45 + 7.1) for y in (-20.0, 0.0, 20.0)], tall=12.0)
    wall = column_beads([(x, 0.0) for x in np.r_[-150.0:-7.0:6.0, 8.0:150.0:6.0]], tall=12.0)
    made = planned(bar(), np.vstack([beads, wall]), bed_mm=(220.0, 120.0))
    assert len(made.pieces) == 2 and made.cuts[0].clear_mm >= 5.0


def test_planes_keep_off_detail():
    knobs = [
        Manifold.sphere(4.0, 32).translate((x, y, 60.0))
        for x in np.arange(-20.0, 21.0, 8.0)
        for y in np.arange(-25.0, 26.0, 8.0)
    ]
    block = Manifold.cube((260.0, 80.0, 60.0)).translate((-130.0, -40.0, 0.0))
    made = planned(Manifold.batch_boolean([block, *knobs], OpType.Add), bed_mm=(190.0, 190.0))
    (cut,) = made.cuts
    assert abs(cut.at_mm) > 24.0


@pytest.mark.parametrize(
    ("bed", "fits"),
    [((300.0, 300.0), True), ((190.0, 190.0), True), ((120.0, 400.0), True), ((150.0, 150.0), False)],
)
def test_one_piece_where_it_fits_turned_or_not(bed, fits):
    made = planned(Manifold.cube((215.0, 20.0, 30.0)), bed_mm=bed, height_mm=100.0)
    assert made.split != fits
    if fits:
        x0, y0, _, x1, y1, _ = made.pieces[0].laid().bounding_box()
        assert x0 > 3.9 and y0 > 3.9 and x1 < bed[0] - 3.9 and y1 < bed[1] - 3.9


def test_without_a_bed_only_the_amounts_are_told():
    made = planned(dome())
    assert (made.plates, made.split, made.pins) == (0, False, ())
    assert made.to_dict()["pieces"] == []


def test_a_margin_that_leaves_no_bed_is_refused():
    with pytest.raises(JobError, match="margin of 40 mm leaves 20 x 120 mm"):
        planned(dome(), bed_mm=(100.0, 200.0), margin_mm=40.0)


def test_too_tall_is_cut_level():
    made = planned(Manifold.cube((50.0, 50.0, 130.0)), bed_mm=(200.0, 200.0), height_mm=100.0)
    assert [cut.axis for cut in made.cuts] == [2]
    assert all(one.size_mm[2] <= 100.0 for one in made.pieces)


def test_random_planes_give_no_unsound_piece():
    rng = np.random.default_rng(11)
    for solid in (dome(), bar(), horseshoe()):
        for _ in range(PLANES):
            axis = int(rng.integers(3))
            box = np.asarray(solid.bounding_box()).reshape(2, 3)
            at = float(rng.uniform(box[0, axis] + 2.0, box[1, axis] - 2.0))
            normal = tuple(np.eye(3)[axis])
            above, below = solid.split_by_plane(normal, at)
            bodies = [body for half in (below, above) for body in half.decompose() if body.volume() > 1e-3]
            joints = find_joints(bodies, [Cut(axis, at, np.inf)], pin_mm=6.0)
            both_sides = section(solid, axis, at - 0.01) ^ section(solid, axis, at + 0.01)
            assert sum(joint.area_mm2 for joint in joints) == pytest.approx(both_sides.area(), abs=51.0)
            for joint in joints:
                for pin in joint.pins:
                    spot = CrossSection.circle(pin.hole_mm / 2.0, 48).translate((pin.u_mm, pin.v_mm))
                    assert (spot.offset(1.9) - joint.face).area() < 1e-6
            for body in bodies:
                assert from_manifold(body).face_count and body.volume() > 0.0


@given(
    span=st.floats(60.0, 900.0),
    most=st.floats(55.0, 300.0),
    spots=st.lists(st.floats(0.0, 900.0), max_size=6),
)
def test_parts_are_never_too_long_and_as_few_as_can_be(span, most, spots):
    at = np.array(spots)

    def clear(places):
        return np.abs(places[:, None] - at).min(axis=1) if len(at) else np.full(len(places), np.inf)

    cuts = split_places(
        0.0, span, most, cost=lambda places: np.zeros(len(places)), clear_mm=clear, wanted_clear_mm=5.0
    )
    parts = np.diff([0.0, *cuts, span])
    assert (parts <= most + 1e-9).all() and (parts > 0.0).all()
    fewest = int(np.ceil(span / most - 1e-9))
    assert fewest <= len(parts) <= fewest + 2
    if len(parts) > fewest:
        assert (clear(np.array(cuts)) >= 5.0).all()


@given(
    sizes=st.lists(st.tuples(st.floats(5.0, 90.0), st.floats(5.0, 90.0)), min_size=1, max_size=9),
    spacing=st.floats(0.5, 8.0),
)
def test_packing_keeps_the_gap_and_the_margin(sizes, spacing):
    outlines = [CrossSection.square(size).translate((-7.0, 3.0)) for size in sizes]
    places = pack(outlines, [0.0] * len(sizes), bed_mm=(110.0, 100.0), margin_mm=4.0, spacing_mm=spacing)
    laid = {}
    for outline, place in zip(outlines, places):
        put = outline.rotate(place.angle_deg).translate((place.x_mm, place.y_mm))
        x0, y0, x1, y1 = put.bounds()
        assert x0 > 3.999 and y0 > 3.999 and x1 < 106.001 and y1 < 96.001
        laid.setdefault(place.plate, []).append(put.offset(spacing / 2.0 - 1e-3))
    for plate in laid.values():
        for n, one in enumerate(plate):
            assert all((one ^ other).area() < 1e-6 for other in plate[:n])


def test_packing_uses_few_plates():
    outlines = [CrossSection.square((45.0, 45.0))] * 8
    places = pack(outlines, [0.0] * 8, bed_mm=(110.0, 110.0), margin_mm=4.0, spacing_mm=4.0)
    assert max(place.plate for place in places) == 1


@given(angle=st.floats(0.0, 180.0))
def test_a_turned_square_has_the_box_of_geometry(angle):
    square = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)])
    side = 10.0 * (abs(np.cos(np.radians(angle))) + abs(np.sin(np.radians(angle))))
    assert box_after(square, angle) == pytest.approx((side, side))


def test_a_slanting_bar_is_turned_to_fit():
    tilt = np.radians(30.0)
    turn = np.array([[np.cos(tilt), np.sin(tilt)], [-np.sin(tilt), np.cos(tilt)]])
    bar = np.array([(0.0, 0.0), (200.0, 0.0), (200.0, 30.0), (0.0, 30.0)]) @ turn
    angle = turn_to_fit(bar, (205.0, 40.0))
    assert angle is not None
    assert np.all(np.array(box_after(bar, angle)) <= (205.0, 40.0))


def test_a_pin_lies_on_its_flat():
    pin = loose_pin(6.0, clearance_mm=0.2)
    assert pin.bounding_box()[2] == pytest.approx(0.0)
    assert pin.slice(0.01).area() > 0.3 * 12.0 * 5.6
    x0, y0, _, x1, y1, _ = pin.bounding_box()
    assert x1 - x0 == pytest.approx(12.0) and y1 - y0 == pytest.approx(5.6)


def test_amounts_of_a_cube():
    # 50 mm cube, 2 mm shell, 30 % infill: 15,000 mm2 x 2 mm + 0.3 x the rest
    amounts = amounts_of(Manifold.cube((50.0, 50.0, 50.0)), PrintSettings(), PrinterSettings())
    assert amounts.printed_mm3 == pytest.approx(30_000.0 + 0.3 * 95_000.0)
    assert amounts.mass_g == pytest.approx(58_500.0 * 1e-6 * PRINT_MATERIALS["PLA"].density_kg_m3)
    assert amounts.filament_m == pytest.approx(58.5 / (np.pi / 4.0 * 1.75**2))
    assert amounts.first_layer_mm2 == pytest.approx(2500.0)
    assert amounts.overhang_mm2 == 0.0


def test_overhangs_are_told():
    mushroom = Manifold.cube((10.0, 10.0, 20.0)) + Manifold.cube((30.0, 10.0, 5.0)).translate(
        (0.0, 0.0, 20.0)
    )
    assert amounts_of(mushroom, PrintSettings(), PrinterSettings()).overhang_mm2 == pytest.approx(200.0)


def test_objects_of_a_plate_keep_their_names():
    lib3mf = pytest.importorskip("lib3mf")
    from buckwright.output.threemf import threemf_bytes

    bodies = {"one A": from_manifold(Manifold.cube((5, 5, 5))), "one B": from_manifold(dome(8.0))}
    data = threemf_bytes(bodies)
    assert data == threemf_bytes(bodies)
    assert zipfile.ZipFile(io.BytesIO(data)).testzip() is None
    wrapper = lib3mf.get_wrapper()
    model = wrapper.CreateModel()
    model.QueryReader("3mf").ReadFromBuffer(data)
    objects, names = model.GetMeshObjects(), []
    while objects.MoveNext():
        one = objects.GetCurrentMeshObject()
        assert one.IsManifoldAndOriented()
        names.append(one.GetName())
    assert names == ["one A", "one B"]


def test_planes_by_hand_split_where_they_stand_and_the_pieces_are_the_whole():
    """Turned by 30 degrees: two upright planes square to one another, and a level one."""
    turn = np.radians(30.0)
    along, across = (np.cos(turn), np.sin(turn), 0.0), (-np.sin(turn), np.cos(turn), 0.0)
    planes = [(*along, 10.0), (*(-2.0 * part for part in across), 5.0), (0.0, 0.0, 1.0, 20.0)]
    made = planned(dome(), bed_mm=(140.0, 140.0), planes_mm=planes, joint="none", glue_groove=False)
    assert len(made.pieces) == 8
    together = Manifold.batch_boolean([piece.solid for piece in made.pieces], OpType.Add)
    cut = sum(piece.solid.volume() for piece in made.pieces)
    assert cut == pytest.approx(dome().volume(), rel=2e-3)  # the letters underneath
    assert together.volume() == pytest.approx(cut, rel=1e-6)
    told = {tuple(np.round(plane, 6)) for plane in made.to_dict()["planes_mm"]}
    wanted = {(*along, 10.0), (*across, -5.0), (0.0, 0.0, 1.0, 20.0)}
    assert told == {tuple(np.round(plane, 6)) for plane in wanted}
    for piece in made.pieces:
        places = from_manifold(piece.solid).vertices
        for plane in wanted:
            far = places @ np.array(plane[:3]) - plane[3]
            assert far.min() > -1e-3 or far.max() < 1e-3


@pytest.mark.parametrize(
    ("planes", "words"),
    [
        ([(1.0, 0.0, 0.3, 0.0)], "leans"),
        ([(1.0, 0.0, 0.0, 0.0), (1.0, 0.5, 0.0, 0.0)], "askew"),
        ([(0.0, 0.0, 0.0, 1.0)], "no direction"),
        ([(1.0, 0.0, 0.0, 55.0)], "move a plane or add one"),
    ],
)
def test_planes_by_hand_that_cannot_be_are_refused(planes, words):
    with pytest.raises(JobError, match=words):
        planned(dome(), bed_mm=(100.0, 100.0), planes_mm=planes)


def test_planes_that_were_found_can_be_given_by_hand_again():
    found = planned(bar(), bed_mm=(200.0, 200.0))
    again = planned(bar(), bed_mm=(200.0, 200.0), planes_mm=found.to_dict()["planes_mm"])
    for one, other in zip(again.pieces, found.pieces, strict=True):
        assert one.size_mm == pytest.approx(other.size_mm)


def tower(tall=130.0):
    return Manifold.cylinder(tall, 45.0, 38.0, 96)


@pytest.mark.parametrize(("shape", "bed"), [(tower, 120.0), (bar, 130.0)])
def test_joints_of_a_hollow_buck_are_solid_and_no_cell_is_shut(shape, bed):
    solid = shape()
    cells = plan_cavity(
        Columns(from_manifold(solid)), Kept((), CrossSection()), wall_mm=3.0, rib_mm=2.0, spacing_mm=25.0
    ).solid
    hollow = solid - cells

    def made_with(**printer):
        return plan_pieces(
            hollow,
            beads=NO_BEADS,
            cells=cells,
            detail_above_mm=0.0,
            printed=PrintSettings(),
            printer=PrinterSettings(bed_mm=(bed, bed), height_mm=100.0, **printer),
        )

    pinned = made_with(joint="loose")
    assert pinned.split and all(len(joint.pins) == 2 for joint in pinned.joints)
    for piece in pinned.pieces:
        assert len([body for body in piece.solid.decompose() if body.volume() > 1e-3]) == 1
    glued = made_with(joint="none", glue_groove=False)
    together = Manifold.batch_boolean([piece.solid for piece in glued.pieces], OpType.Add)
    assert (together - solid).volume() < 1e-6 * solid.volume()
    assert hollow.volume() < together.volume() < 0.8 * solid.volume()
    # air from every cell reaches the outside beneath: but for letters, what is not plastic is one body
    x0, y0, _, x1, y1, z1 = solid.bounding_box()
    room = Manifold.cube((x1 - x0 + 20.0, y1 - y0 + 20.0, z1 + 15.0)).translate((x0 - 10.0, y0 - 10.0, -5.0))
    apart = [air.bounding_box() for air in (room - together).decompose() if air.volume() > 0.0]
    assert len([box for box in apart if box[5] - box[2] > 0.61]) == 1


def test_planes_cross_channels_rather_than_run_along_them():
    solid = Manifold.cube((260.0, 80.0, 20.0)).translate((-130.0, -40.0, 0.0))
    plain = planned(solid, bed_mm=(190.0, 190.0)).cuts[0].at_mm
    across = np.stack(np.meshgrid(np.arange(-3.0, 3.5), np.arange(-39.5, 40.0)), -1).reshape(-1, 2)
    along = np.stack(np.meshgrid(np.arange(-129.5, 130.0), np.arange(-1.5, 2.0)), -1).reshape(-1, 2)

    def cut(grooves):
        made = plan_pieces(
            solid,
            beads=NO_BEADS,
            grooves=grooves,
            detail_above_mm=0.0,
            printed=PrintSettings(),
            printer=PrinterSettings(bed_mm=(190.0, 190.0)),
        )
        return made.cuts[0].at_mm

    assert cut(along) == plain
    moved = cut(across + np.array([plain, 0.0]))
    assert abs(moved - plain) > 3.0


def test_a_joint_is_pressed_together_by_the_atmosphere_and_one_pin_is_told():
    made = planned(bar(), bed_mm=(200.0, 200.0))
    (joint,) = made.to_dict()["joints"]
    assert joint["pressed_n"] == pytest.approx(0.101325 * made.joints[0].area_mm2)
    single = replace(made, joints=(replace(made.joints[0], pins=made.joints[0].pins[:1]),))
    (found,) = about_pieces(single, PrinterSettings(bed_mm=(200.0, 200.0)))
    assert found.words == "1 joint with one pin, about which it can turn: no room for more."
    bare = replace(single, pieces=tuple(replace(piece, lettered=False) for piece in made.pieces))
    assert "underneath A, B" in about_pieces(bare, PrinterSettings(bed_mm=(200.0, 200.0)))[-1].words
