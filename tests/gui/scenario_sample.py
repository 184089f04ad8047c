"""The main job by mouse on a sample scene: the heron half-mask, from its job file to an exported STL.

`make pictures` makes those of the README from the pictures `sample_*.png`.
"""

import sys
from math import radians
from pathlib import Path

import bpy
from mathutils import Euler, Vector

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts

SAMPLE = Path(__file__).resolve().parents[2] / "sample_scenes" / "heron_mask"


def script() -> drive.Script:
    """Open, look, make, forecast, export."""
    drive.expect(
        (SAMPLE / "sculpt.stl").is_file(), "make the sample first: sample_scenes/make_samples.py heron_mask"
    )
    yield from parts.new_file_with_monkey()
    yield from _open_sample()
    yield from _see(distance=0.25)
    yield from parts.press("buckwright.look", near=parts.LOOK)
    yield from parts.wait_for_run("look", picture="sample_during_look")
    yield from parts.wait_for_colours()
    yield from parts.open_only("Findings")
    yield from drive.picture("sample_look")

    yield from parts.open_only("Colors", "Buck")
    yield from parts.press("buckwright.make", near=parts.MAKE)
    yield from parts.wait_for_run("make", picture="sample_during_make")
    yield from _see(distance=0.26)
    yield from drive.picture("sample_buck")
    yield from _vents_chosen()
    yield from _see(distance=0.15)
    yield from drive.picture("sample_vents")

    yield from parts.open_only("Sheet")
    yield from parts.press("buckwright.forecast", near=parts.LOOK)
    yield from parts.wait_for_run("forecast", picture="sample_during_forecast")
    yield from parts.wait_for_colours()
    yield from _see(distance=0.25)
    yield from drive.picture("sample_forecast")
    yield from _export()


def _open_sample() -> drive.Script:
    """The sculpt instead of the monkey, and the settings of its job."""
    bpy.data.objects.remove(bpy.data.objects["Suzanne"])
    bpy.ops.wm.stl_import(filepath=str(SAMPLE / "sculpt.stl"), global_scale=0.001)
    bpy.context.object.name = "Heron Half-Mask"
    bpy.ops.buckwright.open_job(filepath=str(SAMPLE / "job.toml"))
    bpy.ops.ed.undo_push(message="Sample")
    yield 1.0


def _see(*, distance: float) -> drive.Script:
    """The mask from the front and above."""
    view = drive.viewport().spaces.active.region_3d
    view.view_location = Vector((0.02, -0.005, 0.02))
    view.view_rotation = Euler((radians(48.0), 0.0, radians(-22.0))).to_quaternion()
    view.view_distance = distance
    yield 0.5


def _vents_chosen() -> drive.Script:
    markers = parts.results().objects(bpy.context.scene, "VENT")
    drive.expect(markers, "there are no vents")
    for marker in markers:
        marker.select_set(True)
    bpy.context.view_layer.objects.active = markers[0]
    yield 0.5


def _export() -> drive.Script:
    folder = drive.OUT / "sample"
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.iterdir():
        old.unlink()
    yield from parts.export_to(folder, picture="sample_file_browser")
    yield from parts.wait_for_run("make", picture="sample_during_export")
    parts.expect_files(folder, least=100_000)


drive.run(script)
