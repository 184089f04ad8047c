"""The panel that rules what the viewport shows. `panels.py` gives it its place among the others."""

from typing import ClassVar

import bpy

from . import overlay, results, view_settings
from .panels_parts import Tab
from .polls import NeedsBuck

__all__ = ["BUCKWRIGHT_OT_show_buck", "BUCKWRIGHT_PT_view", "register", "unregister"]


class BUCKWRIGHT_OT_show_buck(NeedsBuck, bpy.types.Operator):
    """Switch between the buck with its vents and lines, and the colored sculpt beneath it"""

    bl_idname = "buckwright.show_buck"
    bl_label = "Show Buck"
    bl_options: ClassVar = {"UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Hide all result objects, or show them."""
        scene = context.scene
        assert scene is not None
        hidden = not any(one.hide_get() for one in results.objects(scene, "BUCK"))
        for role in ("BUCK", "VENT", "FOOT_VENT", "TRIM", "OUTLINE"):
            for one in results.objects(scene, role):
                one.hide_set(hidden)
        return {"FINISHED"}


class BUCKWRIGHT_PT_view(Tab, bpy.types.Panel):
    """What the colors in the viewport stand for"""

    bl_label = "Colors"

    def draw_header(self, context: bpy.types.Context) -> None:
        """A switch for all of it."""
        self.layout.prop(view_settings.of(context.scene), "show", text="")  # type: ignore[arg-type, union-attr]

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        view = view_settings.of(scene)
        layout.use_property_split = True
        layout.use_property_decorate = False
        column = layout.column()
        column.active = view.show
        column.prop(view, "quantity")
        one = overlay.shown(scene)
        if one is not None and one.missing:
            column.label(text="Not measured yet", icon="INFO")
        column.prop(view, "strength", slider=True)
        column = layout.column(heading="Show")
        column.active = view.show
        column.prop(view, "mark")
        column.prop(view, "legend")
        column.prop(view, "turn")
        if bucks := results.objects(scene, "BUCK"):
            hidden = all(one.hide_get() for one in bucks)
            layout.operator("buckwright.show_buck", text="Show Buck" if hidden else "Show Colored Sculpt")
        layout.operator("buckwright.read_values", icon="EYEDROPPER")
        column = layout.column(heading="Draft Only")
        column.prop(view, "live", text="After Sculpting")
        column.operator("buckwright.live_draft", text="Measure Now")


def register() -> None:
    """Register the operator; the panel is registered among the others."""
    bpy.utils.register_class(BUCKWRIGHT_OT_show_buck)


def unregister() -> None:
    """Take it away."""
    bpy.utils.unregister_class(BUCKWRIGHT_OT_show_buck)
