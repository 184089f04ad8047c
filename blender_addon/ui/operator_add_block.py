"""The operator that adds a take-up block where the mouse points on the flange."""

import bpy
from bpy.props import FloatVectorProperty

from ..scene import block_markers
from .clicked_place import ClickedOnBuck

__all__ = ["register", "unregister"]


class BUCKWRIGHT_OT_add_block(ClickedOnBuck, bpy.types.Operator):
    """Add a take-up block: click on the flange where it is to stand; its top is just below the trim line"""

    bl_idname = "buckwright.add_block"
    bl_label = "Add Take-Up Block"
    bl_options = {"REGISTER", "UNDO"}
    first = "Make the buck first, then add blocks to it"
    waits = "Click on the flange: add a take-up block there"

    place: FloatVectorProperty(  # type: ignore[valid-type]
        name="Place",
        description="Where the block stands; the 3D cursor if nothing is set",
        subtype="TRANSLATION",
        options={"SKIP_SAVE"},
    )

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Put the marker."""
        assert context.scene is not None
        self.take_up(context, block_markers.add_by_hand(context.scene, self.asked(context)))
        return {"FINISHED"}


register, unregister = bpy.utils.register_classes_factory((BUCKWRIGHT_OT_add_block,))
