"""The main job by mouse and keys: from File > New to an exported STL, on Suzanne, sculpted on the spot."""

import sys
from pathlib import Path

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts


def script() -> drive.Script:
    """New file, monkey, a stroke in Sculpt Mode, look, colours, make, export."""
    yield from parts.new_file_with_monkey()
    before = parts.shape()
    yield from parts.sculpt_a_stroke()
    drive.expect(parts.shape() != before, "the stroke changed nothing")
    yield from drive.picture("01_first_open")

    yield from parts.press("buckwright.look", near=parts.LOOK)
    yield from parts.wait_for_run("look", picture="02_during_look")
    drive.expect(parts.results().of(bpy.context.scene).made == "LOOK", "there is no look")
    yield from parts.wait_for_colours()
    yield from drive.picture("03_after_look")

    yield from parts.press("buckwright.make", near=parts.MAKE)
    yield from parts.wait_for_run("make", picture="04_during_make")
    drive.expect(parts.results().of(bpy.context.scene).made == "MAKE", "there is no buck")
    drive.expect(len(parts.results().objects(bpy.context.scene, "BUCK")) == 1, "the buck is missing")
    yield from parts.wait_for_colours()
    yield from drive.picture("05_after_make")
    yield from parts.expect_one_screen()

    folder = drive.OUT / "exported"
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.iterdir():
        old.unlink()
    yield from parts.export_to(folder, picture="06_file_browser")
    yield from parts.wait_for_run("make", picture="06_during_export")
    yield from drive.picture("07_after_export")
    parts.expect_files(folder)

    yield from parts.undo_all()
    drive.expect(not parts.results().objects(bpy.context.scene, "BUCK"), "undo left the buck")
    drive.expect(not bpy.data.objects["Suzanne"].hide_get(), "undo left the sculpt hidden")
    drive.expect(parts.shape() != before, "undo went too far")


drive.run(script)
