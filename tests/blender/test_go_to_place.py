"""The view goes to a place: near, from where it is seen, and marks it."""

from types import SimpleNamespace

import bpy
import numpy as np
import pytest
from mathutils import Euler, Vector


@pytest.fixture
def window(addon, monkeypatch):
    """A viewport as Blender makes one, for a process that has no window."""
    region_3d = SimpleNamespace(
        view_perspective="PERSP",
        view_location=Vector(),
        view_distance=0.2,
        view_rotation=Euler((1.1, 0.0, 0.8)).to_quaternion(),
    )
    space = SimpleNamespace(region_3d=region_3d, clip_start=0.01, lens=50.0)
    area = SimpleNamespace(spaces=SimpleNamespace(active=space), tag_redraw=lambda: None)
    monkeypatch.setattr(addon.view.go_to_place, "viewport", lambda _context: area)
    return space


def _box(low, high):
    corners = [[(low, high)[k >> axis & 1][axis] for axis in range(3)] for k in range(8)]
    quads = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    return corners, [t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))]


def _sculpt(addon, scene, boxes, region_of):
    """Boxes as a sculpt with a look's result; `region_of` tells the region of a face's middle and normal."""
    vertices, faces = [], []
    for low, high in boxes:
        corners, triangles = _box(np.array(low), np.array(high))
        faces += [tuple(len(vertices) + k for k in one) for one in triangles]
        vertices += corners
    mesh = bpy.data.meshes.new("Sculpt")
    mesh.from_pydata(vertices, [], faces)
    sculpt = bpy.data.objects.new("Sculpt", mesh)
    scene.collection.objects.link(sculpt)
    found = mesh.copy()
    regions = [region_of(np.array(one.center), np.array(one.normal)) for one in mesh.polygons]
    found.attributes.new("buckwright_region", "INT", "FACE").data.foreach_set("value", regions)
    states = [0 if one < 0 else 2 for one in regions]
    found.attributes.new("buckwright_state", "INT", "FACE").data.foreach_set("value", states)
    inspection = bpy.data.objects.new("Inspection", found)
    scene.collection.objects.link(inspection)
    inspection.hide_viewport = True
    addon.scene.results.claim(scene, inspection, "INSPECTION")
    kept = addon.scene.results.of(scene)
    kept.made = "LOOK"
    kept.sculpts.add().object = sculpt
    region = kept.regions.add()
    region.number, region.centre = 0, (0.0, 0.0, 0.0)
    bpy.context.view_layer.update()
    return sculpt


def _seen(window, points):
    """Which points lines from the eye reach, asked of Blender's own rays."""
    view = window.region_3d
    eye = view.view_location + (view.view_rotation @ Vector((0.0, 0.0, 1.0))) * view.view_distance
    depsgraph = bpy.context.evaluated_depsgraph_get()
    hits = [
        bpy.context.scene.ray_cast(
            depsgraph, eye, Vector(point) - eye, distance=(Vector(point) - eye).length * 0.999
        )
        for point in points
    ]
    return [not hit[0] for hit in hits]


WALL = ((-0.02, -0.01, -0.01), (0.0, 0.01, 0.01))
SCREEN = ((0.004, -0.015, -0.03), (0.006, 0.03, 0.03))
"""A block of 20 mm whose wall at x = 0 is the region, and a plate of 2 mm that stands 4 mm before it."""
CORNERS = [(1e-5, y, z) for y in (-0.0095, 0.0, 0.0095) for z in (-0.0095, 0.0, 0.0095)]


def _is_wall(middle, normal):
    return 0 if abs(middle[0]) < 1e-6 and normal[0] > 0.9 else -1


def test_a_region_behind_a_plate_is_looked_at_past_the_plate(addon, scene, window):
    _sculpt(addon, scene, [WALL, SCREEN], _is_wall)
    window.region_3d.view_rotation = addon.view.go_to_place.facing(Vector((1.0, 0.0, 0.0)))
    assert sum(_seen(window, CORNERS)) == 0, "what the region looks at is the plate"
    assert addon.view.go_to_place.show_region(bpy.context)
    # Only a slit of 4 mm is open: not all of 20 mm is seen through it from near, but most.
    assert sum(_seen(window, CORNERS)) >= 6


def test_the_view_comes_as_near_as_the_place_is_small(addon, scene, window):
    _sculpt(addon, scene, [WALL], _is_wall)
    addon.view.go_to_place.show_region(bpy.context)
    size = 0.02 * np.sqrt(2.0)
    assert size < window.region_3d.view_distance < 4.0 * size
    assert all(_seen(window, CORNERS))
    assert tuple(window.region_3d.view_location) == pytest.approx((0.0, 0.0, 0.0), abs=1e-6)


