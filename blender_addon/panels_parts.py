"""What several panels share: their tab, lists of places, the large button that becomes a bar, paragraphs."""

from typing import Any

import bpy

from . import running, visibility

__all__ = ["PlacesList", "Tab", "letters_in", "paragraph", "run_button", "show_buck_button"]

# Characters that stay readable in a line: 7 px a letter at scale 1 is what the interface font takes.
_LETTER_PX = 7.0


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


def run_button(layout: bpy.types.UILayout, operator: str, icon: Any) -> None:
    """A large button, or the progress of the run that it began."""
    work = running.now()
    if work is not None and operator == f"buckwright.{work.command}":
        layout.progress(factor=work.share, text=work.step)
        layout.operator("buckwright.stop", text="Stop (Esc)", icon="CANCEL")
        return
    row = layout.row()
    row.scale_y = 1.4
    row.operator(operator, icon=icon)


def show_buck_button(layout: bpy.types.UILayout, scene: bpy.types.Scene) -> None:
    """The switch between buck and sculpt; its word says what a click shows."""
    seen = visibility.buck_is_seen(scene)
    word, icon = ("Show Colored Sculpt", "MESH_DATA") if seen else ("Show Buck", "MOD_SOLIDIFY")
    layout.operator("buckwright.show_buck", text=word, icon=icon)  # type: ignore[arg-type]


def letters_in(context: bpy.types.Context) -> int:
    """How many letters fit into a line of the sidebar."""
    width = context.region.width if context.region is not None else 300
    preferences = context.preferences
    scale = (preferences.system.ui_scale if preferences is not None else 0.0) or 1.0  # 0 without a window
    return max(int(width / (_LETTER_PX * scale)) - 3, 12)


def paragraph(layout: bpy.types.UILayout, text: str, letters: int, icon: Any = "NONE") -> None:
    """Text in as many lines as the width asks for; labels do not break by themselves."""
    column = layout.column(align=True)
    column.scale_y = 0.8
    for number, line in enumerate(_lines(text, max(letters, 12))):
        if icon == "NONE":
            column.label(text=line)
        else:
            column.label(text=line, icon=icon if number == 0 else "BLANK1")


def _lines(text: str, letters: int) -> list[str]:
    import textwrap

    return [line for part in text.splitlines() for line in textwrap.wrap(part, letters) or [""]]
