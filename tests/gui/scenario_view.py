"""Pictures of what the viewport shows of the results, `view_*.png`: to be looked at.

A monkey of 170 mm in a scene of millimetres, so that it is 170 units large under Blender's usual clipping.
"""

import sys
from math import radians
from pathlib import Path

import bpy
import numpy as np
from bpy_extras import view3d_utils
from mathutils import Euler, Vector

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts


def script() -> drive.Script:
    """Look, go to places, make, forecast, look again."""
    yield from parts.new_file_with_monkey()
    _in_millimetres()
    yield from _see((0.0, 0.0, 0.0))
    yield from _run("look")
    yield from parts.wait_for_colours()
    yield from drive.picture("view_hatching")
    yield from _own_direction()
    yield from _see((0.0, 0.0, 0.0), lean=120.0)
    yield from drive.picture("view_hatching_from_below")
    yield from _places()
    yield from _see((0.0, 0.0, 0.0))
    yield from _run("make")
    yield from _run("forecast")
    yield from _forecast()
    yield from _run("look")
    yield from parts.wait_for_colours()
    yield from _see((0.0, 0.0, 0.0))
    yield from drive.picture("view_look_after_forecast")


def _in_millimetres() -> None:
    scene = bpy.context.scene
    scene.unit_settings.scale_length, scene.unit_settings.length_unit = 0.001, "MILLIMETERS"
    bpy.data.objects["Suzanne"].scale = (85.0,) * 3
    bpy.ops.ed.undo_push(message="Millimetres")


def _see(middle: tuple[float, ...], *, lean: float = 65.0, distance: float = 420.0) -> drive.Script:
    view = drive.viewport().spaces.active.region_3d
    view.view_location = Vector(middle)
    view.view_rotation = Euler((radians(lean), 0.0, radians(-28.0))).to_quaternion()
    view.view_distance = distance
    yield 0.5


def _run(command: str) -> drive.Script:
    parts.start(command)
    yield from parts.wait_for_run(command, picture=f"view_during_{command}")


def _own_direction() -> drive.Script:
    """Numbers and handle beside each other; the colours follow."""
    scene = bpy.context.scene
    pull, view = parts.module("scene.settings").of(scene).pull, parts.module("view.view_settings").of(scene)
    overlay = parts.module("view.overlay")
    pull.direction, pull.direction_vector = "VECTOR", (0.5, -0.8, 0.3)
    view.turn = True
    yield from drive.until(
        lambda: overlay.shown(scene).live, seconds=5, words="draft along the own direction"
    )
    yield from drive.picture("view_own_direction")
    before = overlay.shown(scene).values["draft_deg"].copy()
    pull.direction_vector[2] = 0.9
    yield from drive.until(
        lambda: not np.array_equal(overlay.shown(scene).values["draft_deg"], before),
        seconds=5,
        words="colours follow a number",
    )
    view.turn, pull.direction = False, "SEARCH"
    yield from drive.until(
        lambda: not overlay.shown(scene).live, seconds=5, words="the colours of the look again"
    )


def _places() -> drive.Script:
    """The largest, a middling and the smallest region."""
    kept = parts.results().of(bpy.context.scene)
    highlight = parts.module("view.highlight")
    for number in (0, len(kept.regions) // 2, len(kept.regions) - 1):
        kept.region_index = number
        place = highlight.shown(bpy.context.scene)
        drive.expect(place is not None, "the place is not marked")
        distance = drive.viewport().spaces.active.region_3d.view_distance
        drive.expect(distance < 4.0 * place.size, f"{place.words} is looked at from {distance} mm")
        yield from drive.picture(f"view_region_{number}")
    highlight.clear()


def _forecast() -> drive.Script:
    """The sheet see-through, the buck alone, the sheet as an object, the weakest spot."""
    scene = bpy.context.scene
    view = parts.module("view.view_settings").of(scene)
    yield from _see((0.0, 0.0, -30.0), distance=600.0)
    yield from drive.picture("view_forecast_on_sculpt")
    parts.module("scene.visibility").show_buck(scene)
    yield 0.5
    yield from drive.picture("view_forecast_through")
    yield from _name_under_the_mouse()
    view.sheet_through = False
    yield from drive.picture("view_forecast_on_buck")
    bpy.ops.buckwright.show_sheet()
    yield 1.0
    yield from drive.picture("view_forecast_solid")
    bpy.ops.buckwright.show_sheet()
    view.sheet_through = True
    kept = parts.results().of(scene)
    for number in (0, min(1, len(kept.spots) - 1), len(kept.spots) - 1):
        kept.spot_index = number
        yield from drive.picture(f"view_spot_{number}")
    parts.module("view.highlight").clear()


def _name_under_the_mouse() -> drive.Script:
    """The mouse over a sign that is in sight."""
    region, view = drive.main_region(), drive.viewport().spaces.active.region_3d
    for spot in parts.results().of(bpy.context.scene).spots:
        at = view3d_utils.location_3d_to_region_2d(region, view, spot.centre)
        if at is not None and 60 < at.x < region.width - 330 and 60 < at.y < region.height - 100:
            yield from drive.move(region.x + at.x - 4, drive.from_bottom(region.y + at.y) - 3)
            yield from drive.move(region.x + at.x, drive.from_bottom(region.y + at.y))
            yield from drive.picture("view_sign_named")
            return
    raise drive.WindowError("no place of the forecast is in sight")


drive.run(script)
