"""What operators share that take a place from a click in the viewport."""

from typing import Any

import bpy
from mathutils import Vector

from ..scene.selection import select_only
from ..view.pointing import buck_under
from ..view.viewports import viewport_under
from .polls import NeedsResults

__all__ = ["ClickedOnBuck", "ClickedPlace"]

_OF_BUTTONS = {"LEFTMOUSE", "RET", "NUMPAD_ENTER"}
"""What presses a button or an entry of a menu: the mouse is there, not on the buck."""
_CLOSES = {"ESC", "RIGHTMOUSE"}


class ClickedPlace:
    """Takes the place under the mouse as `place`; after a button was pressed, waits for a click.

    Attributes
    ----------
    waits : what the status bar says meanwhile
    """

    waits = ""

    def place_under(
        self, context: bpy.types.Context, region: bpy.types.Region, at: tuple[float, float]
    ) -> Vector | None:
        """What lies at a pixel of a viewport, in the world; None beside it."""
        raise NotImplementedError

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Use the place."""
        raise NotImplementedError

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Take the place under the mouse; after a button was pressed, wait for a click."""
        if event.type not in _OF_BUTTONS and self._point(context, event):
            return self.execute(context)
        window, manager = context.window, context.window_manager
        assert window is not None and manager is not None
        window.cursor_modal_set("CROSSHAIR")
        if context.workspace is not None:
            context.workspace.status_text_set(f"{self.waits}   |   Esc or right click: end")
        manager.modal_handler_add(self)  # type: ignore[arg-type]
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """A click on it ends it, one beside it does nothing; the view can be moved meanwhile."""
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

    def asked(self: Any, context: bpy.types.Context) -> Any:
        """The place that was given, else the 3D cursor."""
        assert context.scene is not None
        given = self.properties.is_property_set("place")
        return self.place if given else context.scene.cursor.location

    def take_up(self, context: bpy.types.Context, marker: bpy.types.Object) -> None:
        """Select a new marker alone."""
        layer = context.view_layer
        assert layer is not None
        select_only(layer, [marker])

    def _point(self: Any, context: bpy.types.Context, event: bpy.types.Event) -> bool:
        """Take the place under the mouse; whether there is one."""
        region = viewport_under(context, event.mouse_x, event.mouse_y)
        if region is None:
            return False
        found = self.place_under(context, region, (event.mouse_x - region.x, event.mouse_y - region.y))
        if found is not None:
            self.place = found
        return found is not None


class ClickedOnBuck(ClickedPlace, NeedsResults):
    """Takes a place on the buck, whatever lies before it."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return super().poll(context) and context.mode == "OBJECT"

    def place_under(
        self, context: bpy.types.Context, region: bpy.types.Region, at: tuple[float, float]
    ) -> Vector | None:
        """The buck's."""
        return buck_under(context, region, at)
