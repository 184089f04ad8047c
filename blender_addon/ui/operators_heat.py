"""The operators of painted heat: paint over the frame how warm the sheet gets, and take that away."""

import bpy

from ..scene import heat_painting, settings
from ..scene.selection import select_only
from .polls import NeedsSheet

__all__ = ["register", "unregister"]


class BUCKWRIGHT_OT_paint_heat(NeedsSheet, bpy.types.Operator):
    """Paint over the frame how warm the sheet gets: weight 0.5 is the usual heat, 0 the coldest that can be formed, 1 the hottest"""  # noqa: E501

    bl_idname = "buckwright.paint_heat"
    bl_label = "Paint Heat"
    bl_options = {"REGISTER", "UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Go to Weight Paint with the grid, which is laid if there is none."""
        scene, layer = context.scene, context.view_layer
        assert scene is not None and layer is not None
        grid = heat_painting.painted(scene)
        if grid is None:
            grid = heat_painting.lay(scene, settings.of(scene).forecast.heat_map)
        if context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        grid.hide_set(False)
        select_only(layer, [grid])
        bpy.ops.object.mode_set(mode="WEIGHT_PAINT")
        return {"FINISHED"}


class BUCKWRIGHT_OT_remove_heat(bpy.types.Operator):
    """Take the painted heat away: the heat map of the settings counts again"""

    bl_idname = "buckwright.remove_heat"
    bl_label = "Remove Painted Heat"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only where heat is painted."""
        cls.poll_message_set("No heat is painted")
        return context.scene is not None and heat_painting.painted(context.scene) is not None

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Remove it."""
        assert context.scene is not None
        if context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        heat_painting.remove(context.scene)
        return {"FINISHED"}


register, unregister = bpy.utils.register_classes_factory(
    (BUCKWRIGHT_OT_paint_heat, BUCKWRIGHT_OT_remove_heat)
)
