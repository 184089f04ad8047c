"""The first ten minutes of someone who has a relief: one surface, open below, from another program."""

import sys
from pathlib import Path

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import first_minutes
import parts

UNIT = (1098.0, 198.0)


def script() -> drive.Script:
    """Install, import into a new scene, say that a unit is a millimetre, and all steps."""
    minutes = first_minutes.Minutes("relief")
    yield from minutes.install()
    yield from parts.new_file()
    bpy.ops.wm.ply_import(filepath=str(first_minutes.SCULPTS / "relief.ply"))
    bpy.context.object.name, bpy.context.object["user_sculpt"] = "Valley", True
    bpy.ops.ed.undo_push(message="Import")
    yield from minutes.opened(dots=1)  # "Height ... mm"
    yield from parts.press("buckwright.take_unit", near=UNIT)
    drive.expect(abs(bpy.context.scene.unit_settings.scale_length - 0.001) < 1e-9, "a unit is no millimetre")
    yield from minutes.picture("unit")
    yield from first_minutes.all_steps(minutes)


drive.run(script)
