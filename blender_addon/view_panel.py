"""The panel that rules what the viewport shows. `panels.py` gives it its place among the others."""

from typing import ClassVar

import bpy

from . import overlay, results, view_settings, visibility
from .panels_parts import Tab, show_buck_button

__all__ = ["BUCKWRIGHT_OT_show_buck", "BUCKWRIGHT_PT_view", "register", "unregister"]


class BUCKWRIGHT_OT_show_buck(bpy.types.Operator):
    """Show the buck with its vents and lines, or the colored sculpt: both in one place would flicker"""

    bl_idname = "buckwright.show_buck"
    bl_label = "Show Buck or Sculpt"
    bl_options: ClassVar = {"UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only with a buck, or with a sculpt whose buck was deleted."""
        scene = context.scene
        found = scene is not None and bool(
            results.objects(scene, "BUCK") or any(entry.aside for entry in results.of(scene).sculpts)
        )
        if not found:
            cls.poll_message_set("Make a buck first")
        return found

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Show the one that is not seen."""
        scene = context.scene
        assert scene is not None
        if visibility.buck_is_seen(scene) or not results.objects(scene, "BUCK"):
            visibility.show_sculpt(scene)
        else:
            visibility.show_buck(scene)
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
        column.prop(view, "quantity", text="")
        one = overlay.shown(scene)
        if one is not None and one.missing:
            column.label(text="Not measured yet", icon="INFO")
        column.prop(view, "strength", slider=True)
        column = layout.column()
        column.use_property_split = False
        column.active = view.show
        column.prop(view, "mark")
        column.prop(view, "legend")
        column.prop(view, "turn")
        if results.objects(scene, "BUCK"):
            show_buck_button(layout, scene)
        layout.operator("buckwright.read_values", icon="EYEDROPPER")
        column = layout.column()
        column.use_property_split = False
        column.prop(view, "live")
        column.operator("buckwright.live_draft")


def register() -> None:
    """Register the operator; the panel is registered among the others."""
    bpy.utils.register_class(BUCKWRIGHT_OT_show_buck)


def unregister() -> None:
    """Take it away."""
    bpy.utils.unregister_class(BUCKWRIGHT_OT_show_buck)
