"""Draft after sculpting, the handle that turns the pull, and the value under the mouse."""

import sys
from pathlib import Path

import bpy
from bpy_extras import view3d_utils
from mathutils import Vector

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts


def script() -> drive.Script:
    """Leave Sculpt Mode, drag the arrow, undo, read, Esc."""
    yield from parts.new_file_with_monkey()
    scene = bpy.context.scene
    overlay = parts.module("view.overlay")
    parts.module("view.view_settings").of(scene).live = True
    yield from parts.sculpt_a_stroke()
    yield from drive.until(
        lambda: (one := overlay.shown(scene)) is not None and one.live, seconds=5, words="draft by itself"
    )
    shares = overlay.shown(scene).shares
    drive.expect(abs(sum(shares) - 1.0) < 1e-6 and shares[2] > 0.2, f"shares of the draft: {shares}")
    yield from drive.picture("09_live_draft")

    yield from parts.open_only("Colors")
    yield from parts.press("buckwright.read_values", near=parts.READ_VALUES)
    drive.expect(_reading(), "nothing is read")
    x, y = drive.middle()
    yield from drive.move(x - 30, y - 40)
    yield from drive.move(x - 34, y - 42)
    yield from drive.picture("10_read_values")
    yield from drive.keys("Escape")
    drive.expect(not _reading(), "Esc did not end the reading")

    parts.module("view.view_settings").of(scene).turn = True
    pull = parts.module("scene.settings").of(scene).pull
    pull.direction = "Z"
    bpy.ops.ed.undo_push(message="Pull set for the test")
    yield from _drag_arrow()
    scene = bpy.context.scene
    pull = parts.module("scene.settings").of(scene).pull
    drive.expect(pull.direction == "VECTOR", f"the pull is {pull.direction} after dragging")
    drive.expect(pull.direction_vector[2] < 0.995, f"hardly turned: {tuple(pull.direction_vector)}")
    yield from drive.picture("11_pull_turned")
    yield from drive.move(*drive.middle())
    yield from drive.keys("ctrl+z")
    yield 0.5
    pull = parts.module("scene.settings").of(bpy.context.scene).pull
    drive.expect(pull.direction == "Z", f"the pull is {pull.direction} after undo")


def _reading() -> bool:
    window = bpy.context.window_manager.windows[0]
    return any(one.bl_idname == "BUCKWRIGHT_OT_read_values" for one in window.modal_operators)


def _drag_arrow() -> drive.Script:
    """Take the arrow by its shaft and pull it to the right; the view shows more of the room above before."""
    area, region = drive.viewport(), drive.main_region()
    area.spaces.active.region_3d.view_distance *= 1.8
    yield 1.0
    gizmo = parts.module("view.gizmo")
    centre, radius = gizmo.centre_and_radius(bpy.data.objects["Suzanne"])
    place = centre + Vector((0.0, 0.0, 0.9 * radius))
    spot = view3d_utils.location_3d_to_region_2d(region, area.spaces.active.region_3d, place)
    drive.expect(spot is not None, "the arrow is out of sight")
    x, y = region.x + spot.x, drive.from_bottom(region.y + spot.y)
    yield from drive.move(x - 4, y - 3)
    yield from drive.move(x, y)
    yield 0.5
    yield from drive.drag((x, y), (x + 110, y + 40), let_go=False)
    yield from drive.picture("11_pull_turning")
    drive._tool("mouseup", 1)
    yield 0.5


drive.run(script)
