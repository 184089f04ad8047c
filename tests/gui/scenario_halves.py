"""A monkey in halves: planes with their pictures, one taken by a click, then turned, halved again."""

import sys
from pathlib import Path

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts


def script() -> drive.Script:
    """Halve, take the second plane, turn it, halve again."""
    yield from parts.new_file_with_monkey()
    scene = bpy.context.scene
    shape = parts.shape()
    parts.start("halve")
    yield from parts.wait_for_run("halves", picture="halves_during")
    planes = parts.results().of(scene).planes
    drive.expect(len(planes) > 1, f"{len(planes)} planes")
    drive.expect(len(_halves()) == 2, f"{len(_halves())} halves")
    yield from _see_all()
    yield from parts.open_only("Halves")
    yield from drive.picture("halves_offered")
    yield from parts.press("buckwright.take_plane", argument="number=2", near=parts.LOOK)
    choices = parts.module("scene.plane_choices")
    yield from drive.until(lambda: choices.is_taken(scene, 2), seconds=5, words="plane 2 is taken")
    (empty,) = parts.results().objects(scene, "PLANE")
    parts.module("scene.selection").select_only(bpy.context.view_layer, [empty])
    yield from drive.move(*drive.middle())
    yield from drive.keys("r", "x", "2", "0", "Return")
    yield 0.5
    drive.expect(choices.moved_plane(scene) == empty, "turning the empty moves no plane")
    yield from drive.picture("halves_turned")
    yield from parts.press("buckwright.halve", argument="again=True", near=parts.EXPORT)
    yield from parts.wait_for_run("halves", picture="halves_during_again")
    drive.expect(len(_halves()) == 4, f"{len(_halves())} halves after the second time")
    drive.expect(parts.shape() == shape, "the sculpt was changed")
    yield from _see_all()
    yield from drive.picture("halves_again")


def _halves() -> list[bpy.types.Object]:
    return [one for one in bpy.data.objects if " Half " in one.name]


def _see_all() -> drive.Script:
    yield from drive.move(*drive.middle())
    yield from drive.keys("Home")
    yield 1.0


drive.run(script)
