"""Pictures of every state of the window, to be looked at: each is named for what it shows.

What can be told without eyes is checked on the way: that markers can be clicked, that errors are shown, that
the sculpt and its buck are never drawn in one place.
"""

import sys
from pathlib import Path

import bpy
from bpy_extras import view3d_utils

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts


def script() -> drive.Script:
    """The states in the order of work, then other themes and sizes."""
    yield from parts.new_file_with_monkey()
    yield from drive.picture("look_01_first_open")
    yield from _preset()

    yield from parts.open_only("Sculpt")
    yield from parts.press("buckwright.look", near=parts.LOOK)
    yield from parts.wait_for_run("look", picture="look_02_during_look")
    yield from parts.wait_for_colours()
    yield from parts.open_only("Findings")
    yield from drive.picture("look_03_found")
    yield from parts.open_only("Colors")
    yield from drive.picture("look_04_colors")

    yield from parts.open_only("Buck")
    yield from parts.press("buckwright.make", near=parts.LOOK)
    yield from parts.wait_for_run("make", picture="look_05_during_make")
    scene = bpy.context.scene
    drive.expect(parts.module("scene.visibility").buck_is_seen(scene), "the buck is hidden")
    drive.expect(bpy.data.objects["Suzanne"].hide_get(), "buck and sculpt are drawn in one place")
    yield from parts.open_only("Sculpt", "Buck")
    yield from drive.picture("look_06_after_make")

    yield from parts.open_only("Sheet")
    yield from parts.press("buckwright.forecast", near=parts.LOOK)
    yield from parts.wait_for_run("forecast", picture="look_07_during_forecast")
    yield from parts.wait_for_colours()
    yield from drive.picture("look_08_forecast")
    yield from _click_a_marker()
    yield from drive.picture("look_09_marker_clicked")
    yield from _show_buck()
    yield from drive.picture("look_10_markers_on_buck")
    yield from _error()
    yield from drive.picture("look_11_error")
    yield from _other_windows()


def _preset() -> drive.Script:
    """Choose a machine from its menu, by the mouse."""
    yield from parts.open_only("Sculpt")
    yield from drive.click(*parts.MACHINES)
    yield 0.5
    yield from drive.picture("look_01_presets")
    yield from drive.keys("w")  # the letter of the largest
    machine = parts.module("scene.settings").of(bpy.context.scene).forecast
    drive.expect(not machine.auto_frame_mm, "the preset was not taken")
    machine.auto_frame_mm = True


def _show_buck() -> drive.Script:
    """The switch beside the buck, then the forecast's panel again."""
    yield from parts.open_only("Buck")
    if not parts.module("scene.visibility").buck_is_seen(
        bpy.context.scene
    ):  # a click on a marker may show it
        yield from parts.press("buckwright.show_buck", near=(1090.0, parts.LOOK[1]))
    drive.expect(parts.module("scene.visibility").buck_is_seen(bpy.context.scene), "the buck is hidden")
    yield from parts.open_only("Sheet")


def _click_a_marker() -> drive.Script:
    """Click markers in the viewport until one is chosen that lies free."""
    scene = bpy.context.scene
    region, view = drive.main_region(), drive.viewport().spaces.active.region_3d
    markers = parts.module("scene.forecast_markers").objects(scene)
    drive.expect(markers, "nothing is marked")
    for marker in markers:
        spot = view3d_utils.location_3d_to_region_2d(region, view, marker.matrix_world.translation)
        if spot is None or not 60 < spot.x < region.width - 330 or not 60 < spot.y < region.height - 100:
            continue
        yield from drive.click(region.x + spot.x, drive.from_bottom(region.y + spot.y))
        if marker.select_get():
            return
    raise drive.WindowError("no marker could be clicked")


def _error() -> drive.Script:
    """A setting that no buck can be made with."""
    pull = parts.module("scene.settings").of(bpy.context.scene).pull
    pull.direction, pull.direction_vector = "VECTOR", (0.0, 0.0, 0.0)
    yield from parts.open_only("Buck")
    yield from parts.press("buckwright.make", near=parts.LOOK)
    yield from drive.until(parts.module("scene.running").trouble, seconds=20, words="the run is refused")
    yield from drive.move(*drive.middle())
    yield from drive.keys("Escape")  # closes the words that Blender shows at the mouse
    yield from parts.open_only("Sculpt", "Buck")
    pull.direction = "SEARCH"


def _other_windows() -> drive.Script:
    """A light theme, a narrow sidebar, an interface twice as large."""
    scene, preferences = bpy.context.scene, bpy.context.preferences
    parts.module("scene.visibility").show_sculpt(scene)
    themes = [Path(folder) / "Blender_Light.xml" for folder in bpy.utils.preset_paths("interface_theme")]
    light = next(path for path in themes if path.is_file())
    bpy.ops.script.execute_preset(filepath=str(light), menu_idname="USERPREF_MT_interface_theme_presets")
    yield 1.0
    yield from parts.open_only("Sculpt", "Sheet")
    yield from drive.picture("look_12_light_theme")

    edge = drive.sidebar().x
    yield from drive.drag((edge, 700.0), (edge + 100.0, 700.0))
    drive.expect(drive.sidebar().x > edge + 60, "the sidebar is as wide as before")
    parts.HEADER_X = edge + 150.0
    yield from drive.picture("look_13_narrow_light")
    bpy.ops.preferences.reset_default_theme()
    yield from parts.open_only("Findings")
    yield from drive.picture("look_14_narrow_found")
    yield from parts.open_only("Colors", "Buck")
    yield from drive.picture("look_15_narrow_buck")
    edge = drive.sidebar().x
    yield from drive.drag((edge, 700.0), (edge - 100.0, 700.0))

    preferences.view.ui_scale = 2.0
    yield 1.5
    yield from drive.picture("look_16_twice_as_large")
    yield from drive.click(drive.sidebar().x + 200.0, 700.0, button=5, times=30)
    yield from drive.picture("look_17_twice_as_large_below")
    preferences.view.ui_scale = 1.0


drive.run(script)
