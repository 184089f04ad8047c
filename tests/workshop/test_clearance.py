"""Room between part and body: concentric balls, boxes, an exact second method, turning, what touches."""

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold
from scipy.spatial.transform import Rotation

from buckwright.mesh.gaps import gaps_to
from buckwright.mesh.level_cut import level_cut
from buckwright.mesh.triangles import Mesh
from buckwright.shape.solid import as_mesh
from buckwright.workshop.clearance.measuring import buck_side, measure_clearance
from buckwright.workshop.clearance.pictures import draw_clearance
from buckwright.workshop.edge.trim_curve import rising_curve, trim_curve


def ball(radius, *, fine=4):
    made = trimesh.creation.icosphere(subdivisions=fine, radius=radius)
    return Mesh.from_arrays(made.vertices, made.faces)


def box(*size, low=(0.0, 0.0, 0.0)):
    return as_mesh(Manifold.cube(size).translate((-size[0] / 2.0 + low[0], -size[1] / 2.0 + low[1], low[2])))


def clearance(buck, body, *, trim=0.0, padding=0.0, wanted=2.0, true=1.0, side="inside", closed=True, **more):
    sheet = buck_side(buck, trim)
    return measure_clearance(
        sheet,
        np.full(sheet.vertex_count, more.pop("thick", 1.0)),
        body,
        buck=buck,
        closed=closed,
        trim_mm=trim,
        side=side,
        source="buck",
        padding_mm=padding,
        wanted_mm=wanted,
        true=true,
        **more,
    )


def test_two_balls_one_in_the_other_are_apart_by_their_radii():
    """Corners of the outer ball lie on it; the inner one's faces inside of theirs by less than 0.11 mm."""
    found = clearance(ball(50.0), ball(44.0), padding=1.5)
    assert found.least_mm == pytest.approx(4.5, abs=0.11)
    assert found.mean_mm == pytest.approx(4.5, abs=0.11)
    assert found.clearance_mm[found.part].max() < 4.5 + 0.11
    assert not found.places and found.short_share == found.touch_share == 0.0


def test_a_box_over_a_box_is_exact_and_told_in_the_size_of_the_part():
    """Walls 5 mm apart, tops 3 mm; a part that shrinks by a twentieth has 0.95 of that."""
    found = clearance(box(60.0, 50.0, 33.0), box(50.0, 40.0, 30.0), true=0.95, wanted=4.0)
    assert found.least_mm == pytest.approx(0.95 * 3.0, abs=1e-9)
    assert found.least_at_mm[2] == pytest.approx(33.0)
    top = found.part & (np.abs(found.surface.vertices[:, 2] - 33.0) < 1e-9)
    over = top & (np.abs(found.surface.vertices[:, :2]) <= [25.0, 20.0]).all(axis=1)
    assert found.clearance_mm[over] == pytest.approx(0.95 * 3.0)
    (place,) = found.places  # what lacks is one place: the top, as far as it is nearer than 4 mm
    assert place.least_mm == pytest.approx(2.85) and not place.touches


def test_the_other_side_of_the_sheet_counts_for_a_body_around_the_part():
    """A cup of 40 mm in a sleeve of 44 mm inside: 2 mm less the sheet of 1.2 mm; as a solid and as a skin."""
    cup = as_mesh(Manifold.cylinder(20.0, 20.0, 20.0, 96))
    sleeve = Manifold.cylinder(60.0, 25.0, 25.0, 96) - Manifold.cylinder(60.0, 22.0, 22.0, 96)
    solid = as_mesh(sleeve.translate((0.0, 0.0, -20.0)))
    found = clearance(cup, solid, side="outside", thick=1.2)
    assert found.least_mm == pytest.approx(0.8, abs=0.02)
    tube = trimesh.creation.cylinder(radius=22.0, height=60.0, sections=96, cap=False)
    wall = np.abs(tube.face_normals[:, 2]) < 0.5
    skin = Mesh.from_arrays(tube.vertices, tube.faces[wall])
    again = clearance(cup, skin, side="outside", thick=1.2, closed=False)
    assert again.least_mm == pytest.approx(found.least_mm, abs=0.02)


UNIT = st.tuples(*3 * [st.floats(-1.0, 1.0)])


@settings(max_examples=3)
@given(at=UNIT, turn=st.floats(0.0, 6.0), size=st.floats(0.6, 1.0))
def test_the_least_room_is_that_of_the_exact_gap_between_two_solids(at, turn, size):
    """manifold3d's gap between the body and what the buck is cut out of."""
    buck = Manifold.sphere(40.0, 48).trim_by_plane((0.0, 0.0, 1.0), 0.0)
    body = Manifold.cube((24.0, 20.0, 20.0), center=True).rotate((0.0, 0.0, np.degrees(turn)))
    move = np.array(at) * [4.0, 4.0, 3.0] + [0.0, 0.0, 15.0]
    body = body.scale((size, size, size)).translate(tuple(move.tolist()))
    around = Manifold.cube((200.0, 200.0, 200.0), center=True) - Manifold.sphere(40.0, 48)
    exact = around.min_gap(body, 100.0)
    found = clearance(as_mesh(buck), as_mesh(body))
    cell = 2.0  # of the surface asked, at most
    assert exact - 1e-6 <= found.least_mm <= exact + cell**2 / (8.0 * exact) + 0.01


