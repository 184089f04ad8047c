"""The operator that explains a finding: why it matters, the rule, its source, what can be done."""

from typing import Any

import bpy
from bpy.props import StringProperty

from ..bridge.library import FindingKind, finding_kinds
from ..scene.plain_words import spoken
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


register, unregister = bpy.utils.register_classes_factory((BUCKWRIGHT_OT_explain,))