@pytest.mark.parametrize("lens", [50.0, 100.0])
def test_a_tiny_region_keeps_clear_of_the_start_of_clipping(addon, scene, window, lens):
    tiny = ((-0.002, -0.001, -0.001), (0.0, 0.001, 0.001))
    _sculpt(addon, scene, [tiny], _is_wall)
    window.lens = lens
    addon.view.go_to_place.show_region(bpy.context)
    assert window.clip_start + 0.001 < window.region_3d.view_distance < 0.03


def test_a_view_that_shows_the_place_already_is_not_turned(addon, scene, window):
    _sculpt(addon, scene, [WALL], _is_wall)
    before = addon.view.go_to_place.facing(Vector((1.0, 0.4, 0.3)))
    window.region_3d.view_rotation = before.copy()
    addon.view.go_to_place.show_region(bpy.context)
    assert window.region_3d.view_rotation == before


def test_without_perspective_the_lines_of_sight_are_parallel(addon, scene, window):
    """From near the plate would leave most of the wall free; parallel lines are kept off it."""
    _sculpt(addon, scene, [WALL, ((0.03, -0.008, -0.008), (0.031, 0.008, 0.008))], _is_wall)
    window.region_3d.view_perspective = "ORTHO"
    window.region_3d.view_rotation = addon.view.go_to_place.facing(Vector((1.0, 0.0, 0.0)))
    addon.view.go_to_place.show_region(bpy.context)
    along = window.region_3d.view_rotation @ Vector((0.0, 0.0, 1.0))
    depsgraph = bpy.context.evaluated_depsgraph_get()
    hits = [scene.ray_cast(depsgraph, Vector(point), along)[0] for point in CORNERS]
    assert not any(hits)


def test_a_region_is_sought_where_its_sculpt_is_now(addon, scene, window):
    sculpt = _sculpt(addon, scene, [WALL], _is_wall)
    addon.view.overlay.paint(scene)
    sculpt.location = (0.5, 0.0, 0.0)
    bpy.context.view_layer.update()
    addon.view.go_to_place.show_region(bpy.context)
    assert tuple(window.region_3d.view_location) == pytest.approx((0.5, 0.0, 0.0), abs=1e-6)


def test_what_the_view_went_to_is_marked_until_the_next_result(addon, scene, window):
    _sculpt(addon, scene, [WALL], _is_wall)
    highlight = addon.view.highlight
    assert highlight.shown(scene) is None
    addon.view.go_to_place.show_region(bpy.context)
    place = highlight.shown(scene)
    assert place.words == "Trapped Region 1"
    # Its outline is the square of the wall.
    ends = place.outline.reshape(-1, 2, 3)
    assert np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1).sum() == pytest.approx(0.08, rel=1e-5)
    addon.scene.write_results.remove(scene)
    assert highlight.shown(scene) is None


def test_a_buck_over_the_region_is_put_aside(addon, scene, window):
    sculpt = _sculpt(addon, scene, [WALL], _is_wall)
    buck = bpy.data.objects.new("Buck", sculpt.data.copy())
    scene.collection.objects.link(buck)
    addon.scene.results.claim(scene, buck, "BUCK")
    addon.scene.visibility.show_buck(scene)
    addon.view.go_to_place.show_region(bpy.context)
    assert buck.hide_get() and not sculpt.hide_get()


def _formed(addon, scene, role, corners):
    """A square of what a forecast leaves, which Blender does not show."""
    mesh = bpy.data.meshes.new(role)
    mesh.from_pydata(corners, [], [(0, 1, 2), (0, 2, 3)])
    one = bpy.data.objects.new(role, mesh)
    scene.collection.objects.link(one)
    one.hide_set(True)
    addon.scene.results.claim(scene, one, role)
    return one


def _weakest(scene, centre):
    spot = scene.buckwright_results.spots.add()
    spot.kind, spot.words, spot.centre, spot.size = "WEAKEST", "Weakest, 0.30 mm", centre, 0.008


@pytest.mark.parametrize("present", [(0.0, 0.0, -1.0), (0.3, 0.2, -1.0)])
def test_a_place_of_the_sheet_is_looked_at_from_its_outer_side(addon, scene, window, present):
    """A hollow buck under a sheet: from within, the place is as near and nothing is before it."""
    _sculpt(addon, scene, [WALL], _is_wall)
    _formed(addon, scene, "SHEET", [(-1, -1, 0.01), (1, -1, 0.01), (1, 1, 0.01), (-1, 1, 0.01)])
    _weakest(scene, (-0.01, 0.0, 0.0101))
    window.region_3d.view_rotation = addon.view.go_to_place.facing(Vector(present))
    addon.view.go_to_place.show_spot(bpy.context)
    assert (window.region_3d.view_rotation @ Vector((0.0, 0.0, 1.0))).z > 0.1
    assert addon.view.highlight.shown(scene).words == "Weakest, 0.30 mm"


