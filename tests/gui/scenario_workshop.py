"""The workshop by mouse: frame and blank round a buck, a hole marked, a pull noted, the next suggested."""

import sys
from pathlib import Path

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts

PRESSED, NOTE, RIVET = (1165.0, 486.0), (1105.0, 606.0), (1095.0, 436.0)
"""Where the buttons of the panel are looked for first."""


def script() -> drive.Script:
    """Make for a large machine with a reducing set, show what stands round the buck, note a pull."""
    yield from parts.new_file_with_monkey()
    scene = bpy.context.scene
    own = scene.buckwright
    own.machine.profile, own.rig.reducing, own.group.copies = "SHOP_600", True, 2
    own.forecast.quality, own.pull.direction = "OFF", "Z"
    own.sculpt.auto_height_mm, own.sculpt.height_mm = False, 60.0
    yield from parts.open_only("Buck")
    yield from parts.press("buckwright.make", near=parts.LOOK)
    yield from parts.wait_for_run("make", picture="workshop_during_make")
    yield from parts.open_only("Workshop")
    yield 1.0
    yield from drive.picture("workshop_panel")
    yield from _mark_a_rivet(scene)
    yield from parts.press("buckwright.show_workshop", near=PRESSED)
    workshop = parts.module("scene.workshop")
    yield from drive.until(lambda: workshop.are_seen(scene), seconds=5, words="the workshop is shown")
    yield from drive.move(*drive.middle())
    for one in scene.objects:
        one.select_set(one.name.startswith(("Clamp Frame", "Sheet Blank", "Frame Opening")))
    yield from drive.keys("KP_Decimal")
    yield 1.5
    yield from drive.picture("workshop_shown")
    bpy.ops.wm.save_as_mainfile(filepath=str(drive.OUT / "workshop.blend"))
    for left in drive.OUT.glob("*.pulls.toml"):
        left.unlink()
    drive.sidebar().tag_redraw()  # nothing else tells it that the file has a place now
    yield 1.0
    yield from parts.press("buckwright.note_pull", near=NOTE)
    yield 1.0
    yield from drive.picture("workshop_note")
    yield from drive.keys("Escape")
    bpy.ops.buckwright.note_pull(heat_s="62", sag_s="40", sag_mm="60", stiff_s="14", fill="2", web="2")
    told = parts.module("scene.pull_log").told
    yield from drive.until(lambda: told(scene), seconds=60, words="the log is read")
    yield 1.0
    yield from drive.picture("workshop_log")
    drive.expect(told(scene)["pulls"] == 1, "one pull is told")


def _mark_a_rivet(scene: bpy.types.Scene) -> drive.Script:
    """Press Rivet, click on the buck."""
    markers = parts.module("scene.hole_markers").markers
    yield from parts.press("buckwright.add_hole", near=RIVET, argument="kind='RIVET'")
    x, y = drive.middle()
    yield from drive.click(x - 30, y - 40)
    yield 0.8
    drive.expect(len(markers(scene, "rivet")) == 1, f"{len(markers(scene, 'rivet'))} rivets were marked")
    yield from drive.picture("workshop_hole")


drive.run(script)
