"""The panel with the setups to choose from, each with its picture and figures."""

from typing import Any

import bpy
from bpy.props import IntProperty

from ..scene import results, settings, setup_choices
from .panel_parts import Tab
from .paragraphs import is_narrow, paragraph

__all__ = ["BUCKWRIGHT_PT_setups", "draw_choice", "register", "unregister"]

_PICTURE_SCALE = 4.0
_PICTURE_SHARE = 0.35
"""Of the width, for the picture."""


class BUCKWRIGHT_PT_setups(Tab, bpy.types.Panel):
    """Ways to set the sculpt up, the best first; a click takes one"""

    bl_label = "Setups"
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene is not None and len(results.of(context.scene).setups) > 1

    def draw_header_preset(self, context: bpy.types.Context) -> None:
        """How many there are, and which is taken, also while the panel is closed."""
        assert self.layout is not None and context.scene is not None
        taken = settings.of(context.scene).pull.setup
        self.layout.label(text=f"{taken} of {len(results.of(context.scene).setups)}")

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        for one in results.of(scene).setups:
            taken = setup_choices.is_taken(scene, one.number)
            draw_choice(layout.box(), one, context, operator="buckwright.take_setup", taken=taken)


def draw_choice(
    box: bpy.types.UILayout, one: Any, context: bpy.types.Context, *, operator: str, taken: bool
) -> None:
    """One choice with its picture and figures; a click on its name calls the operator with its number."""
    head = box.row()
    icon = "RADIOBUT_ON" if taken else "RADIOBUT_OFF"
    button: Any = head.operator(operator, text=one.name, icon=icon, depress=taken)
    button.number = one.number
    narrow = is_narrow(context)
    body = box.column() if narrow else box.split(factor=_PICTURE_SHARE)
    if one.picture is not None:
        body.template_icon(icon_value=one.picture.preview_ensure().icon_id, scale=_PICTURE_SCALE)
    text = "\n".join((one.words, one.more))
    paragraph(body, text, context, boxed=True, share=1.0 if narrow else 1.0 - _PICTURE_SHARE)


class BUCKWRIGHT_OT_take_setup(bpy.types.Operator):
    """Set the sculpt up like this from the next look or make on"""

    bl_idname = "buckwright.take_setup"
    bl_label = "Take This Setup"
    bl_options = {"REGISTER", "UNDO"}

    number: IntProperty(name="Number", description="Which of the setups, the best is 1", default=1, min=1)  # type: ignore[valid-type]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        found = context.scene is not None and len(results.of(context.scene).setups) > 0
        if not found:
            cls.poll_message_set("Look at the sculpt with the pull on Search first")
        return found

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Write the number into the settings."""
        assert context.scene is not None
        known = {one.number for one in results.of(context.scene).setups}
        if self.number not in known:
            self.report({"ERROR"}, f"There is no setup {self.number}; there are {len(known)}")
            return {"CANCELLED"}
        setup_choices.take(context.scene, self.number)
        return {"FINISHED"}


register, unregister = bpy.utils.register_classes_factory((BUCKWRIGHT_OT_take_setup,))
