"""The panel with the planes that could halve the sculpt, each with its picture and figures."""

from typing import Any

import bpy
from bpy.props import IntProperty

from ..scene import plane_choices, results
from .panel_parts import Tab
from .panel_setups import draw_choice
from .paragraphs import paragraph

__all__ = ["BUCKWRIGHT_PT_planes", "register", "unregister"]


class BUCKWRIGHT_PT_planes(Tab, bpy.types.Panel):
    """Planes that halve the sculpt, the best first; a click takes one, the empty can be turned and moved"""

    bl_label = "Halves"
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene is not None and len(results.of(context.scene).planes) > 0

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        for one in results.of(scene).planes:
            taken = plane_choices.is_taken(scene, one.number)
            draw_choice(layout.box(), one, context, operator="buckwright.take_plane", taken=taken)
        moved = plane_choices.moved_plane(scene) is not None
        words = "The plane was moved by hand" if moved else "Move or turn the empty 'Halving Plane'"
        paragraph(layout, words, context, "INFO")
        row = layout.row()
        row.scale_y = 1.4
        button: Any = row.operator("buckwright.halve", text="Halve Again", icon="MOD_BOOLEAN")
        button.again = True


class BUCKWRIGHT_OT_take_plane(bpy.types.Operator):
    """Halve the sculpt along this plane from the next time on"""

    bl_idname = "buckwright.take_plane"
    bl_label = "Take This Plane"
    bl_options = {"REGISTER", "UNDO"}

    number: IntProperty(name="Number", description="Which of the planes, the best is 1", default=1, min=1)  # type: ignore[valid-type]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        found = context.scene is not None and len(results.of(context.scene).planes) > 0
        if not found:
            cls.poll_message_set("Halve the sculpt first")
        return found

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Write the number into the settings, and put the empty there."""
        assert context.scene is not None
        known = {one.number for one in results.of(context.scene).planes}
        if self.number not in known:
            self.report({"ERROR"}, f"There is no plane {self.number}; there are {len(known)}")
            return {"CANCELLED"}
        plane_choices.take(context.scene, self.number)
        return {"FINISHED"}


register, unregister = bpy.utils.register_classes_factory((BUCKWRIGHT_OT_take_plane,))