@settings(max_examples=2)
@given(turn=st.floats(-180.0, 180.0), move=UNIT)
def test_turning_about_the_pull_and_moving_change_nothing(turn, move):
    buck, body = box(60.0, 50.0, 33.0), ball(16.0, fine=2)
    body = Mesh(body.vertices + np.array([4.0, -3.0, 12.0]), body.faces)
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.from_euler("z", turn, degrees=True).as_matrix()
    matrix[:2, 3] = np.array(move[:2]) * 100.0
    before, after = clearance(buck, body), clearance(buck.transformed(matrix), body.transformed(matrix))
    assert after.least_mm == pytest.approx(before.least_mm, abs=1e-9)
    assert after.mean_mm == pytest.approx(before.mean_mm, abs=1e-6)


def test_what_presses_is_a_place_of_its_own_and_a_spike_between_corners_counts():
    buck = box(60.0, 50.0, 33.0)
    posts = Manifold.cube((6.0, 6.0, 35.0)).translate((-20.0, -3.0, 0.0))
    posts += Manifold.cube((6.0, 6.0, 34.0)).translate((14.0, -3.0, 0.0))
    found = clearance(buck, as_mesh(posts))
    assert [place.touches for place in found.places] == [True, True]
    assert [round(place.least_mm, 6) for place in found.places] == [-2.0, -1.0]
    assert found.places[0].at_mm[0] < 0.0 < found.places[1].at_mm[0]
    assert found.touch_share > 0.0
    spike = as_mesh(Manifold.cylinder(32.5, 0.2, 0.0, 8).translate((1.03, 0.77, 0.0)))
    assert clearance(buck, spike).least_mm == pytest.approx(0.5, abs=1e-9)
    (place,) = clearance(buck, spike, wanted=0.525).places  # no vertex of the sheet is that near
    assert (place.least_mm, place.area_mm2) == (pytest.approx(0.5, abs=1e-9), 0.0)
    assert draw_clearance(found, title="Two posts")["clearance.png"].startswith(b"\x89PNG")


def test_a_trim_line_that_follows_rises_over_the_body_and_cuts_off_what_is_too_near():
    """A bar of 12 mm radius through the wall of a drum: the edge 1 mm off it rises 13 mm."""
    buck = as_mesh(Manifold.cylinder(40.0, 50.0, 50.0, 160))
    lying = Manifold.cylinder(60.0, 12.0, 12.0, 128).rotate((0.0, 90.0, 0.0))
    bar = as_mesh(lying.translate((20.0, 0.0, 0.0)))
    found = clearance(buck, bar, edge_mm=1.0, wanted=3.0)
    assert found.least_mm >= 1.0 and not found.places
    # what is cut off does not count, also where the body has vertices that lie on it
    fine = as_mesh(lying.translate((20.0, 0.0, 0.0)).refine_to_length(1.5))
    assert clearance(buck, fine, edge_mm=1.0, wanted=3.0).least_mm >= 0.95
    level = trim_curve(None, None, buck, 0.02, sheet_mm=1.0)
    curve = rising_curve(level, found.surface, found.clearance_mm, 1.0)
    assert curve.rises_mm == pytest.approx(13.0, abs=0.05)
    assert curve.points[np.argmax(curve.points[:, 2]), :2] == pytest.approx([50.0, 0.0], abs=0.5)
    far = gaps_to(curve.points, bar)
    assert far.min() == pytest.approx(1.0, abs=0.03)
    away = curve.points[:, 0] < 0.0
    assert np.ptp(curve.points[away, 2]) < 1e-9
    apart = curve.beside(2.0)
    assert np.hypot(*apart[:, :2].T) == pytest.approx(53.0, abs=0.08)
    assert apart[:, 2].max() == pytest.approx(curve.points[:, 2].max(), abs=0.1)
    assert rising_curve(level, found.surface, np.full(found.surface.vertex_count, 9.0), 1.0) is level


def test_a_field_is_cut_where_it_passes_a_level():
    part = box(4.0, 4.0, 4.0)
    (ring,) = level_cut(part, 0.25, values=part.vertices[:, 0])
    assert ring[:, 0] == pytest.approx(0.25) and np.ptp(ring[:, 2]) == pytest.approx(4.0)