@pytest.mark.parametrize("role", ["SHEET", "COAT"])
def test_what_is_drawn_over_a_place_hides_it_too(addon, scene, window, role):
    """A wall of the sheet or of the fill, which is no object that is shown, stands before the place."""
    _sculpt(addon, scene, [WALL], _is_wall)
    _formed(
        addon,
        scene,
        role,
        [(0.01, -0.03, -0.03), (0.01, 0.03, -0.03), (0.01, 0.03, 0.01), (0.01, -0.03, 0.01)],
    )
    _weakest(scene, (0.0, 0.0, 0.0))
    view = scene.buckwright_view
    before = addon.view.go_to_place.facing(Vector((1.0, 0.0, 0.1)))

    def crossing():
        """Height at which the line of sight crosses the plane of the wall."""
        window.region_3d.view_rotation = before.copy()
        addon.view.go_to_place.show_spot(bpy.context)
        along = window.region_3d.view_rotation @ Vector((0.0, 0.0, 1.0))
        return along / abs(along.x) * 0.01

    view.quantity = "STATE"
    assert crossing().z < 0.01, "the colors of the forecast are not shown, so nothing hides the place"
    view.quantity = "THICKNESS_MM"
    past = crossing()
    assert past.x < 0.0 or past.z > 0.01 or max(abs(past.y), -past.z) > 0.03
    if role == "SHEET":
        view.sheet_through = False
        assert crossing().z < 0.01


def test_a_place_of_the_sheet_is_shown_on_the_buck_under_it(addon, scene, window):
    sculpt = _sculpt(addon, scene, [WALL], _is_wall)
    sheet = _formed(addon, scene, "SHEET", [(-1, -1, 0.01), (1, -1, 0.01), (1, 1, 0.01), (-1, 1, 0.01)])
    buck = bpy.data.objects.new("Buck", sculpt.data.copy())
    scene.collection.objects.link(buck)
    buck.hide_set(True)
    addon.scene.results.claim(scene, buck, "BUCK")
    _weakest(scene, (-0.01, 0.0, 0.01))
    sheet.matrix_world = Euler((0.5, 0.0, 0.0)).to_matrix().to_4x4()  # a forecast of another pull
    addon.view.go_to_place.show_spot(bpy.context)
    assert buck.hide_get() and not sculpt.hide_get()
    sheet.matrix_world = buck.matrix_world.copy()
    addon.view.go_to_place.show_spot(bpy.context)
    assert not buck.hide_get() and sculpt.hide_get()


def test_a_place_in_a_corner_is_not_looked_at_from_within_the_wall(addon, scene, window):
    """The floor is all that is asked for, and half a millimetre beside it a thick wall begins."""
    floor, wall = ((-0.05, -0.05, -0.01), (0.0, 0.05, 0.0)), ((0.0005, -0.05, -0.01), (0.1, 0.05, 0.1))
    _sculpt(addon, scene, [floor, wall], _is_wall)
    finding = scene.buckwright_results.findings.add()
    finding.words, finding.has_place, finding.place = "Thin. Elsewhere too", True, (0.0, 0.0, 0.0)
    window.region_3d.view_rotation = addon.view.go_to_place.facing(Vector((0.5, 0.0, 1.0)))
    addon.view.go_to_place.show_finding(bpy.context, 0)
    view = window.region_3d
    eye = view.view_location + (view.view_rotation @ Vector((0.0, 0.0, 1.0))) * view.view_distance
    assert eye.x < 0.0005 and eye.z > 0.0
    assert addon.view.highlight.shown(scene).words == "Thin"


def test_samples_stand_for_equal_shares(addon):
    samples = addon.view.places.samples
    found = samples(np.array([1.0, 3.0, 0.0, 4.0]), 8)
    assert np.bincount(found, minlength=4).tolist() == [1, 3, 0, 4]
    assert samples(np.zeros(3), 8).tolist() == [0, 1, 2]


def test_points_of_a_triangle_are_spread_over_it(addon):
    corners = np.tile(np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]), (64, 1, 1))
    points = addon.view.places._within(corners)
    assert (points >= 0.0).all() and (points.sum(axis=1) <= 1.0).all()
    quarters = np.bincount(2 * (points[:, 0] > 0.5) + (points[:, 1] > 0.5), minlength=3)
    assert points.mean(axis=0) == pytest.approx((1 / 3, 1 / 3, 0.0), abs=0.02)
    assert quarters[0] == pytest.approx(32, abs=3) and quarters[1] == pytest.approx(16, abs=3)
