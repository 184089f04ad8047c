"""The panels of the sidebar tab, in the order of work. They draw what is there and work nothing out."""

from typing import Any

import bpy

from ..scene import edited_buck, first_size, results, running, snapshot, visibility
from . import hand_rows
from .panel_findings import BUCKWRIGHT_PT_details, BUCKWRIGHT_PT_found
from .panel_forecast import BUCKWRIGHT_PT_formed, BUCKWRIGHT_UL_spots
from .panel_parts import PlacesList, Tab, buttons, run_button, run_progress, show_buck_button
from .panel_planes import BUCKWRIGHT_PT_planes
from .panel_setups import BUCKWRIGHT_PT_setups
from .panel_tune import BUCKWRIGHT_PT_tune
from .panel_view import BUCKWRIGHT_PT_view
from .panel_workshop import BUCKWRIGHT_PT_pulls, BUCKWRIGHT_PT_workshop, BUCKWRIGHT_PT_workshop_more
from .panels_of_settings import draw_field, preset_menus
from .paragraphs import paragraph

__all__ = ["register", "unregister"]

_ICONS = {
    "LOCKED": "LOCKED",
    "FLEXES": "UNLOCKED",
    "COMES": "BLANK1",
}


class BUCKWRIGHT_UL_regions(PlacesList, bpy.types.UIList):
    """Trapped regions, the most serious first"""

    operator = "buckwright.show_region"

    def draw_place(self, row: bpy.types.UILayout, item: Any) -> None:
        """Its number and how far it reaches inwards."""
        words = f"{item.number + 1}:  {item.sideways_mm:.1f} mm sideways"
        row.label(text=words, icon=_ICONS[item.verdict])


class BUCKWRIGHT_PT_run(Tab, bpy.types.Panel):
    """The run in progress, and the way to stop it"""

    bl_label = "Running"  # without a header it would come first, and its tab with it

    @classmethod
    def poll(cls, _context: bpy.types.Context) -> bool:
        return running.now() is not None

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        assert self.layout is not None
        run_progress(self.layout, context)


class BUCKWRIGHT_PT_look(Tab, bpy.types.Panel):
    """The sculpt, its sheet and its pull"""

    bl_label = "Sculpt"

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        layout.use_property_split = True
        layout.use_property_decorate = False
        _sculpt_row(layout, context)
        preset_menus(buttons(layout, context))
        column = layout.column()
        for table, key in (("sheet", "material"), ("sheet", "thickness_mm"), ("draft", "wanted_deg")):
            draw_field(column, scene, table, key)
        row = column.row(align=True)
        draw_field(row.column(), scene, "pull", "direction")
        row.operator("buckwright.keep_pull", text="", icon="PINNED")
        row.operator("buckwright.pull_from_view", text="", icon="VIEW3D")
        run_button(layout, "buckwright.look", "VIEWZOOM")


class BUCKWRIGHT_PT_look_more(Tab, bpy.types.Panel):
    """More settings of sculpt and pull"""

    bl_label = "More"
    bl_parent_id = "BUCKWRIGHT_PT_look"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, _context: bpy.types.Context) -> None:
        """All is in the panels within."""


class BUCKWRIGHT_PT_regions(Tab, bpy.types.Panel):
    """Regions where the part cannot come straight off; click one to go there"""

    bl_label = "Trapped Regions"
    bl_parent_id = "BUCKWRIGHT_PT_found"
    bl_options = {"DEFAULT_CLOSED"}

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
            paragraph(layout, f"{verdict}: {far}, strain {region.strain:.1%}", context)


class BUCKWRIGHT_PT_buck(Tab, bpy.types.Panel):
    """The buck: its fill, vents and outline"""

    bl_label = "Buck"

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        layout.use_property_split = True
        layout.use_property_decorate = False
        draw_field(layout, scene, "fill", "mode")
        hand_rows.draw(layout, scene)
        column = layout.column(align=True)
        row = run_button(column, "buckwright.make", "MOD_SOLIDIFY")
        if results.of(scene).collection is not None:
            row.operator("buckwright.remove_results", text="", icon="TRASH")
        _files_row(column, context, bucks=bool(results.objects(scene, "BUCK")))


