"""The panel that rules what the viewport shows. `panels.py` gives it its place among the others."""

import bpy

from ..view import overlay, view_settings
from .panel_parts import Tab

__all__ = ["BUCKWRIGHT_PT_view"]


class BUCKWRIGHT_PT_view(Tab, bpy.types.Panel):
    """What the colors in the viewport mean"""

    bl_label = "Colors"
    bl_options = {"DEFAULT_CLOSED"}

    def draw_header(self, context: bpy.types.Context) -> None:
        """A switch for all of it."""
        self.layout.prop(view_settings.of(context.scene), "show", text="")  # type: ignore[arg-type, union-attr]

    def draw_header_preset(self, context: bpy.types.Context) -> None:
        """What the colors stand for, also while the panel is closed."""
        self.layout.prop(view_settings.of(context.scene), "quantity", text="")  # type: ignore[arg-type, union-attr]

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        view = view_settings.of(scene)
        layout.use_property_split = True
        layout.use_property_decorate = False
        column = layout.column()
        column.active = view.show
        one = overlay.shown(scene)
        if one is not None and one.missing:
            column.label(text="Not measured yet", icon="INFO")
        column.prop(view, "strength", slider=True)
        column = layout.column()
        column.use_property_split = False
        column.active = view.show
        column.prop(view, "mark")
        column.prop(view, "legend")
        column = layout.column()
        column.use_property_split = False
        column.prop(view, "pull")
        column.prop(view, "turn")
        layout.operator("buckwright.read_values", icon="EYEDROPPER")
        column = layout.column()
        column.use_property_split = False
        column.prop(view, "live")
        column.operator("buckwright.live_draft")
