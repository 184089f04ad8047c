"""The panel of the workshop. `panels.py` gives it its place among the others."""

import bpy

from ..scene import hole_markers, pull_log, results, running, workshop
from .panel_parts import Tab, buttons, run_button
from .panels_of_settings import draw_field
from .paragraphs import paragraph

__all__ = ["BUCKWRIGHT_PT_pulls", "BUCKWRIGHT_PT_workshop", "BUCKWRIGHT_PT_workshop_more"]


class BUCKWRIGHT_PT_workshop(Tab, bpy.types.Panel):
    """From the buck to a part: machine, frame, blank, heat and papers"""

    bl_label = "Workshop"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        layout.use_property_split = True
        layout.use_property_decorate = False
        draw_field(layout, scene, "machine", "profile")
        for line in results.facts(scene).get("workshop", ()):
            paragraph(layout, line, context)
        _draw_holes(layout, context)
        column = layout.column(align=True)
        if any(results.objects(scene, role) for role in workshop.ROLES):
            word = "Hide Workshop" if workshop.are_seen(scene) else "Show Workshop"
            buttons(column, context).operator("buckwright.show_workshop", text=word, icon="MESH_GRID")
        run_button(column, "buckwright.job_sheet", "URL")


def _draw_holes(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """How many are marked, and buttons for more."""
    scene = context.scene
    assert scene is not None
    counts = {kind: len(hole_markers.markers(scene, kind)) for kind in hole_markers.KINDS}
    marked = ", ".join(
        f"{count} {hole_markers.KINDS[kind][1].lower()}{'' if count == 1 else 's'}"
        for kind, count in counts.items()
        if count
    )
    layout.label(text=f"Holes: {marked}" if marked else "Mark holes of the part:")
    row = buttons(layout, context)
    row.operator_context = "INVOKE_DEFAULT"
    for kind, (_, name, _) in hole_markers.KINDS.items():
        row.operator("buckwright.add_hole", text=name).kind = kind.upper()


class BUCKWRIGHT_PT_workshop_more(Tab, bpy.types.Panel):
    """More settings of the workshop"""

    bl_label = "More"
    bl_parent_id = "BUCKWRIGHT_PT_workshop"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, _context: bpy.types.Context) -> None:
        """All is in the panels within."""


class BUCKWRIGHT_PT_pulls(Tab, bpy.types.Panel):
    """The log of pulls: what was tried, and what to try next"""

    bl_label = "Pull Log"
    bl_parent_id = "BUCKWRIGHT_PT_workshop"

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        words = pull_log.why_not(context)
        if words and running.now() is None:
            paragraph(layout, words, context, "INFO")
        row = buttons(layout, context)
        row.operator_context = "INVOKE_DEFAULT"
        row.operator("buckwright.note_pull", icon="GREASEPENCIL")
        row.operator("buckwright.read_log", icon="FILE_REFRESH")
        told = pull_log.told(scene)
        if not told:
            return
        box = layout.box()
        paragraph(box, told["next"], context, "FORWARD", boxed=True)
        count = told["pulls"]
        for line in (f"{count} pull{'' if count == 1 else 's'} so far.", *told["lines"]):
            paragraph(layout, line, context)
