"""A monkey over a ball that is picked as its body: the room between them in colours, pieces, planes."""

import sys
from pathlib import Path

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parent))

import drive
import parts

MORE, BODY = (parts.HEADER_X + 20, 331.0), (parts.HEADER_X + 40, 434.0)
"""Headers within the panel of the sculpt, while nothing else is open."""
SHOW_BUCK, SHOW_PIECES = (1080.0, 360.0), (1154.0, 360.0)
FIELD = (1200.0, 466.0)


def script() -> drive.Script:
    """Pick the body by the mouse, make, look at the room in colours, show the pieces of a small printer."""
    yield from parts.new_file_with_monkey()
    scene = bpy.context.scene
    _add_ball()
    own = scene.buckwright
    own.pull.direction, own.forecast.quality = "MINUS_Y", "OFF"
    own.printer.auto_bed_mm, own.printer.bed_mm = False, (120.0, 120.0)
    yield from parts.open_only("Sculpt")
    yield from drive.click(*MORE)
    yield from drive.click(*BODY)
    yield from drive.picture("body_panel")
    yield from drive.click(*(yield from parts.find_setting("buckwright.body_object", near=FIELD)))
    yield 0.8
    yield from drive.picture("body_list")
    yield from drive.write("Ball")
    yield from drive.keys("Return")
    yield 0.5
    drive.expect(own.body_object == bpy.data.objects["Ball"], "the ball is not the body")
    own.body.padding_mm = 3.0
    yield from drive.picture("body_picked")

    yield from parts.open_only("Buck")
    yield from parts.press("buckwright.make", near=parts.LOOK)
    yield from parts.wait_for_run("make", picture="body_during_make")
    drive.expect(bpy.data.objects["Ball"].visible_get(), "the body is hidden")
    told = [one.slug for one in parts.results().of(scene).findings]
    drive.expect(any(slug.startswith("body-") for slug in told), f"no word of the body: {told}")
    yield from parts.open_only("Findings")
    yield from drive.picture("body_findings")
    scene.buckwright_view.quantity = "CLEARANCE_MM"
    parts.module("scene.visibility").show_sculpt(scene)
    yield from parts.open_only("Colors")
    yield from parts.wait_for_colours(trapped=False)
    yield from drive.picture("body_colours")

    yield from parts.open_only("Buck")
    yield from parts.press("buckwright.show_buck", near=SHOW_BUCK)
    yield from parts.press("buckwright.show_pieces", near=SHOW_PIECES)
    drive.expect(parts.results().objects(scene, "CUT"), "no split plane")
    yield from drive.move(*drive.middle())
    yield from drive.picture("body_pieces")


def _add_ball() -> None:
    """A ball within the monkey's head; the monkey stays selected alone."""
    sculpt = bpy.data.objects["Suzanne"]
    bpy.ops.mesh.primitive_uv_sphere_add(radius=0.055, location=(0.0, 0.01, 0.0))
    bpy.context.object.name = "Ball"
    bpy.context.object.select_set(False)
    sculpt.select_set(True)
    bpy.context.view_layer.objects.active = sculpt
    bpy.ops.ed.undo_push(message="Ball")


drive.run(script)
