"""The operator that adds a vent where the mouse points on the buck."""

import bpy
from bpy.props import FloatVectorProperty

from ..scene import settings, vent_markers
from ..scene.placement import Placement
from ..view.pointing import buck_under
from ..view.viewports import viewport_under
from .polls import NeedsResults

__all__ = ["register", "unregister"]

_OF_BUTTONS = {"LEFTMOUSE", "RET", "NUMPAD_ENTER"}
"""What presses a button or an entry of a menu: the mouse is there, not on the buck."""
_CLOSES = {"ESC", "RIGHTMOUSE"}


class BUCKWRIGHT_OT_add_vent(NeedsResults, bpy.types.Operator):
    """Add a vent: click on the buck where it is to be drilled; it goes straight down along the pull"""

    bl_idname = "buckwright.add_vent"
    bl_label = "Add Vent"
    bl_options = {"REGISTER", "UNDO"}
    first = "Make the buck first, then add to its vents"

    place: FloatVectorProperty(  # type: ignore[valid-type]
        name="Place",
        description="Where the vent is; the 3D cursor if nothing is set",
        subtype="TRANSLATION",
        options={"SKIP_SAVE"},
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return super().poll(context) and context.mode == "OBJECT"

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Take the place under the mouse; after a button was pressed, wait for a click on the buck."""
        if event.type not in _OF_BUTTONS and self._point(context, event):
            return self.execute(context)
        window, manager = context.window, context.window_manager
        assert window is not None and manager is not None
        window.cursor_modal_set("CROSSHAIR")
        if context.workspace is not None:
            context.workspace.status_text_set(
                "Click on the buck: add a vent there   |   Esc or right click: end"
            )
        manager.modal_handler_add(self)  # type: ignore[arg-type]
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """A click on the buck ends it, one beside it does nothing; the view can be moved meanwhile."""
        if event.type in _CLOSES:
            self.cancel(context)
            return {"CANCELLED"}
        if event.type != "LEFTMOUSE" or event.value != "PRESS":
            return {"PASS_THROUGH"}
        if not self._point(context, event):
            return {"RUNNING_MODAL"}
        self.cancel(context)
        return self.execute(context)

    def cancel(self, context: bpy.types.Context) -> None:
        """End: also when a file is opened or Blender quits."""
        if context.window is not None:
            context.window.cursor_modal_restore()
        if context.workspace is not None:
            context.workspace.status_text_set(None)

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Put the marker."""
        scene, layer = context.scene, context.view_layer
        assert scene is not None and layer is not None
        at = self.place if self.properties.is_property_set("place") else scene.cursor.location  # type: ignore[attr-defined]
        marker = vent_markers.add(scene, Placement.of(scene), "Vent", at=at)
        settings.of(scene).vents_by_hand = True
        for one in list(layer.objects.selected):
            one.select_set(False)
        if marker.name in layer.objects:
            marker.select_set(True)
            layer.objects.active = marker
        return {"FINISHED"}

    def _point(self, context: bpy.types.Context, event: bpy.types.Event) -> bool:
        """Take the place under the mouse; whether the buck is there."""
        region = viewport_under(context, event.mouse_x, event.mouse_y)
        if region is None:
            return False
        found = buck_under(context, region, (event.mouse_x - region.x, event.mouse_y - region.y))
        if found is not None:
            self.place = found
        return found is not None


register, unregister = bpy.utils.register_classes_factory((BUCKWRIGHT_OT_add_vent,))
