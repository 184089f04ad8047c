"""The panels of findings, a line each, the worst first, with what can be done; and of figures."""

from typing import Any

import bpy

from ..bridge.library import finding_kinds
from ..scene import advice, results, staleness
from .panel_parts import Tab
from .panels_of_settings import draw_field
from .paragraphs import paragraph

__all__ = ["BUCKWRIGHT_PT_figures", "BUCKWRIGHT_PT_found"]

_ICONS = {"STOP": "CANCEL", "WARN": "ERROR", "NOTE": "INFO"}
_PARTS = {"found_from": "", "buck_from": "The buck is out of date", "sheet_from": "The sheet is out of date"}


class BUCKWRIGHT_PT_found(Tab, bpy.types.Panel):
    """What was found, the most serious first, with what to do about it"""

    bl_label = "Findings"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene is not None and results.of(context.scene).made != "NONE"

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        if words := _out_of_date(scene):
            paragraph(layout.box(), words, context, "FILE_REFRESH", boxed=True)
        column = layout.column(align=True)
        for index, finding in enumerate(results.of(scene).findings):
            _draw_line(column.row(align=True), finding, index, context)
            if finding.unfolded:
                _draw_whole(column.box(), finding, index, context)


class BUCKWRIGHT_PT_figures(Tab, bpy.types.Panel):
    """Sizes and shares"""

    bl_label = "Figures"
    bl_parent_id = "BUCKWRIGHT_PT_found"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        assert self.layout is not None and context.scene is not None
        for line in results.facts(context.scene).get("lines", ()):
            paragraph(self.layout, line, context)


def _out_of_date(scene: bpy.types.Scene) -> str:
    """What no longer belongs to the sculpt and the settings, and why; findings tell for all the rest."""
    if why := staleness.seen(scene):
        return f"Out of date. {why}: look or make again."
    told = ((words, staleness.seen(scene, part)) for part, words in _PARTS.items() if words)
    return " ".join(f"{words}. {why}: make again." for words, why in told if why)


def _draw_line(row: bpy.types.UILayout, finding: Any, index: int, context: bpy.types.Context) -> None:
    """Its title, which unfolds it, and what can be done at once."""
    kind = finding_kinds().get(finding.slug)
    title = "How the sculpt was taken" if kind is None else kind.title
    wide = row.row(align=True)
    wide.alignment, wide.alert = "LEFT", finding.severity == "STOP"
    wide.prop(finding, "unfolded", text=title, icon=_ICONS[finding.severity], emboss=False, toggle=1)  # type: ignore[arg-type]
    act = advice.act_for(context, finding)
    if act is not None:
        row.operator("buckwright.follow_advice", text="", icon=act.icon).index = index  # type: ignore[arg-type, attr-defined]
    elif advice.field_for(finding) is not None:
        button = row.operator("buckwright.finding_setting", text="", icon="OPTIONS", emboss=False)
        button.index = index  # type: ignore[attr-defined]
    if finding.has_place:
        row.operator("buckwright.show_finding", text="", icon="VIEWZOOM", emboss=False).index = index  # type: ignore[attr-defined]


def _draw_whole(box: bpy.types.UILayout, finding: Any, index: int, context: bpy.types.Context) -> None:
    """Its words, its advice, the setting behind it, and all that can be done."""
    assert context.scene is not None
    paragraph(box, finding.words, context, boxed=True)
    if finding.advice:
        paragraph(box, finding.advice, context, "RIGHTARROW", boxed=True)
    field = advice.field_for(finding)
    if field is not None:
        draw_field(box.column(), context.scene, field.table, field.key)
    act = advice.act_for(context, finding)
    if act is not None:
        box.operator("buckwright.follow_advice", text=act.label, icon=act.icon).index = index  # type: ignore[arg-type, attr-defined]
    if finding.slug in finding_kinds():
        box.operator("buckwright.explain", icon="QUESTION").slug = finding.slug  # type: ignore[attr-defined]
