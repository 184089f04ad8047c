"""The panels of findings, a line for each kind, the worst first, with what can be done; and of details."""

from typing import Any

import bpy

from ..bridge.library import finding_kinds
from ..scene import advice, results, staleness
from . import hand_rows
from .panel_parts import Tab
from .panels_of_settings import draw_field
from .paragraphs import paragraph

__all__ = ["BUCKWRIGHT_PT_details", "BUCKWRIGHT_PT_found"]

_ICONS = {"STOP": "CANCEL", "WARN": "ERROR", "NOTE": "INFO"}
_AGAIN = {"look": "look again", "make": "make again", "forecast": "forecast again"}
_PARTS = {"found_from": "", "buck_from": "The buck is out of date", "sheet_from": "The sheet is out of date"}

_LINES, _STALE_LINES = 6, 2
"""So many kinds leave room for all other panels on a screen of 1000 pixels; and what the word of a stale
result takes of it. A row more in the buck's panel takes one."""


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
        _draw_kinds(layout, _in_front(context)[0], context)


class BUCKWRIGHT_PT_details(Tab, bpy.types.Panel):
    """Sizes and shares, and what is good to know"""

    bl_label = "Details"
    bl_parent_id = "BUCKWRIGHT_PT_found"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        assert self.layout is not None and context.scene is not None
        _draw_kinds(self.layout, _in_front(context)[1], context)
        for line in results.facts(context.scene).get("lines", ()):
            paragraph(self.layout, line, context)
        _draw_kinds(self.layout, _kinds(context, notes=True), context)

    def draw_header_preset(self, context: bpy.types.Context) -> None:
        """How many lines above had no room."""
        rest = _in_front(context)[1]
        if rest and self.layout is not None:
            self.layout.label(text=f"{len(rest)} more")


def _kinds(context: bpy.types.Context, *, notes: bool) -> list[list[int]]:
    """Places in the list of findings, those of a kind together, the worst kind first.

    Parameters
    ----------
    notes : whether those are meant that ask for nothing and have neither place nor button; else all others
    """
    assert context.scene is not None
    kinds: dict[str, list[int]] = {}
    for index, finding in enumerate(results.of(context.scene).findings):
        asks = finding.severity != "NOTE" or finding.has_place or advice.act_for(context, finding) is not None
        if asks != notes:
            kinds.setdefault(finding.slug, []).append(index)
    return list(kinds.values())


def _in_front(context: bpy.types.Context) -> tuple[list[list[int]], list[list[int]]]:
    """Kinds that ask for something: those with room in the panel, and the mildest, which Details hold."""
    assert context.scene is not None
    kinds = _kinds(context, notes=False)
    more_rows = max(0, len(hand_rows.rows(context.scene)) - hand_rows.USUAL)
    room = _LINES - (_STALE_LINES if _out_of_date(context.scene) else 0) - more_rows
    return kinds[:room], kinds[room:]


def _draw_kinds(layout: bpy.types.UILayout, kinds: list[list[int]], context: bpy.types.Context) -> None:
    """A line for each kind."""
    assert context.scene is not None
    found = results.of(context.scene).findings
    column = layout.column(align=True)
    for alike in kinds:
        first = found[alike[0]]
        _draw_line(column.row(align=True), first, alike, context)
        for index in alike if first.unfolded else ():
            _draw_whole(column.box(), found[index], index, context)


def _out_of_date(scene: bpy.types.Scene) -> str:
    """What no longer belongs to the sculpt and the settings, and why; findings tell for all the rest."""
    if why := staleness.seen(scene):
        again = _AGAIN.get(results.of(scene).found_from.command, "make again")
        return f"{why}: {again}"
    told = ((words, staleness.seen(scene, part)) for part, words in _PARTS.items() if words)
    return " ".join(f"{words}. {why}: make again." for words, why in told if why)


def _draw_line(row: bpy.types.UILayout, finding: Any, alike: list[int], context: bpy.types.Context) -> None:
    """The title of a kind, which unfolds all of it, and what can be done at once about the first.

    Parameters
    ----------
    alike : places in the list of all of this kind, that of the finding first
    """
    kind = finding_kinds().get(finding.slug)
    title = "How the sculpt was taken" if kind is None else kind.title
    more = f" ({len(alike)})" if len(alike) > 1 else ""
    left, right = row.row(align=True), row.row(align=True)
    left.alignment, left.alert = "LEFT", finding.severity == "STOP"
    right.alignment = "RIGHT"
    left.prop(
        finding, "unfolded", text=f"{title}{more}", icon=_ICONS[finding.severity], emboss=False, toggle=1
    )  # type: ignore[arg-type]
    act = advice.act_for(context, finding)
    if act is not None:
        right.operator("buckwright.follow_advice", text="", icon=act.icon).index = alike[0]  # type: ignore[arg-type, attr-defined]
    elif advice.field_for(finding) is not None:
        button = right.operator("buckwright.finding_setting", text="", icon="OPTIONS", emboss=False)
        button.index = alike[0]  # type: ignore[attr-defined]
    if finding.has_place:
        right.operator("buckwright.show_finding", text="", icon="VIEWZOOM", emboss=False).index = alike[0]  # type: ignore[attr-defined]


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
    if finding.has_place:
        box.operator("buckwright.show_finding", text="Go There", icon="VIEWZOOM").index = index  # type: ignore[attr-defined]
    if finding.slug in finding_kinds():
        box.operator("buckwright.explain", icon="QUESTION").slug = finding.slug  # type: ignore[attr-defined]
