"""A monkey over a ball: clearance in colours; its halves in a list, a plane moved; its split planes."""

import sys
from pathlib import Path

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts


def script() -> drive.Script:
    """Pick the body, make, colours of clearance, pieces with their planes, halve, move the plane."""
    yield from parts.new_file_with_monkey()
    scene = bpy.context.scene
    sculpt = bpy.data.objects["Suzanne"]
    bpy.ops.mesh.primitive_uv_sphere_add(radius=0.055, location=(0.0, 0.01, 0.0))
    bpy.context.object.name = "Head"
    bpy.context.object.select_set(False)
    sculpt.select_set(True)
    bpy.context.view_layer.objects.active = sculpt
    own = scene.buckwright
    own.body_object = bpy.data.objects["Head"]
    own.body.padding_mm = 3.0
    own.pull.direction = "MINUS_Y"
    own.forecast.quality = "OFF"
    own.printer.auto_bed_mm = False
    own.printer.bed_mm = (150.0, 150.0)
    yield from parts.open_only("Sculpt")
    yield from drive.picture("body_picked")
    yield from parts.open_only("Buck")
    yield from parts.press("buckwright.make", near=parts.MAKE)
    yield from parts.wait_for_run("make", picture="body_during_make")
    yield from parts.open_only("Findings")
    yield from drive.picture("body_findings")
    bpy.ops.buckwright.show_buck()
    scene.buckwright_view.quantity = "CLEARANCE_MM"
    yield from parts.open_only("Colors")
    yield 2.0
    yield from drive.picture("body_colours")
    bpy.ops.buckwright.show_pieces()
    cuts = parts.results().objects(scene, "CUT")
    drive.expect(len(cuts) > 0, "no split plane")
    yield from parts.open_only("Buck")
    yield 1.0
    yield from drive.picture("body_pieces")
    bpy.ops.buckwright.show_buck()
    for one in bpy.context.selected_objects:
        one.select_set(False)
    sculpt.hide_set(False)
    sculpt.select_set(True)
    bpy.context.view_layer.objects.active = sculpt
    bpy.ops.buckwright.halve("INVOKE_DEFAULT")
    yield from parts.wait_for_run("halves", picture="body_during_halves")
    yield from parts.open_only("Halves")
    yield 1.0
    yield from drive.picture("body_halves")
    drive.expect(len(parts.results().of(scene).planes) > 1, "one plane only")
    parts.results().objects(scene, "PLANE")[0].location.x += 0.01
    yield 1.0
    yield from drive.picture("body_plane_moved")


drive.run(script)
