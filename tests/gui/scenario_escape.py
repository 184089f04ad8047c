"""Esc in the middle of making a buck: it stops within half a second, and nothing is left."""

import sys
import time
from pathlib import Path

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts


def script() -> drive.Script:
    """Make, wait for some progress, press Esc."""
    yield from parts.new_file_with_monkey()
    objects = sorted(obj.name for obj in bpy.data.objects)
    meshes, collections = len(bpy.data.meshes), len(bpy.data.collections)
    yield from parts.press("buckwright.make", near=parts.MAKE)
    running = parts.module("scene.running")
    yield from drive.until(lambda: running.now() is not None, seconds=20, words="the run begins")
    work = running.now()
    yield from drive.until(
        lambda: work.whole > 0.03 or running.now() is None, seconds=300, words="some progress"
    )
    drive.expect(running.now() is work, f"the run ended by itself: {running.trouble()}")
    process = work.process_id()
    yield from drive.move(*drive.middle())
    pressed = time.monotonic()
    yield from drive.keys("Escape")
    yield from drive.until(lambda: running.now() is None, seconds=5, words="the run ends")
    took = time.monotonic() - pressed
    sys.stdout.write(f"stopped {took:.2f} s after the key\n")
    yield from drive.picture("08_after_escape")
    drive.expect(not Path(f"/proc/{process}").exists(), "the child is still there")
    drive.expect(sorted(obj.name for obj in bpy.data.objects) == objects, "objects are left")
    drive.expect(len(bpy.data.meshes) == meshes, "meshes are left")
    drive.expect(len(bpy.data.collections) == collections, "a collection is left")
    left = [path.name for path in Path(bpy.app.tempdir).glob("buckwright-*")]
    drive.expect(not left, f"left in the temporary folder: {left}")


drive.run(script)
