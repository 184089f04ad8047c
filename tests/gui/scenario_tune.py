"""Better settings taken over by a click, and a female mould of a mirrored sculpt, cavity up."""

import sys
from pathlib import Path

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts

TAKE = (1165.0, 420.0)
"""Where the button of the first variant is looked for first."""
_FOUND = {
    "tune": {
        "ranked": [
            {
                "name": "riser_mm-8_gap_mm-20",
                "title": "Riser 8 mm, Gap 20 mm",
                "changes": {"base.riser_mm": 8.0, "forecast.gap_mm": 20.0},
                "words": "Better: print 459 g instead of 492 g. Worse in nothing.",
                "faults": [],
            },
            {
                "name": "riser_mm-25_thickness_mm-1.5",
                "title": "Riser 25 mm, Thickness 1.5 mm",
                "changes": {"base.riser_mm": 25.0, "sheet.thickness_mm": 1.5},
                "words": "Better: weakest spot 0.35 mm instead of 0.22 mm. Worse: print 512 g, not 492.",
                "faults": ["a web crosses the trim line"],
            },
        ],
        "own": "as_set",
        "page": "",
    }
}


def script() -> drive.Script:
    """Look, take a variant over, make a mould."""
    yield from parts.new_file_with_monkey()
    scene = bpy.context.scene
    own = scene.buckwright
    own.forecast.quality, own.pull.direction = "OFF", "Z"
    own.sculpt.auto_height_mm, own.sculpt.height_mm = False, 60.0
    yield from parts.open_only("Sculpt")
    yield from parts.press("buckwright.look", near=parts.LOOK)
    yield from parts.wait_for_run("look", picture="tune_during_look")
    parts.module("scene.tuning").keep(scene, _FOUND)
    yield from parts.open_better_settings()
    yield 1.0
    yield from drive.picture("tune_panel")
    yield from parts.press("buckwright.take_variant", argument="number=1", near=TAKE)
    yield from drive.until(lambda: own.base.riser_mm == 8.0, seconds=5, words="the riser is taken over")
    drive.expect(own.forecast.gap_mm == 20.0, "the gap is taken over")
    own.mould.form, own.sculpt.mirror = "FEMALE", "X"
    yield from parts.open_only("Buck")
    yield 1.0
    yield from drive.picture("tune_buck_panel")
    yield from parts.press("buckwright.make", near=parts.LOOK)
    yield from parts.wait_for_run("make", picture="tune_during_make")
    yield from drive.move(*drive.middle())
    yield 1.0
    yield from drive.picture("tune_mould")


drive.run(script)
