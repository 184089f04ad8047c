"""The panels of the sidebar tab, in the order of work. They draw what is there and work nothing out."""

import bpy

from . import results

TAB = "Buckwright"


class BUCKWRIGHT_PT_look(bpy.types.Panel):
    """The sculpt and what was found."""

    bl_label = "Look"
    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = TAB

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        assert self.layout is not None and context.scene is not None
        self.layout.label(text=results.of(context.scene).made)


_CLASSES = (BUCKWRIGHT_PT_look,)


def register() -> None:
    """Register the panels."""
    for one in _CLASSES:
        bpy.utils.register_class(one)


def unregister() -> None:
    """Take them away."""
    for one in reversed(_CLASSES):
        bpy.utils.unregister_class(one)
