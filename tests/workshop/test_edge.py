"""The edge of the part: trim line, paper strip, printed edge, holes; against closed forms."""

import igl
import manifold3d
import numpy as np
import pytest
import trimesh

from buckwright.mesh.manifolds import to_manifold
from buckwright.mesh.triangles import Mesh
from buckwright.workshop.edge.drawings import drilling_template, height_gauge, opening_gauge, paper_strip
from buckwright.workshop.edge.findings import about_holes, about_printed
from buckwright.workshop.edge.holes import edge_distances, least_edge_mm, placed_holes
from buckwright.workshop.edge.openings import opening_rings
from buckwright.workshop.edge.pips import pips
from buckwright.workshop.edge.profile import edge_profile, wall_up
from buckwright.workshop.edge.rim import rim_of
from buckwright.workshop.edge.settings import EdgeSettings
from buckwright.workshop.edge.trim_curve import level_ring, opening_curve, trim_curve
from buckwright.workshop.edge.unrolling import unrolled

LOW, HIGH, TALL = 60.0, 40.0, 50.0  # radii and height of the cone that most of this is about


def cone(*, sides=512):
    solid = manifold3d.Manifold.cylinder(TALL, LOW, HIGH, sides)
    data = solid.to_mesh()
    return Mesh.from_arrays(data.vert_properties[:, :3], data.tri_verts)


def radius(z):
    return LOW + (HIGH - LOW) * z / TALL


def curve_at(z, *, mesh=None, sheet_mm=1.0):
    return trim_curve(None, None, cone() if mesh is None else mesh, z, sheet_mm=sheet_mm)


def test_the_trim_line_of_a_cone_is_a_circle_that_begins_in_front():
    curve = curve_at(20.0)
    assert curve.source == "wall"
    assert curve.length_mm == pytest.approx(2.0 * np.pi * radius(20.0), rel=1e-4)
    assert curve.points[0] == pytest.approx([0.0, -radius(20.0), 20.0], abs=1.0)
    assert curve.points[1, 0] > curve.points[0, 0]  # counter-clockwise, seen down the pull
    middle = curve.points - curve.points.mean(axis=0)
    assert np.einsum("nk,nk->n", middle, curve.outward).min() > 0.99 * radius(20.0)


def test_on_a_forecast_sheet_it_has_the_sheets_thickness():
    sheet = cone()
    thick = 0.4 + 0.01 * sheet.vertices[:, 2]
    curve = trim_curve(sheet, thick, cone(), 20.0, sheet_mm=1.0)
    assert curve.source == "forecast"
    assert set(np.round(curve.thickness_mm, 6)) <= set(np.round(thick, 6))


def test_webs_are_cut_off_where_the_sheet_stands_off_the_wall():
    """A fin of 20 x 4 mm on the sheet of a cone: 2 mm of it are left."""
    body = manifold3d.Manifold.cylinder(TALL, LOW, HIGH, 512)
    fin = manifold3d.Manifold.cube((40.0, 4.0, 40.0)).translate((LOW - 28.0, -2.0, 0.0))
    data = (body + fin).to_mesh()
    sheet = Mesh.from_arrays(data.vert_properties[:, :3], data.tri_verts)
    curve = trim_curve(sheet, np.full(sheet.vertex_count, 0.5), cone(), 20.0, sheet_mm=1.0)
    away = np.hypot(*curve.points[:, :2].T) - radius(20.0)
    assert away.max() == pytest.approx(2.0, abs=0.02)
    assert curve.length_mm == pytest.approx(
        2.0 * np.pi * radius(20.0) + 2.0 * 2.0, abs=0.9
    )  # corners rounded


def test_a_blade_as_thin_as_a_barb_keeps_its_trim_line():
    """Blunting the narrow tongues that a fold leaves must not take the part itself away."""
    made = trimesh.creation.box((40.0, 1.2, 20.0))
    blade = Mesh.from_arrays(made.vertices, made.faces)
    curve = trim_curve(blade, np.full(blade.vertex_count, 0.5), blade, 0.0, sheet_mm=1.0)
    assert curve.source == "forecast"
    assert curve.length_mm == pytest.approx(82.4, abs=0.1)


