"""What several panels share: their tab, lists of places, rows that a narrow one breaks, the large button."""

from typing import Any

import bpy

from ..scene import running, visibility
from .paragraphs import is_narrow, paragraph

__all__ = ["PlacesList", "Tab", "buttons", "run_button", "run_progress", "show_buck_button"]


class Tab:
    """Where all panels are."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Buckwright"


class PlacesList:
    """A list of places; the button in a row, like a click on it, takes the view there.

    Attributes
    ----------
    operator : the operator of the button, which takes the `index` of the row
    """

    operator = ""

    def draw_place(self, row: bpy.types.UILayout, item: Any) -> None:
        """Draw what a row says of its place."""
        raise NotImplementedError

    def draw_item(
        self,
        _context: Any,
        layout: Any,
        _data: Any,
        item: Any,
        _icon: Any,
        _active_data: Any,
        _active_property: Any,
        index: int = 0,
        _filter: int = 0,
    ) -> None:
        """One row."""
        row = layout.row(align=True)
        self.draw_place(row, item)
        row.operator(self.operator, text="", icon="VIEWZOOM", emboss=False).index = index


def buttons(layout: bpy.types.UILayout, context: bpy.types.Context) -> bpy.types.UILayout:
    """A place for buttons side by side, or one below the other where the sidebar is narrow."""
    return layout.column(align=True) if is_narrow(context) else layout.row(align=True)


def run_button(layout: bpy.types.UILayout, operator: str, icon: Any) -> bpy.types.UILayout:
    """A large button; the row that it is in."""
    row = layout.row(align=True)
    row.scale_y = 1.4
    row.operator(operator, icon=icon)
    return row


def run_progress(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """How far the whole run is, what is being done, and the way to stop it; nothing without a run."""
    work = running.now()
    if work is None:
        return
    box = layout.box()
    box.progress(factor=work.whole, text=f"{work.title}, {int(100 * work.whole)} %")
    paragraph(box, work.step, context, boxed=True)
    box.operator("buckwright.stop", text="Stop (Esc)", icon="CANCEL")


def show_buck_button(layout: bpy.types.UILayout, scene: bpy.types.Scene) -> None:
    """The switch between buck and sculpt; its word says what a click shows."""
    seen = visibility.buck_is_seen(scene)
    word, icon = ("Show Sculpt", "MESH_DATA") if seen else ("Show Buck", "MOD_SOLIDIFY")
    layout.operator("buckwright.show_buck", text=word, icon=icon)  # type: ignore[arg-type]
