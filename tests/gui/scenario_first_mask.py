"""The first ten minutes of someone who has sculpted a mask in Blender, in a scene of millimetres."""

import sys
from pathlib import Path

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import first_minutes
import parts

TRASH = (1264.0, 600.0)


def script() -> drive.Script:
    """Install, open the file, look and take that back, so that the next look is a warm one; all steps."""
    minutes = first_minutes.Minutes("mask")
    yield from parts.new_file()
    _save_mask(drive.OUT / "sculpts" / "mask.blend")
    yield from minutes.install()
    bpy.ops.wm.open_mainfile(filepath=str(drive.OUT / "sculpts" / "mask.blend"), load_ui=False)
    yield 1.5
    yield from minutes.opened()
    yield from minutes.look("cold")
    yield from parts.press("buckwright.remove_results", near=TRASH)
    yield from first_minutes.all_steps(minutes)


def _save_mask(path: Path) -> None:
    """The file that the user comes with."""
    units = bpy.context.scene.unit_settings
    units.scale_length, units.length_unit = 0.001, "MILLIMETERS"
    bpy.ops.wm.stl_import(filepath=str(first_minutes.SCULPTS / "mask.stl"))
    bpy.context.object.name, bpy.context.object["user_sculpt"] = "Heron Mask", True
    bpy.ops.wm.save_as_mainfile(filepath=str(path), check_existing=False)


drive.run(script)