def test_the_outer_side_is_longer_by_its_thickness():
    """Steiner: a convex line at the distance t is longer by 2 pi t."""
    curve = curve_at(20.0, sheet_mm=1.5)
    steps = np.linalg.norm(curve.outside - np.roll(curve.outside, -1, axis=0), axis=1)
    assert steps.sum() == pytest.approx(curve.length_mm + 2.0 * np.pi * 1.5, abs=0.1)


def test_nothing_that_high_gives_no_line():
    assert curve_at(80.0) is None
    assert level_ring(Mesh.from_arrays([(0, 0, 0), (1, 0, 1), (0, 1, 1)], [(0, 1, 2)]), 0.5) is None


@pytest.mark.parametrize("overlap", [0.0, 15.0])
def test_a_cone_unrolls_into_a_sector_of_a_ring(overlap):
    """Textbook: a cone of slant s and radius r rolls out into an arc of radius s over 2 pi r / s."""
    low, high = curve_at(10.0).points, curve_at(25.0).points
    band = unrolled(low, high, overlap_mm=overlap)
    slant = np.hypot(TALL, LOW - HIGH)
    far = radius(10.0) / (LOW - HIGH) * slant  # from the apex along the wall
    near = radius(25.0) / (LOW - HIGH) * slant
    width = np.linalg.norm(band.upper - band.lower, axis=1)
    assert width == pytest.approx(np.full(len(width), far - near), rel=2e-3)
    assert band.way_mm[-1] == pytest.approx(2.0 * np.pi * radius(10.0) + overlap, abs=1.1)
    count = len(low)
    chord = np.linalg.norm(band.lower[count] - band.lower[0])
    angle = 2.0 * np.pi * radius(10.0) / far
    assert chord == pytest.approx(2.0 * far * np.sin(angle / 2.0), rel=2e-3)
    assert band.lower[count, 1] == pytest.approx(band.lower[0, 1], abs=1e-6)


def test_no_length_is_changed_by_unrolling():
    ring = trimesh.creation.box((80.0, 50.0, 30.0))
    mesh = Mesh.from_arrays(ring.vertices, ring.faces)
    low, high = level_ring(mesh, -5.0), level_ring(mesh, 5.0)
    band = unrolled(low, high)
    for flat in (band.lower, band.upper):
        steps = np.linalg.norm(np.diff(flat, axis=0), axis=1)
        assert steps.sum() == pytest.approx(2 * (80.0 + 50.0), rel=1e-3)
    assert np.ptp(np.vstack([band.lower, band.upper])[:, 1]) == pytest.approx(10.0, abs=0.05)


