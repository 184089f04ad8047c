"""The operator that adds a vent where the mouse points on the buck."""

import bpy
from bpy.props import FloatVectorProperty

from ..scene import settings, vent_markers
from ..scene.placement import Placement
from .clicked_place import ClickedOnBuck

__all__ = ["register", "unregister"]


class BUCKWRIGHT_OT_add_vent(ClickedOnBuck, bpy.types.Operator):
    """Add a vent: click on the buck where it is to be drilled; it goes straight down along the pull"""

    bl_idname = "buckwright.add_vent"
    bl_label = "Add Vent"
    bl_options = {"REGISTER", "UNDO"}
    first = "Make the buck first, then add to its vents"
    waits = "Click on the buck: add a vent there"

    place: FloatVectorProperty(  # type: ignore[valid-type]
        name="Place",
        description="Where the vent is; the 3D cursor if nothing is set",
        subtype="TRANSLATION",
        options={"SKIP_SAVE"},
    )

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Put the marker."""
        scene = context.scene
        assert scene is not None
        marker = vent_markers.add(scene, Placement.of(scene), "Vent", at=self.asked(context))
        settings.of(scene).vents_by_hand = True
        self.take_up(context, marker)
        return {"FINISHED"}


register, unregister = bpy.utils.register_classes_factory((BUCKWRIGHT_OT_add_vent,))
