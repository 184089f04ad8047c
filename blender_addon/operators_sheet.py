"""The operators of the forecast sheet: show it, give it its thickness, go to its weak places."""

import bpy
from bpy.props import IntProperty
from mathutils import Vector

from . import goto, results, sheet, spot_markers
from .polls import NeedsSheet
from .units import mm_per_unit

__all__ = ["register", "show_spot", "unregister"]


class BUCKWRIGHT_OT_show_sheet(NeedsSheet, bpy.types.Operator):
    """Show the formed sheet, or hide it to see what lies under it"""

    bl_idname = "buckwright.show_sheet"
    bl_label = "Show Formed Sheet"
    bl_options = {"UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Switch."""
        assert context.scene is not None
        for one in results.objects(context.scene, "SHEET"):
            hidden = one.hide_get()
            one.hide_set(not hidden)
            one.hide_render = not hidden
        return {"FINISHED"}


class BUCKWRIGHT_OT_thicken_sheet(NeedsSheet, bpy.types.Operator):
    """Show the formed sheet as thick as it is forecast at each place, or as a surface again"""

    bl_idname = "buckwright.thicken_sheet"
    bl_label = "Show Thickness of Sheet"
    bl_options = {"UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Switch."""
        scene = context.scene
        assert scene is not None
        for one in results.objects(scene, "SHEET"):
            if sheet.is_thick(one):
                sheet.thin(one)
            else:
                sheet.thicken(one, mm_per_unit(scene))
        return {"FINISHED"}


class BUCKWRIGHT_OT_mark_spots(NeedsSheet, bpy.types.Operator):
    """Show the markers of webs, shut-in air and the thinnest place, or hide them"""

    bl_idname = "buckwright.mark_spots"
    bl_label = "Show Markers of Sheet"
    bl_options = {"UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Switch."""
        scene = context.scene
        assert scene is not None
        seen = spot_markers.are_seen(scene)
        for one in spot_markers.objects(scene):
            one.hide_set(seen)
        return {"FINISHED"}


class BUCKWRIGHT_OT_show_spot(bpy.types.Operator):
    """Take the view to a place of the forecast sheet: the thinnest, a web or a pocket of air"""

    bl_idname = "buckwright.show_spot"
    bl_label = "Show Place of Sheet"

    index: IntProperty(name="Place", description="Place in the list", default=-1, min=-1)  # type: ignore[valid-type]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene is not None and len(results.of(context.scene).spots) > 0

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Turn the view of the viewport at hand."""
        assert context.scene is not None
        kept = results.of(context.scene)
        if self.index >= 0:
            kept.spot_index = min(self.index, len(kept.spots) - 1)
        show_spot(context)
        return {"FINISHED"}


def show_spot(context: bpy.types.Context) -> bool:
    """Select the marker of the place that is chosen in the list, and take the view there.

    Returns
    -------
    Whether there was a viewport.
    """
    assert context.scene is not None
    kept = results.of(context.scene)
    spot = kept.spots[kept.spot_index]
    if context.mode == "OBJECT":
        for one in spot_markers.objects(context.scene):
            if not one.hide_get():
                one.select_set(one == spot.object)
    return goto.look_at(context, Vector(spot.centre), size=spot.size)


_CLASSES = (
    BUCKWRIGHT_OT_show_sheet,
    BUCKWRIGHT_OT_thicken_sheet,
    BUCKWRIGHT_OT_mark_spots,
    BUCKWRIGHT_OT_show_spot,
)

register, unregister = bpy.utils.register_classes_factory(_CLASSES)