def test_the_strip_has_ticks_every_fifty_and_says_where_it_overlaps():
    curve = curve_at(20.0)
    drawing = paper_strip(unrolled(curve.outside, curve_at(32.0).outside, overlap_mm=15.0))
    assert len([line for line in drawing.lines if line.layer == "engrave"]) == int(curve.length_mm // 50) + 1
    assert {"0", "50", "100", "overlap"} <= {one.text for one in drawing.words}
    # the strip lies on the outer side of the sheet: 2 pi t longer
    around = 2.0 * np.pi * (radius(20.0) + 1.0)
    told = float(drawing.title.removeprefix("Paper strip, ").partition(" mm")[0])
    assert told == pytest.approx(around, rel=1e-3)


def test_the_gauge_points_at_its_height():
    card = height_gauge(18.4).lines[0].points
    assert card[card[:, 0].argmin(), 1] == pytest.approx(18.4)


@pytest.mark.parametrize("kind", ["flat", "u"])
def test_a_printed_edge_is_one_closed_solid_round_the_edge(kind):
    curve = curve_at(20.0, sheet_mm=0.5)
    up = wall_up(curve, curve_at(23.0, sheet_mm=0.5))
    lean = np.array([(HIGH - LOW) / TALL, 1.0]) / np.hypot((HIGH - LOW) / TALL, 1.0)
    assert up[:, 2] == pytest.approx(np.full(len(up), lean[1]), abs=0.02)
    printed = edge_profile(curve, up, kind=kind, leg_mm=6.0, wall_mm=1.6, room_mm=0.2)
    made = printed.mesh
    assert printed.handles == 0 and not len(printed.missed)
    solid = to_manifold(made)
    assert solid is not None and len(solid.decompose()) == 1 and solid.genus() == 1
    # Pappus: section times the way of its middle, here within the slope and the flats of the ring
    area = 6.0 * 1.6 if kind == "flat" else 2.0 * 6.0 * 1.6 + 1.6 * (2 * 1.6 + 0.5 + 2 * 0.2)
    assert solid.volume() == pytest.approx(area * curve.length_mm, rel=0.06)
    where = made.vertices[:, 2]
    assert where.min() == pytest.approx(20.0 - (1.6 if kind == "u" else 0.0), abs=0.9)


def test_a_printed_edge_follows_corners_without_holes():
    box = trimesh.creation.box((90.0, 60.0, 40.0))
    curve = trim_curve(None, None, Mesh.from_arrays(box.vertices, box.faces), 0.0, sheet_mm=0.8)
    made = edge_profile(curve, wall_up(curve, None), kind="u", leg_mm=5.0, wall_mm=1.2, room_mm=0.1)
    solid = to_manifold(made.mesh)
    assert solid is not None and len(solid.decompose()) == 1 and solid.genus() == 1
    assert about_printed([made]) == []


@pytest.mark.parametrize(("leg", "wide", "follows"), [(3.0, 2.4, True), (12.0, 2.4, True), (6.0, 1.1, False)])
def test_a_channel_round_a_narrow_tongue_stays_one_ring_and_says_where_it_cannot_follow(leg, wide, follows):
    """Narrower than the channel's inner legs on both sides; in the last each stands in the other's slot."""
    body = manifold3d.Manifold.cylinder(40.0, 40.0, 34.0, 256)
    tongue = manifold3d.Manifold.cube((30.0, wide, 40.0)).translate((30.0, -wide / 2.0, 0.0))
    data = (body + tongue).to_mesh()
    mesh = Mesh.from_arrays(data.vert_properties[:, :3], data.tri_verts)
    curve, higher = curve_at(10.0, mesh=mesh, sheet_mm=0.6), curve_at(13.0, mesh=mesh, sheet_mm=0.6)
    made = edge_profile(curve, wall_up(curve, higher), kind="u", leg_mm=leg, wall_mm=1.6, room_mm=0.2)
    solid = to_manifold(made.mesh)
    assert solid is not None and len(solid.decompose()) == 1
    assert solid.genus() == 1 and made.handles == 0
    assert (made.missed[:, 0] > 30.0).all(), "only on the tongue"
    slugs = [found.slug for found in about_printed([made])]
    assert slugs == [] if follows else slugs == ["printed-edge-too-tight"]
    # the slot is free all round: the sheet goes in
    middles = curve.points + wall_up(curve, higher) * 0.5 * leg + curve.outward * 0.3
    turns = igl.winding_number(made.mesh.vertices, made.mesh.faces.astype(np.int64), middles)
    assert np.abs(turns).max() < 0.5


def holes(rivets=(), slots=(), fans=()):
    wanted = {
        "rivet": np.array(rivets, float).reshape(-1, 3),
        "slot": np.array(slots, float).reshape(-1, 3),
        "fan": np.array(fans, float).reshape(-1, 3),
    }
    sizes = {"rivet": (3.2, 3.2), "slot": (26.0, 4.0), "fan": (38.0, 38.0)}
    turn = np.linspace(0.0, 2.0 * np.pi, 180, endpoint=False)
    return placed_holes(cone(), wanted, sizes, LOW * np.column_stack([np.cos(turn), np.sin(turn)]))


def test_holes_lie_on_the_buck_and_slots_along_the_edge():
    rivet, slot, fan = holes([(radius(30.0) + 2.0, 0.0, 30.0)], [(0.0, radius(35.0), 35.0)], [(0, 0, TALL)])
    assert np.hypot(*rivet.at_mm[:2]) == pytest.approx(radius(rivet.at_mm[2]), abs=0.01)
    assert rivet.off_mm == pytest.approx(2.0 * np.cos(np.arctan((LOW - HIGH) / TALL)), abs=0.01)
    assert abs(slot.along[0]) == pytest.approx(1.0, abs=1e-2)
    ends = np.array(slot.drilled_mm)
    assert np.linalg.norm(ends[1] - ends[0]) == pytest.approx(26.0 - 4.0)
    assert fan.slope_deg == pytest.approx(0.0, abs=0.1) and len(fan.drilled_mm) == 1


def test_holes_near_the_edge_and_below_it_are_named():
    placed = holes([(radius(z), 0.0, z) for z in (15.0, 28.0, 40.0)], [], [(0.0, 0.0, TALL + 9.0)])
    curve = curve_at(20.0)
    away = edge_distances(placed, curve.points)
    assert away[0] < 0.0
    assert away[1] == pytest.approx(np.hypot(8.0, 8.0 * (LOW - HIGH) / TALL), abs=0.1)
    slugs = [one.slug for one in about_holes(placed, away)]
    assert slugs == ["hole-trimmed-off", "hole-near-edge", "hole-off-buck"]
    assert least_edge_mm(placed[0]) == 10.0  # twice 3.2 is less than the least
    assert least_edge_mm(placed[3]) == 29.0  # half of 38 and 10 of rim, less than twice 38


def test_pips_stand_out_as_far_as_told_and_less_on_a_wall():
    top, wall = holes([(10.0, 0.0, TALL), (radius(30.0), 0.0, 30.0)])
    buck = manifold3d.Manifold.cylinder(TALL, LOW, HIGH, 512)
    marked = buck + pips([top, wall], 0.6)
    assert marked.bounding_box()[5] == pytest.approx(TALL + 0.6, abs=0.01)
    bump = (pips([wall], 0.6) - buck).to_mesh().vert_properties[:, :3]
    out = (bump - wall.at_mm) @ wall.normal
    assert 0.25 < out.max() <= 0.3
    assert pips([top], 0.0) is None and pips([], 0.6) is None


def test_the_drilling_template_shows_each_hole_true():
    placed = holes([(10.0, 5.0, TALL)], [(0.0, radius(35.0), 35.0)])
    curve = curve_at(20.0)
    drawing = drilling_template(curve.points, placed, edge_distances(placed, curve.points))
    (circle,) = drawing.circles
    assert (circle.x, circle.y, circle.radius_mm) == pytest.approx((10.0, 5.0, 1.6))
    slot = next(line for line in drawing.lines if line.layer == "cut")
    assert np.ptp(slot.points, axis=0) == pytest.approx([26.0, 4.0], abs=0.2)
    assert any("drill square to it" in one.text for one in drawing.words)
    told = [one.text for one in drilling_template(curve.points, placed, [-3.0] * len(placed)).words]
    assert any("1: rivet hole, 3.2 mm, below the trim line" in text for text in told)
    assert any(": strap slot, 26 x 4 mm, below the trim line" in text for text in told)


FLOOR = 10.0
"""Top of the base under the ring below, and the floor of its opening."""


def annulus(*, inner=(20.0, 26.0), pocket=True):
    """A ring on a base: an opening that widens upwards, and a hollow with a floor of its own."""
    base = manifold3d.Manifold.cylinder(FLOOR, 80.0, 80.0, 256)
    body = manifold3d.Manifold.cylinder(TALL, LOW, HIGH + 10.0, 256)
    body -= manifold3d.Manifold.cylinder(TALL, *inner, 256)
    if pocket:
        body -= manifold3d.Manifold.cylinder(TALL, 6.0, 7.0, 64).translate((40.0, 0.0, 5.0))
    data = (base + body.translate((0.0, 0.0, FLOOR))).to_mesh()
    return Mesh.from_arrays(data.vert_properties[:, :3], data.tri_verts)


def opened(sheet=None, thick=None, *, rise=4.0):
    (wall,) = opening_rings(annulus(), FLOOR, FLOOR + rise)
    return opening_curve(sheet, thick, wall, sheet_mm=1.0)


def inner(z):
    return 20.0 + 6.0 * (z - FLOOR) / TALL


def test_an_opening_has_a_line_of_its_own_and_a_hollow_has_none():
    curve = opened()
    assert curve.opening and curve.source == "wall"
    assert curve.length_mm == pytest.approx(2.0 * np.pi * inner(14.0), rel=1e-3)
    assert (
        np.einsum("nk,nk->n", curve.points[:, :2], curve.outward[:, :2]) < 0.0
    ).all()  # away from the part
    rings = np.linalg.norm(curve.outside - np.roll(curve.outside, -1, axis=0), axis=1)
    assert rings.sum() == pytest.approx(2.0 * np.pi * (inner(14.0) - 1.0), rel=1e-3)
    assert opening_rings(annulus(inner=(4.0, 4.5), pocket=False), FLOOR, FLOOR + 4.0) == ()
    assert opening_rings(annulus(), FLOOR, FLOOR + TALL + 5.0) == ()


def test_on_a_forecast_sheet_the_opening_follows_the_sheet_but_no_web():
    """A sheet that stands 0.5 mm off the wall, with a fold that reaches 10 mm into the opening."""
    body = manifold3d.Manifold.cylinder(FLOOR + TALL, 90.0, 90.0, 256)
    hole = manifold3d.Manifold.cylinder(TALL, 19.5, 25.5, 512).translate((0.0, 0.0, FLOOR))
    fold = manifold3d.Manifold.cube((10.0, 4.0, TALL)).translate((12.0, -2.0, FLOOR))
    data = (body - hole + fold).to_mesh()
    sheet = Mesh.from_arrays(data.vert_properties[:, :3], data.tri_verts)
    curve = opened(sheet, np.full(sheet.vertex_count, 0.7))
    assert curve.source == "forecast" and set(curve.thickness_mm) == {0.7}
    away = inner(14.0) - np.hypot(*curve.points[:, :2].T)
    assert np.median(away) == pytest.approx(0.5, abs=0.02)
    assert away.max() == pytest.approx(2.0, abs=0.05)
    closed = body.to_mesh()
    flat = Mesh.from_arrays(closed.vert_properties[:, :3], closed.tri_verts)
    assert opened(flat, np.full(flat.vertex_count, 0.7)).source == "wall"


def test_an_opening_gets_strip_gauge_and_profile():
    def ring(rise):
        return opened(rise=4.0 + rise)

    rim = rim_of(ring, 4.0, EdgeSettings(profile="u", profile_leg_mm=5.0))
    assert rim.strip_mm == 15.0 and rim.height_mm == 4.0
    # Textbook: a cone rolls out into a ring sector; here seen from within, so that it bulges downwards
    slant = np.hypot(TALL, 6.0) / 6.0
    assert rim.band.length_mm == pytest.approx(2.0 * np.pi * (inner(14.0) - 1.0), rel=1e-3)
    width = np.linalg.norm(rim.band.upper - rim.band.lower, axis=1)
    assert np.median(width) == pytest.approx((inner(29.0) - inner(14.0)) * slant, rel=2e-3)
    assert rim.band.lower[len(rim.band.lower) // 2, 1] > rim.band.lower[0, 1]
    solid = to_manifold(rim.printed.mesh)
    assert len(solid.decompose()) == 1 and solid.genus() == 1
    told = rim.to_dict()
    assert told["gauge_mm"] == 4.0 and told["trim_line_mm"] == pytest.approx(
        2 * np.pi * inner(14.0), rel=1e-3
    )
    card = opening_gauge(4.0, 40.0, ending="_opening_1")
    assert card.name == "height_gauge_opening_1"
    assert np.ptp(card.lines[0].points, axis=0) == pytest.approx([24.0, 4.0 + 24.0])
    assert card.lines[0].points[:, 1].max() == pytest.approx(4.0)


def test_a_hole_near_an_opening_is_measured_to_it():
    (placed,) = holes([(radius(30.0), 0.0, 30.0)])
    curve = curve_at(10.0)
    near = placed.at_mm + np.array([[-3.0, 0.0, 0.0]])
    assert edge_distances([placed], curve.points)[0] > 20.0
    assert edge_distances([placed], curve.points, [near]) == pytest.approx((3.0,))
