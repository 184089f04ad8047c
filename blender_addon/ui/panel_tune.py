"""The panel with the search for better settings: its button, the best three, each to be taken over."""

from pathlib import Path
from typing import Any

import bpy
from bpy.props import IntProperty

from ..scene import results, running, tuning
from ..scene.snapshot import Refused
from .panel_parts import Tab
from .paragraphs import paragraph
from .run_operator import RunOperator

__all__ = ["BUCKWRIGHT_PT_tune", "register", "unregister"]


class BUCKWRIGHT_PT_tune(Tab, bpy.types.Panel):
    """Variants of the settings, tried and compared with those that are set; a click takes one over"""

    bl_label = "Better Settings"
    bl_parent_id = "BUCKWRIGHT_PT_send"
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene is not None and results.inspection(context.scene) is not None

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the panel."""
        layout, scene = self.layout, context.scene
        assert layout is not None and scene is not None
        layout.operator("buckwright.tune", icon="VIEWZOOM")
        told = tuning.told(scene)
        for number, one in enumerate(told.get("ranked", ()), 1):
            box = layout.box()
            paragraph(box, f"{number}. {one['title']}", context, boxed=True)  # long: a button would cut it
            if one["changes"]:
                box.operator("buckwright.take_variant", text="Take These", icon="CHECKMARK").number = number
            faults = f"\nFaults: {'; '.join(one['faults'])}." if one["faults"] else ""
            paragraph(box, f"{one['words']}{faults}", context, boxed=True)
        if told.get("left"):
            paragraph(layout, told["left"], context)
        if told.get("page"):
            layout.operator("buckwright.open_comparison", icon="URL")


class BUCKWRIGHT_OT_tune(RunOperator, bpy.types.Operator):
    """Try other settings of this job at preview quality and compare them with those that are set; takes minutes, Esc stops, and the next search goes on from there"""  # noqa: E501

    bl_idname = "buckwright.tune"
    bl_label = "Search for Better Settings"
    bl_options = {"UNDO"}

    variants: IntProperty(  # type: ignore[valid-type]
        name="Variants", description="How many variants are tried, at most", default=8, min=2, max=100
    )

    def begin(self, context: bpy.types.Context) -> running.Work:
        """Start the search."""
        return tuning.TuneWork(context, self.variants)

    def collected(self, context: bpy.types.Context, work: Any) -> Any:
        """What the search found; no arrays come with it."""
        return work.found(context)

    def use(self, context: bpy.types.Context, result: Any) -> str:
        """Keep the best; what to tell the user."""
        assert context.scene is not None
        tuning.keep(context.scene, result)
        ranked, own = result["tune"]["ranked"], result["tune"]["own"]
        if ranked[0]["name"] == own:
            return "No variant that was tried is better without being worse elsewhere"
        return f"{ranked[0]['title']}. {ranked[0]['words']}"


class BUCKWRIGHT_OT_take_variant(bpy.types.Operator):
    """Take the changes of this variant over into the settings"""

    bl_idname = "buckwright.take_variant"
    bl_label = "Take These Settings"
    bl_options = {"REGISTER", "UNDO"}

    number: IntProperty(name="Number", description="Which of the best, from 1", default=1, min=1)  # type: ignore[valid-type]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        found = context.scene is not None and bool(tuning.told(context.scene))
        if not found:
            cls.poll_message_set("Search for better settings first")
        return found

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Write the changes into the settings."""
        assert context.scene is not None
        try:
            self.report({"INFO"}, tuning.take(context.scene, self.number))
        except Refused as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        return {"FINISHED"}


class BUCKWRIGHT_OT_open_comparison(bpy.types.Operator):
    """Open the page with every variant that was tried: figures, the trade as a plot, pictures of the best"""

    bl_idname = "buckwright.open_comparison"
    bl_label = "Open Comparison"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        there = context.scene is not None and Path(tuning.told(context.scene).get("page", "")).is_file()
        if not there:
            cls.poll_message_set("There is no comparison on this machine: search first")
        return there

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Open it in the browser."""
        assert context.scene is not None
        page = Path(tuning.told(context.scene)["page"])
        if not bpy.app.background:
            bpy.ops.wm.url_open(url=page.as_uri())
        self.report({"INFO"}, f"The comparison is {page}")
        return {"FINISHED"}


register, unregister = bpy.utils.register_classes_factory(
    (BUCKWRIGHT_OT_tune, BUCKWRIGHT_OT_take_variant, BUCKWRIGHT_OT_open_comparison)
)
