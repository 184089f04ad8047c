"""The operators of the forecast sheet: show it, its thickness, its markers."""

import bpy

from ..bridge.units import mm_per_unit
from ..scene import forecast_markers, formed_sheet, results
from .polls import NeedsSheet

__all__ = ["register", "unregister"]


class _Switch(NeedsSheet):
    """Shows something of the sheet, or hides it where it is shown."""

    bl_options = {"UNDO"}

    def switch(self, scene: bpy.types.Scene) -> None:
        """Show or hide it."""
        raise NotImplementedError

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Switch."""
        assert context.scene is not None
        self.switch(context.scene)
        return {"FINISHED"}


class BUCKWRIGHT_OT_show_sheet(_Switch, bpy.types.Operator):
    """Show the formed sheet, or hide it to see what lies under it"""

    bl_idname = "buckwright.show_sheet"
    bl_label = "Show Formed Sheet"

    def switch(self, scene: bpy.types.Scene) -> None:
        """Show or hide it."""
        for one in results.objects(scene, "SHEET"):
            hidden = one.hide_get()
            one.hide_set(not hidden)
            one.hide_render = not hidden


class BUCKWRIGHT_OT_thicken_sheet(_Switch, bpy.types.Operator):
    """Show the formed sheet as thick as it is forecast at each place, or as a surface again"""

    bl_idname = "buckwright.thicken_sheet"
    bl_label = "Show Sheet Thickness"

    def switch(self, scene: bpy.types.Scene) -> None:
        """Show or hide it."""
        for one in results.objects(scene, "SHEET"):
            if formed_sheet.is_thick(one):
                formed_sheet.thin(one)
            else:
                formed_sheet.thicken(one, mm_per_unit(scene))


class BUCKWRIGHT_OT_mark_spots(_Switch, bpy.types.Operator):
    """Show the markers of webs, trapped air and the weakest spot, or hide them"""

    bl_idname = "buckwright.mark_spots"
    bl_label = "Show Forecast Markers"

    def switch(self, scene: bpy.types.Scene) -> None:
        """Show or hide it."""
        seen = forecast_markers.are_seen(scene)
        for one in forecast_markers.objects(scene):
            one.hide_set(seen)


_CLASSES = (
    BUCKWRIGHT_OT_show_sheet,
    BUCKWRIGHT_OT_thicken_sheet,
    BUCKWRIGHT_OT_mark_spots,
)

register, unregister = bpy.utils.register_classes_factory(_CLASSES)
