"""The operators of findings: explained, gone to, and what can be done about one."""

from typing import Any

import bpy
from bpy.props import IntProperty, StringProperty

from ..bridge.library import FindingKind, finding_kinds
from ..scene import advice, results
from ..scene.plain_words import spoken
from ..view import go_to_place
from .panels_of_settings import draw_field
from .paragraphs import paragraph

__all__ = ["register", "unregister"]

_WIDTH = 420
"""Of the popup, in pixels at an interface scale of 1."""


class BUCKWRIGHT_OT_explain(bpy.types.Operator):
    """Explain this finding: why it matters, what it is judged by, and what can be done about it"""

    bl_idname = "buckwright.explain"
    bl_label = "What Does This Mean?"
    bl_options = {"INTERNAL"}

    slug: StringProperty(name="Finding", description="Kind of the finding", options={"SKIP_SAVE"})  # type: ignore[valid-type]

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> Any:
        """Open the popup."""
        if self.slug not in finding_kinds() or context.window_manager is None:
            return self.execute(context)
        return context.window_manager.invoke_popup(self, width=_WIDTH)

    def execute(self, _context: bpy.types.Context) -> set[str]:
        """Without a window: say why the finding matters."""
        kind = finding_kinds().get(self.slug)
        if kind is None:
            self.report({"ERROR"}, f"There is no finding of the kind '{self.slug}'")
            return {"CANCELLED"}
        self.report({"INFO"}, spoken(f"{kind.title}. {kind.why}"))
        return {"FINISHED"}

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the popup."""
        assert self.layout is not None
        _draw_kind(self.layout, finding_kinds()[self.slug], context)


def _draw_kind(layout: bpy.types.UILayout, kind: FindingKind, context: bpy.types.Context) -> None:
    layout.label(text=kind.title, icon="QUESTION")
    for heading, texts in (
        ("Why It Matters", (kind.why,)),
        ("Rule", (kind.rule,)),
        ("Source", (kind.source,)),
        ("What You Can Do", kind.remedies),
    ):
        if not texts:
            continue
        layout.separator()
        layout.label(text=heading)
        for text in texts:
            icon = "DOT" if texts is kind.remedies else "NONE"
            paragraph(layout, spoken(text), context, icon, width=_WIDTH)


class _OfFinding:
    """What operators of one finding in the list have in common."""

    bl_options = {"REGISTER", "UNDO"}

    index: IntProperty(name="Finding", description="Place in the list", min=0)  # type: ignore[valid-type]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only with findings."""
        return context.scene is not None and len(results.of(context.scene).findings) > 0

    def finding(self, context: bpy.types.Context) -> Any:
        """The finding, or None."""
        assert context.scene is not None
        found = results.of(context.scene).findings
        return found[self.index] if self.index < len(found) else None

    def nothing(self) -> set[str]:
        """Say that there is nothing to do."""
        self.report({"ERROR"}, "Nothing can be done about this finding here")  # type: ignore[attr-defined]
        return {"CANCELLED"}


class BUCKWRIGHT_OT_show_finding(_OfFinding, bpy.types.Operator):
    """Go to the place of this finding in the viewport"""

    bl_idname = "buckwright.show_finding"
    bl_label = "Go to Finding"

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Take the view there."""
        finding = self.finding(context)
        if finding is None or not finding.has_place:
            return self.nothing()
        go_to_place.show_finding(context, self.index)
        return {"FINISHED"}


class BUCKWRIGHT_OT_finding_setting(_OfFinding, bpy.types.Operator):
    """Change the setting that this finding hangs on"""

    bl_idname = "buckwright.finding_setting"
    bl_label = "Change Setting"

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> Any:
        """Open a popup with the setting, which changes at once."""
        finding, manager = self.finding(context), context.window_manager
        if finding is None or advice.field_for(finding) is None or manager is None:
            return self.nothing()
        return manager.invoke_popup(self, width=_WIDTH)

    def execute(self, _context: bpy.types.Context) -> set[str]:
        """All is done in the popup."""
        return {"FINISHED"}

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the popup."""
        layout, finding = self.layout, self.finding(context)
        assert layout is not None and context.scene is not None
        field = None if finding is None else advice.field_for(finding)
        if field is not None:
            layout.use_property_split = True
            layout.use_property_decorate = False
            draw_field(layout, context.scene, field.table, field.key)
            paragraph(layout, field.setting.tip, context, width=_WIDTH)


class BUCKWRIGHT_OT_follow_advice(_OfFinding, bpy.types.Operator):
    """Do what helps against this finding; it counts from the next look or make on"""

    bl_idname = "buckwright.follow_advice"
    bl_label = "Follow Advice"

    @classmethod
    def description(cls, context: bpy.types.Context, properties: Any) -> str:
        """What it does for this finding."""
        assert context.scene is not None
        found = results.of(context.scene).findings
        act = advice.act_for(context, found[properties.index]) if properties.index < len(found) else None
        return f"{act.label}; it counts from the next look or make on" if act is not None else ""

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Do it."""
        finding = self.finding(context)
        act = None if finding is None else advice.act_for(context, finding)
        if act is None:
            return self.nothing()
        act.do(context, finding)
        self.report({"INFO"}, f"{act.label}: look or make again")
        return {"FINISHED"}


_CLASSES = (
    BUCKWRIGHT_OT_explain,
    BUCKWRIGHT_OT_show_finding,
    BUCKWRIGHT_OT_finding_setting,
    BUCKWRIGHT_OT_follow_advice,
)

register, unregister = bpy.utils.register_classes_factory(_CLASSES)
