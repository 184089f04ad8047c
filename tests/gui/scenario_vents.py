"""A vent by the mouse: a buck is made, Add Vent is pressed, a click on the buck places it."""

import sys
from pathlib import Path

import bpy
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts
from mathutils import Vector

ADD_VENT = (1243.0, 678.0)


def script() -> drive.Script:
    """Make, add a vent, look down the pull."""
    yield from parts.new_file_with_monkey()
    scene = bpy.context.scene
    parts.module("scene.settings").of(scene).pull.direction = "Z"
    yield from parts.press("buckwright.make", near=parts.MAKE)
    yield from parts.wait_for_run("make", picture="vents_during_make")
    (buck,) = parts.results().objects(scene, "BUCK")
    drive.expect(bpy.context.view_layer.objects.active == buck, "the buck is not active")
    marks = parts.module("scene.hand_marks")
    before = {one.name for one in marks.vent_objects(scene)}

    yield from parts.press("buckwright.add_vent", near=ADD_VENT)
    x, y = drive.middle()
    yield from drive.move(x - 40, y - 60)
    yield from drive.picture("vents_pointing")
    drive.expect({one.name for one in marks.vent_objects(scene)} == before, "a vent before the click")
    yield from drive.click(x - 40, y - 60)
    yield 0.5
    added = [one for one in marks.vent_objects(scene) if one.name not in before]
    drive.expect(len(added) == 1, f"{len(added)} vents were added")
    _expect_on(buck, added[0].matrix_world.translation)
    yield from drive.move(x, y)
    yield from drive.keys("KP_7")
    yield 1.0
    yield from drive.picture("vents_down_the_pull")


def _expect_on(buck: bpy.types.Object, place: Vector) -> None:
    found, near, _normal, _face = buck.closest_point_on_mesh(buck.matrix_world.inverted() @ place)
    drive.expect(found, "the buck has no faces")
    away = float(np.linalg.norm(np.array(buck.matrix_world @ near) - np.array(place)))
    drive.expect(away < 1e-4, f"the vent is {1000 * away:.2f} mm off the buck")


drive.run(script)
