"""Better settings, sought and taken over: two variants for a small monkey are tried and compared."""

import sys
from pathlib import Path

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts


def script() -> drive.Script:
    """Look, search, take the best over."""
    yield from parts.new_file_with_monkey()
    scene = bpy.context.scene
    own = scene.buckwright
    own.forecast.quality, own.pull.direction = "PREVIEW", "Z"
    own.sculpt.auto_height_mm, own.sculpt.height_mm = False, 40.0
    yield from parts.open_only("Sculpt")
    yield from parts.press("buckwright.look", near=parts.LOOK)
    yield from parts.wait_for_run("look", picture="search_during_look")
    yield from parts.open_better_settings()
    yield 0.5
    yield from drive.picture("search_before")
    parts.start("tune", variants=2)
    yield from parts.wait_for_run("tune", picture="search_meanwhile")
    told = parts.module("scene.tuning").told(scene)
    drive.expect(told["ranked"], "nothing was compared")
    yield from drive.picture("search_found")
    yield from parts.press("buckwright.take_variant", near=parts.LOOK)
    yield 0.5
    yield from drive.picture("search_taken")


drive.run(script)
