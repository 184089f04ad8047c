"""The first ten minutes of someone who has downloaded a head: 34 units high, and nobody knows of what."""

import sys
from pathlib import Path

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import first_minutes
import parts

HEIGHT_MM = 120.0


def script() -> drive.Script:
    """Install, import into a new scene, say how high the part is to be, and all steps."""
    minutes = first_minutes.Minutes("head", setup=2)
    yield from minutes.install()
    yield from parts.new_file()
    bpy.ops.wm.obj_import(filepath=str(first_minutes.SCULPTS / "head.obj"))
    bpy.context.object.name, bpy.context.object["user_sculpt"] = "Faun", True
    bpy.ops.ed.undo_push(message="Import")
    yield from minutes.opened(dots=1)  # "Height ... mm"
    place = yield from parts.find("buckwright.want_height", near=parts.LOOK)
    yield from drive.click(*place)
    yield 0.5
    yield from _type_height(*place)
    own = parts.module("scene.settings").of(bpy.context.scene).sculpt
    drive.expect(abs(own.height_mm - HEIGHT_MM) < 1e-3, f"the height is {own.height_mm} mm")
    yield from minutes.picture("height")
    yield from first_minutes.all_steps(minutes)


def _type_height(x: float, y: float) -> drive.Script:
    """The dialog opens with its field at the mouse; then OK."""
    yield from drive.click(x - 50, y + 9, times=2)
    yield from drive.keys("ctrl+a")
    yield from drive.write(f"{HEIGHT_MM:g}")
    yield from drive.picture("first_head_height_asked")
    yield from drive.keys("Return", "Return")
    yield 0.5


drive.run(script)
