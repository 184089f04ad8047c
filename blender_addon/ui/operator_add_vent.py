"""The operator that adds a vent where the mouse points on the buck."""

import bpy
from bpy.props import FloatVectorProperty
from mathutils import Vector

from ..scene import settings, vent_markers
from ..scene.placement import Placement
from ..view.pointing import buck_under
from .clicked_place import ClickedPlace
from .polls import NeedsResults

__all__ = ["register", "unregister"]


class BUCKWRIGHT_OT_add_vent(ClickedPlace, NeedsResults, bpy.types.Operator):
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

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return super().poll(context) and context.mode == "OBJECT"

    def place_under(
        self, context: bpy.types.Context, region: bpy.types.Region, at: tuple[float, float]
    ) -> Vector | None:
        """The buck's, whatever lies before it."""
        return buck_under(context, region, at)

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Put the marker."""
        scene = context.scene
        assert scene is not None
        marker = vent_markers.add(scene, Placement.of(scene), "Vent", at=self.asked(context))
        settings.of(scene).vents_by_hand = True
        self.take_up(context, marker)
        return {"FINISHED"}


register, unregister = bpy.utils.register_classes_factory((BUCKWRIGHT_OT_add_vent,))
