"""Setups by mouse: a monkey is looked at, its setups are shown with pictures, a click takes the second."""

import sys
from pathlib import Path

import bpy
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts


def script() -> drive.Script:
    """Look, open the setups, take the second, look again."""
    yield from parts.new_file_with_monkey()
    yield from parts.press("buckwright.look", near=parts.LOOK)
    yield from parts.wait_for_run("look", picture="setups_during_look")
    yield from parts.wait_for_colours()
    scene = bpy.context.scene
    offered = parts.results().of(scene).setups
    drive.expect(len(offered) > 1, f"{len(offered)} setups")
    yield from parts.open_only("Setups")
    yield 1.0
    yield from drive.picture("setups_offered")
    pulled = parts.results().facts(scene)["pull"]
    yield from parts.press("buckwright.take_setup", argument="number=2", near=parts.LOOK)
    taken = parts.module("scene.setup_choices").is_taken
    yield from drive.until(lambda: taken(scene, 2), seconds=5, words="setup 2 is taken")
    sign = parts.module("view.pull_sign").sign_of
    way = np.array(sign(scene).tip) - sign(scene).arrow[0]
    asked = np.array(offered[1].direction)
    drive.expect(way @ asked > 0.999 * np.linalg.norm(way), f"the arrow does not follow the click: {way}")
    yield from drive.picture("setups_taken")
    yield from parts.open_only("Sculpt")
    yield from parts.press("buckwright.look", near=parts.LOOK)
    yield from parts.wait_for_run("look", picture="setups_during_second_look")
    yield from parts.wait_for_colours()
    depth = parts.results().of(scene).setups[1].words
    drive.expect(
        parts.results().facts(scene)["pull"] != pulled or depth.startswith("sunk"),
        "setup 2 is the same as setup 1",
    )
    yield from parts.open_only("Findings")
    yield from drive.picture("setups_second_look")


drive.run(script)
