"""Closed panels with every other setting of a job, one for each table, and the menus of presets."""

from typing import Any

import bpy

from ..scene import presets, settings
from ..scene.fields import Field, fields
from ..scene.words import COMMON, TABLES
from .panel_parts import Tab

__all__ = ["draw_field", "preset_menus", "register", "unregister"]

_PARENTS = {"job": "BUCKWRIGHT_PT_send", "forecast": "BUCKWRIGHT_PT_formed"}
_LOOKING = ("sculpt", "pull", "draft", "fit")
"""Tables that a look depends on stand under the sculpt, the others under the buck."""


def draw_field(layout: bpy.types.UILayout, scene: bpy.types.Scene, table: str, key: str) -> None:
    """Draw one setting; an optional one with its switch, greyed while it follows from others."""
    field = next(one for one in fields() if (one.table, one.key) == (table, key))
    group = getattr(settings.of(scene), table)
    if field.has_auto:
        by_hand = not getattr(group, field.auto)
        if not by_hand:
            layout.row(heading=field.label).prop(
                group, field.auto, text="As It Is" if table == "sculpt" else "By Rule"
            )
            return
        row = layout.row(align=True)
        row.prop(group, field.prop)
        row.prop(group, field.auto, text="", icon="LOOP_BACK")
        return
    if field.kind in ("direction", "sink"):
        layout.prop(group, field.mode)
        word = getattr(group, field.mode)
        if word == "VECTOR":
            layout.prop(group, "direction_vector", text="")
        if word == "AMOUNT":
            layout.prop(group, field.key)
        return
    layout.prop(group, field.prop)


def _panel(table: str) -> type[bpy.types.Panel]:
    """The closed panel of a table."""
    rest = [
        one for one in fields() if one.table == table and (one.table, one.key) not in COMMON and _shown(one)
    ]

    def draw(self: Any, context: bpy.types.Context) -> None:
        layout, scene = self.layout, context.scene
        assert scene is not None
        layout.use_property_split = True
        layout.use_property_decorate = False
        for field in rest:
            draw_field(layout, scene, field.table, field.key)

    parent = _PARENTS.get(table, "BUCKWRIGHT_PT_look" if table in _LOOKING else "BUCKWRIGHT_PT_buck")
    title = TABLES.get(table, table.title())
    return type(
        f"BUCKWRIGHT_PT_{table}",
        (Tab, bpy.types.Panel),
        {
            "__doc__": f"Further settings: {title.lower()}",
            "bl_label": title,
            "bl_parent_id": parent,
            "bl_options": {"DEFAULT_CLOSED"},
            "draw": draw,
        },
    )


def _shown(field: Field) -> bool:
    """File and unit say nothing about objects of a scene; they are kept for the job file only."""
    return (field.table, field.key) not in (("sculpt", "file"), ("sculpt", "unit"))


def _preset_menu(kind: presets.Kind) -> type[bpy.types.Menu]:
    """The menu of the presets of a kind."""

    def draw(self: Any, _context: bpy.types.Context) -> None:
        layout = self.layout
        names = presets.preset_names(kind)
        for name in names:
            _operator(layout, "buckwright.load_preset", kind, name, text=name)
        if names:
            layout.separator()
        _operator(layout, "buckwright.save_preset", kind, "", text="Save Preset...", icon="ADD")
        for name in presets.own_preset_names(kind):
            _operator(layout, "buckwright.remove_preset", kind, name, text=f"Delete '{name}'", icon="REMOVE")

    return type(
        f"BUCKWRIGHT_MT_{kind}_presets",
        (bpy.types.Menu,),
        {"bl_label": f"{kind.title()} Presets", "__doc__": "Settings kept under a name", "draw": draw},
    )


def _operator(layout: Any, name: str, kind: str, preset: str, **how: Any) -> None:
    button = layout.operator(name, **how)
    button.kind = kind
    if preset:
        button.name = preset


def preset_menus(layout: bpy.types.UILayout) -> None:
    """The menus of all kinds."""
    for kind in presets.KINDS:
        layout.menu(f"BUCKWRIGHT_MT_{kind}_presets", text=kind.title())


def _classes() -> list[type[Any]]:
    tables = dict.fromkeys(field.table for field in fields())
    order = [name for name in TABLES if name in tables] + [name for name in tables if name not in TABLES]
    panels = [_panel(table) for table in order if table != "sheet"]
    return [*map(_preset_menu, presets.KINDS), *panels]


_CLASSES = _classes()

register, unregister = bpy.utils.register_classes_factory(_CLASSES)
