"""A take-up block placed by a click and scaled by keys, made as it stands; a porous top; a fan hole."""

import sys
from pathlib import Path

import bpy
import numpy as np
from bpy_extras import view3d_utils
from mathutils import Vector

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts

MORE = (parts.HEADER_X + 20, 394.0)
"""The header within the panel of the buck, while nothing else is open."""
ADD = (1243.0, 210.0)
FAN = (1230.0, 436.0)


def script() -> drive.Script:
    """Make with a porous top, add a block, make again, mark a fan hole."""
    yield from parts.new_file_with_monkey()
    scene = bpy.context.scene
    own = scene.buckwright
    own.forecast.quality, own.pull.direction, own.porous.enabled = "OFF", "Z", True
    own.sculpt.auto_height_mm, own.sculpt.height_mm = False, 60.0
    yield from parts.open_only("Buck")
    yield from parts.press("buckwright.make", near=parts.LOOK)
    yield from parts.wait_for_run("make", picture="blocks_during_first")
    yield from parts.open_only("Findings")
    yield from drive.picture("blocks_porous_top")
    yield from _add_block(scene)
    own.take_up.enabled = False
    yield from drive.keys("s", "1", "period", "5", "Return")
    yield from parts.open_only("Buck")
    yield from drive.picture("blocks_added")
    yield from parts.press("buckwright.make", near=parts.LOOK)
    yield from parts.wait_for_run("make", picture="blocks_during_second")
    blocks = parts.module("scene.hand_marks").block_objects(scene)
    drive.expect(len(blocks) == 1 and own.blocks_by_hand, f"{len(blocks)} blocks after making again")
    rows = parts.module("scene.job_tables").blocks_at_mm(scene)
    drive.expect(abs(rows[0][3] - 6.0) < 0.01, f"the radius is {rows[0][3]} mm instead of 1.5 times 4")
    yield from drive.move(*drive.middle())
    yield from drive.picture("blocks_made")
    yield from drive.click(*MORE)
    yield from drive.picture("blocks_more")
    yield from _mark_a_fan(scene)


def _add_block(scene: bpy.types.Scene) -> drive.Script:
    """Switch blocks on, look down the pull, press Add, click on the flange at the right of the buck."""
    scene.buckwright.take_up.enabled = True
    yield from parts.open_only("Buck")
    (buck,) = parts.results().objects(scene, "BUCK")
    yield from drive.move(*drive.middle())
    yield from drive.keys("KP_7", "KP_Decimal")
    yield 1.0
    yield from parts.press("buckwright.add_block", near=ADD)
    places = np.array([buck.matrix_world @ one.co for one in buck.data.vertices])
    at = Vector(places[places[:, 0].argmax()])
    at.x -= 0.05 * np.ptp(places[:, 0])
    view = drive.viewport().spaces.active.region_3d
    spot = view3d_utils.location_3d_to_region_2d(drive.main_region(), view, at)
    drive.expect(spot is not None, "the flange is out of sight")
    yield from drive.click(drive.main_region().x + spot.x, drive.from_bottom(drive.main_region().y + spot.y))
    yield 0.5
    blocks = parts.module("scene.hand_marks").block_objects(scene)
    drive.expect(len(blocks) == 1 and blocks[0].select_get(), f"{len(blocks)} blocks after a click")


def _mark_a_fan(scene: bpy.types.Scene) -> drive.Script:
    markers = parts.module("scene.hole_markers").markers
    yield from parts.open_only("Workshop")
    yield from parts.press("buckwright.add_hole", near=FAN, argument="kind='FAN'")
    x, y = drive.middle()
    yield from drive.click(x - 20, y)
    yield 0.8
    drive.expect(len(markers(scene, "fan")) == 1, f"{len(markers(scene, 'fan'))} fan holes were marked")
    yield from drive.picture("blocks_fan_hole")


drive.run(script)
