"""The panels of the sidebar tab, in the order of work. They draw what is there and work nothing out."""

from typing import Any

import bpy

from . import results, running, settings, snapshot
from .panels_settings import draw_field
from .view_panel import BUCKWRIGHT_PT_view

__all__ = ["TAB", "register", "unregister"]

TAB = "Buckwright"
_ICONS = {
    "STOP": "ERROR",
    "WARN": "ERROR",
    "NOTE": "INFO",
    "LOCKED": "LOCKED",
    "FLEXES": "UNLOCKED",
    "COMES": "BLANK1",
}
# Characters that stay readable in a line: 7 px a letter at scale 1 is what the interface font takes.
_LETTER_PX = 7.0


class _Tab:
    """Where all panels are."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = TAB


class BUCKWRIGHT_UL_regions(bpy.types.UIList):
    """Trapped regions, the worst first"""

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
        """One row: a click takes the view there."""
        row = layout.row(align=True)
        icon = _ICONS[item.verdict]
        row.label(text=f"{item.number + 1}", icon=icon)
        row.label(text=f"{item.sideways_mm:.1f} mm")
        row.operator("buckwright.show_region", text="", icon="VIEWZOOM", emboss=False).index = index


class BUCKWRIGHT_PT_look(_Tab, bpy.types.Panel):
    """The sculpt, what is asked of it, and the button to look"""

    bl_label = "Sculpt"

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        layout.use_property_split = True
        layout.use_property_decorate = False
        _sculpt_row(layout, context)
        column = layout.column()
        for table, key in (("sheet", "material"), ("sheet", "thickness_mm"), ("draft", "wanted_deg")):
            draw_field(column, scene, table, key)
        draw_field(column, scene, "pull", "direction")
        row = column.row(align=True)
        row.operator("buckwright.keep_pull", text="Keep Found", icon="PINNED")
        row.operator("buckwright.pull_from_view", text="From View", icon="VIEW3D")
        _run_button(layout, "buckwright.look", "VIEWZOOM")


class BUCKWRIGHT_PT_found(_Tab, bpy.types.Panel):
    """What was found, the worst first, with what to do about it"""

    bl_label = "Found"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene is not None and results.of(context.scene).made != "NONE"

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        kept = results.of(scene)
        letters = _letters(context)
        if stale := results.is_stale(scene):
            _paragraph(layout.box(), f"Out of date. {stale}: look again.", letters - 4, "FILE_REFRESH")
        for line in results.facts(scene).get("lines", ()):
            _paragraph(layout, line, letters)
        for finding in kept.findings:
            box = layout.box().column(align=True)
            box.alert = finding.severity == "STOP"
            _paragraph(box, finding.words, letters - 6, _ICONS[finding.severity])
            box.alert = False
            if finding.advice:
                _paragraph(box, finding.advice, letters - 6, "RIGHTARROW")


class BUCKWRIGHT_PT_regions(_Tab, bpy.types.Panel):
    """Regions where the sheet cannot come straight off; a click takes the view there"""

    bl_label = "Trapped Regions"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene is not None and len(results.of(context.scene).regions) > 0

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        kept = results.of(scene)
        layout.template_list("BUCKWRIGHT_UL_regions", "", kept, "regions", kept, "region_index", rows=3)
        if 0 <= kept.region_index < len(kept.regions):
            region = kept.regions[kept.region_index]
            verdict = region.bl_rna.properties["verdict"].enum_items[region.verdict].name  # type: ignore[attr-defined]
            far = f"{region.depth_mm:.1f} mm deep, {region.sideways_mm:.1f} mm sideways"
            _paragraph(layout, f"{verdict}: {far}, strain {region.strain:.1%}", _letters(context))


class BUCKWRIGHT_PT_buck(_Tab, bpy.types.Panel):
    """The buck: how it is filled, its vents and outline, and the button to make it"""

    bl_label = "Buck"

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        layout.use_property_split = True
        layout.use_property_decorate = False
        draw_field(layout, scene, "fill", "mode")
        own = settings.of(scene)
        made = results.of(scene).collection is not None
        if made:
            row = layout.row(align=True)
            row.use_property_split = False
            row.prop(own, "vents_by_hand")
            row.operator("buckwright.add_vent", text="", icon="ADD")
            row.operator("buckwright.vents_by_rule", text="", icon="LOOP_BACK")
            row = layout.row(align=True)
            row.use_property_split = False
            row.prop(own, "outline_by_hand")
            row.operator("buckwright.outline_by_rule", text="", icon="LOOP_BACK")
        _run_button(layout, "buckwright.make", "MOD_SOLIDIFY")
        if made:
            layout.operator("buckwright.remove_results", icon="TRASH")


class BUCKWRIGHT_PT_send(_Tab, bpy.types.Panel):
    """Files: the buck for the printer, the papers, the job"""

    bl_label = "Files"

    def draw(self, _context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout = self.layout
        assert layout is not None
        layout.operator("buckwright.export", icon="EXPORT")
        row = layout.row(align=True)
        row.operator("buckwright.open_job", icon="FILE_FOLDER")
        row.operator("buckwright.save_job", icon="FILE_TICK")


def _sculpt_row(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """Which objects are the sculpt, or why there is none; trouble of the last run."""
    letters = _letters(context)
    if words := snapshot.why_not(context):
        _paragraph(layout, words, letters - 3, "INFO")
        if context.mode != "OBJECT":
            layout.operator("buckwright.object_mode", icon="OBJECT_DATAMODE")
    else:
        found = snapshot.chosen(context)
        more = f" and {len(found) - 1} more" if len(found) > 1 else ""
        layout.label(text=f"{found[0].name}{more}", icon="MESH_DATA")
        for _, shown, sculpted in snapshot.multires_levels(found):
            layout.label(text=f"Multires level {shown} of {sculpted}", icon="MOD_MULTIRES")
    if running.trouble():
        box = layout.box()
        box.alert = True
        _paragraph(box, running.trouble(), letters - 6, "ERROR")


def _run_button(layout: bpy.types.UILayout, operator: str, icon: Any) -> None:
    """A large button, or the progress of the run that it began."""
    work = running.now()
    if work is not None and operator == f"buckwright.{work.command}":
        layout.progress(factor=work.share, text=work.step)
        layout.operator("buckwright.stop", text="Stop (Esc)", icon="CANCEL")
        return
    row = layout.row()
    row.scale_y = 1.4
    row.operator(operator, icon=icon)


def _letters(context: bpy.types.Context) -> int:
    """How many letters fit into a line of the sidebar."""
    width = context.region.width if context.region is not None else 300
    preferences = context.preferences
    scale = (preferences.system.ui_scale if preferences is not None else 0.0) or 1.0  # 0 without a window
    return max(int(width / (_LETTER_PX * scale)) - 3, 12)


def _paragraph(layout: bpy.types.UILayout, text: str, letters: int, icon: Any = "NONE") -> None:
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


_CLASSES = (
    BUCKWRIGHT_UL_regions,
    BUCKWRIGHT_PT_look,
    BUCKWRIGHT_PT_found,
    BUCKWRIGHT_PT_regions,
    BUCKWRIGHT_PT_view,
    BUCKWRIGHT_PT_buck,
    BUCKWRIGHT_PT_send,
)


def register() -> None:
    """Register the panels."""
    for one in _CLASSES:
        bpy.utils.register_class(one)


def unregister() -> None:
    """Take them away."""
    for one in reversed(_CLASSES):
        bpy.utils.unregister_class(one)
