"""Entries in Blender's menus, so that every operator is found by search too."""

from typing import Any

import bpy

from ..scene import presets, results

__all__ = ["register", "unregister"]


class BUCKWRIGHT_MT_object(bpy.types.Menu):
    """Buck for vacuum forming"""

    bl_label = "Buckwright"

    def draw(self, _context: bpy.types.Context) -> None:
        """Draw the menu."""
        layout = self.layout
        assert layout is not None
        layout.operator_context = "INVOKE_DEFAULT"
        for group in (
            ("look", "make", "forecast", "halve", "stop"),
            ("add_vent", "vents_by_rule", "add_block", "blocks_by_rule"),
            ("outline_by_rule", "planes_by_rule", "add_hole"),
            ("take_unit", "want_height"),
            ("keep_pull", "pull_from_view", "show_region", "object_mode"),
            ("tune", "open_comparison"),
            ("live_draft", "read_values", "show_buck", "show_pieces"),
            ("show_sheet", "thicken_sheet", "mark_spots", "show_spot"),
            ("show_workshop", "job_sheet", "note_pull", "read_log"),
            ("export", "open_job", "save_job"),
            ("remove_results", "clear_store", "help"),
        ):
            for name in group:
                layout.operator(f"buckwright.{name}")
            layout.separator()
        for kind in presets.KINDS:
            layout.menu(f"BUCKWRIGHT_MT_{kind}_presets")


def _in_object_menu(self: Any, _context: bpy.types.Context) -> None:
    self.layout.separator()
    self.layout.menu("BUCKWRIGHT_MT_object")


def _in_context_menu(self: Any, context: bpy.types.Context) -> None:
    """What is at hand at the mouse: to be measured, made and vented."""
    self.layout.separator()
    self.layout.operator_context = "INVOKE_DEFAULT"
    self.layout.operator("buckwright.look")
    self.layout.operator("buckwright.make")
    if results.objects(context.scene, "BUCK"):  # type: ignore[arg-type]
        self.layout.operator("buckwright.add_vent")
        self.layout.operator("buckwright.add_block")
        self.layout.operator("buckwright.show_buck")


def _in_outliner(self: Any, _context: bpy.types.Context) -> None:
    self.layout.separator()
    self.layout.operator_context = "INVOKE_DEFAULT"
    self.layout.operator("buckwright.look")
    self.layout.operator("buckwright.make")


def _in_export_menu(self: Any, _context: bpy.types.Context) -> None:
    self.layout.operator("buckwright.export", text="Buck for Vacuum Forming (.stl/.3mf)")


def _in_import_menu(self: Any, _context: bpy.types.Context) -> None:
    self.layout.operator("buckwright.open_job", text="Buckwright Job (.toml)")


_PLACES = (
    ("VIEW3D_MT_object", _in_object_menu),
    ("VIEW3D_MT_object_context_menu", _in_context_menu),
    ("OUTLINER_MT_object", _in_outliner),
    ("TOPBAR_MT_file_export", _in_export_menu),
    ("TOPBAR_MT_file_import", _in_import_menu),
)


def register() -> None:
    """Add the entries."""
    bpy.utils.register_class(BUCKWRIGHT_MT_object)
    for place, draw in _PLACES:
        getattr(bpy.types, place).append(draw)


def unregister() -> None:
    """Take them away."""
    for place, draw in reversed(_PLACES):
        getattr(bpy.types, place).remove(draw)
    bpy.utils.unregister_class(BUCKWRIGHT_MT_object)
