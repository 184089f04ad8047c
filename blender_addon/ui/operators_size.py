"""The operators that set the size of an imported sculpt right: the unit of the scene, a wanted height."""

from typing import Any

import bpy
from bpy.props import EnumProperty, FloatProperty

from ..scene import first_size
from ..scene.fields import field_of

__all__ = ["register", "unregister"]

_LABELS = {"mm": "Millimeter", "cm": "Centimeter", "in": "Inch", "m": "Meter"}
_HEIGHT = field_of("sculpt", "height_mm")


class BUCKWRIGHT_OT_take_unit(bpy.types.Operator):
    """Let one unit of the scene be this long, for meshes that came without a unit; nothing is scaled"""

    bl_idname = "buckwright.take_unit"
    bl_label = "1 Unit = 1 mm"
    bl_options = {"REGISTER", "UNDO"}

    unit: EnumProperty(  # type: ignore[valid-type]
        items=[(one, _LABELS[one], f"One unit of the scene is 1 {one}") for one in first_size.UNITS],
        name="Unit",
        description="What one unit of the scene is",
    )

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Set the unit of the scene."""
        assert context.scene is not None
        first_size.take_unit(context.scene, self.unit)
        return {"FINISHED"}


class BUCKWRIGHT_OT_want_height(bpy.types.Operator):
    """Make the part this tall, whatever the size of the sculpt in the scene"""

    bl_idname = "buckwright.want_height"
    bl_label = "Set Height"
    bl_options = {"REGISTER", "UNDO"}

    height_mm: FloatProperty(  # type: ignore[valid-type]
        name="Height",
        description=_HEIGHT.setting.tip,
        subtype="DISTANCE_CAMERA",
        default=float(_HEIGHT.start()),
        min=_HEIGHT.setting.low,
        max=_HEIGHT.setting.high,
        precision=2,
    )

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> Any:
        """Ask for the height."""
        manager = context.window_manager
        return self.execute(context) if manager is None else manager.invoke_props_dialog(self)

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Write it into the settings."""
        assert context.scene is not None
        first_size.want_height(context.scene, self.height_mm)
        return {"FINISHED"}


register, unregister = bpy.utils.register_classes_factory(
    (BUCKWRIGHT_OT_take_unit, BUCKWRIGHT_OT_want_height)
)
