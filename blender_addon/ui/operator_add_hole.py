"""The operator that marks a hole of the part where the mouse points."""

import bpy
from bpy.props import EnumProperty, FloatVectorProperty
from mathutils import Vector

from ..scene import hole_markers, results
from ..view.pointing import buck_under, seen_under
from .clicked_place import ClickedPlace

__all__ = ["register", "unregister"]

_KINDS = tuple((kind.upper(), name, tip) for kind, (_, name, tip) in hole_markers.KINDS.items())


class BUCKWRIGHT_OT_add_hole(ClickedPlace, bpy.types.Operator):
    """Mark a hole of the part: click on the sculpt or the buck; a pip there shows where to drill"""

    bl_idname = "buckwright.add_hole"
    bl_label = "Add Hole"
    bl_options = {"REGISTER", "UNDO"}
    waits = "Click on the sculpt or the buck: mark a hole there"

    kind: EnumProperty(items=_KINDS, name="Kind", description="What the hole is for")  # type: ignore[valid-type]
    place: FloatVectorProperty(  # type: ignore[valid-type]
        name="Place",
        description="Where the hole is; the 3D cursor if nothing is set",
        subtype="TRANSLATION",
        options={"SKIP_SAVE"},
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        cls.poll_message_set("Go to Object Mode first")
        return context.scene is not None and context.mode == "OBJECT"

    def place_under(
        self, context: bpy.types.Context, region: bpy.types.Region, at: tuple[float, float]
    ) -> Vector | None:
        """The buck's if it is seen, else that of what lies in front."""
        found = buck_under(context, region, at)
        return seen_under(context, region, at) if found is None else found

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Put the marker."""
        scene = context.scene
        assert scene is not None
        marker = hole_markers.add(scene, self.kind.lower(), self.asked(context))
        if results.sculpts(scene):  # before the first run the sculpt stays selected, which it is taken from
            self.take_up(context, marker)
        return {"FINISHED"}


register, unregister = bpy.utils.register_classes_factory((BUCKWRIGHT_OT_add_hole,))