class BUCKWRIGHT_PT_buck_more(Tab, bpy.types.Panel):
    """More settings of the buck"""

    bl_label = "More"
    bl_parent_id = "BUCKWRIGHT_PT_buck"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, _context: bpy.types.Context) -> None:
        """All is in the panels within."""


class BUCKWRIGHT_PT_send(Tab, bpy.types.Panel):
    """The job as a file"""

    bl_label = "Job"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        row = buttons(layout, context)
        row.operator("buckwright.open_job", icon="FILE_FOLDER")
        row.operator("buckwright.save_job", icon="FILE_TICK")


def _files_row(layout: bpy.types.UILayout, context: bpy.types.Context, *, bucks: bool) -> None:
    """Buck or sculpt in view, and files for the printer; a buck that was edited by hand goes out as it is."""
    assert context.scene is not None
    edited = edited_buck.is_edited(context.scene)
    if edited:
        words = "The buck was edited: it is checked and exported as it is, without a report"
        paragraph(layout, words, context, "INFO")
    row = buttons(layout, context)
    if bucks:
        show_buck_button(row, context.scene)
        if results.objects(context.scene, "PIECE"):  # three words would be cut
            seen = visibility.pieces_are_seen(context.scene)
            row.operator("buckwright.show_pieces", text="", icon="MOD_EXPLODE", depress=seen)
    row.operator("buckwright.export", text="Export Edited" if edited else "Export", icon="EXPORT")


def _sculpt_row(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """Which objects are the sculpt, or why there is none; trouble of the last run."""
    if words := snapshot.why_not(context):
        paragraph(layout, words, context, "INFO")
        if context.mode != "OBJECT":
            layout.operator("buckwright.object_mode", icon="OBJECT_DATAMODE")
    else:
        found = snapshot.chosen(context)
        more = f" and {len(found) - 1} more" if len(found) > 1 else ""
        column = layout.column(align=True)
        column.label(text=f"{found[0].name}{more}", icon="MESH_DATA")
        _size_rows(column, context, found)
        aside = any(visibility.is_aside(context.scene, one) for one in found)
        if aside and not visibility.buck_is_seen(context.scene):
            layout.operator("buckwright.show_buck", text="Show Hidden Sculpt", icon="HIDE_ON")
        for _, shown, sculpted in snapshot.multires_levels(found):
            layout.label(text=f"Multires level {shown} of {sculpted}", icon="MOD_MULTIRES")
    if running.trouble():
        box = layout.box()
        box.alert = True
        paragraph(box, running.trouble(), context, "ERROR", boxed=True)


def _size_rows(layout: bpy.types.UILayout, context: bpy.types.Context, found: list[bpy.types.Object]) -> None:
    """How large the sculpt is; where a unit was likely mistaken, what to press."""
    scene = context.scene
    assert scene is not None
    size = first_size.size_mm(scene, found)
    if size is None:
        return
    unit = first_size.likely_unit(scene, size)
    words = first_size.words(size)
    if not unit:
        paragraph(layout, first_size.wanted_words(scene, size) or words, context)
        return
    box = layout.box()
    paragraph(box, f"{words}: is the unit right?", context, "ERROR", boxed=True)
    row = buttons(box, context)
    row.operator("buckwright.take_unit", text=f"1 Unit = 1 {unit}").unit = unit  # type: ignore[attr-defined]
    row.operator("buckwright.want_height", text="Height ... mm")


_CLASSES = (
    BUCKWRIGHT_UL_regions,
    BUCKWRIGHT_UL_spots,
    BUCKWRIGHT_PT_run,
    BUCKWRIGHT_PT_look,
    BUCKWRIGHT_PT_look_more,
    BUCKWRIGHT_PT_setups,
    BUCKWRIGHT_PT_planes,
    BUCKWRIGHT_PT_found,
    BUCKWRIGHT_PT_details,
    BUCKWRIGHT_PT_regions,
    BUCKWRIGHT_PT_view,
    BUCKWRIGHT_PT_buck,
    BUCKWRIGHT_PT_buck_more,
    BUCKWRIGHT_PT_formed,
    BUCKWRIGHT_PT_workshop,
    BUCKWRIGHT_PT_workshop_more,
    BUCKWRIGHT_PT_pulls,
    BUCKWRIGHT_PT_send,
    BUCKWRIGHT_PT_tune,
)

register, unregister = bpy.utils.register_classes_factory(_CLASSES)
