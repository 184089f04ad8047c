"""Closed panels with every other setting of a job, one for each table, and the menus of presets.

A table that a stage of the library adds gets its panel by itself; where it stands follows from the command
that reads it.
"""

import re
from collections.abc import Iterable
from typing import Any

import bpy

from ..bridge.library import COMMANDS, all_settings, settings_for, tables
from ..scene import automatic, heat_painting, presets, settings, wanted_draft
from ..scene.fields import Field, field_of, fields, titles_of
from ..view import view_settings
from .panel_parts import Tab
from .paragraphs import room_px, width_px

__all__ = ["draw_field", "panel_of", "parent_of", "preset_menus", "register", "unregister"]

IN_FRONT = frozenset({
    ("sheet", "material"),
    ("sheet", "thickness_mm"),
    ("draft", "wanted_deg"),
    ("pull", "direction"),
    ("fill", "mode"),
    ("forecast", "quality"),
    ("machine", "profile"),
})  # fmt: skip
"""Settings that the main panels draw."""
_OF_FILES = frozenset({("sculpt", "file"), ("sculpt", "unit"), ("body", "unit")})
"""They say nothing about objects of a scene, and are kept for the job file only."""
_OBJECTS = {"body": "body_object"}
"""Tables that an object of the scene stands for, and the property that points to it."""
_LABEL_SHARE = 0.42
"""Of the room in a panel, what Blender gives to labels beside their values; measured on pictures."""
_VALUE_SHARE = 0.48
"""The rest, less a box to tick."""
_PARENTS = {
    "look": "BUCKWRIGHT_PT_look_more",
    "forecast-on": "BUCKWRIGHT_PT_formed",
    "make": "BUCKWRIGHT_PT_buck_more",
}
"""Panels of the commands, those first that read least."""
_ROOMS = re.compile(r"\.(workshop|heating)\.")
"""Rooms of the library whose tables the workshop's panel holds."""


def draw_field(layout: bpy.types.UILayout, scene: bpy.types.Scene, table: str, key: str) -> None:
    """Draw one setting; an optional one with its switch, which tells the value that it follows to."""
    field = field_of(table, key)
    group = getattr(settings.of(scene), table)
    if (table, key) == ("forecast", "heat_map"):
        _draw_heat(layout, scene, group, field)
    elif not field.has_auto:
        _draw_value(layout, group, field)
    elif getattr(group, field.auto):
        text = _followed_to(scene, field)
        if _fits(field.setting.label) and _fits(text, share=_VALUE_SHARE):
            layout.row(heading=field.setting.label).prop(group, field.auto, text=text)
        else:
            layout.label(text=field.setting.label)
            row = layout.row()
            row.use_property_split = False
            row.prop(group, field.auto, text=text)
    else:
        row = layout.row(align=True)
        _draw_value(row, group, field)
        row.prop(group, field.auto, text="", icon="LOOP_BACK")


def _draw_heat(layout: bpy.types.UILayout, scene: bpy.types.Scene, group: Any, field: Field) -> None:
    """The map in words, or what is painted in its place."""
    row = layout.row(align=True)
    if heat_painting.painted(scene) is None:
        _draw_value(row, group, field)
        row.operator("buckwright.paint_heat", text="", icon="BRUSH_DATA")
    else:
        row.operator("buckwright.paint_heat", icon="BRUSH_DATA")
        row.operator("buckwright.remove_heat", text="", icon="X")


def _followed_to(scene: bpy.types.Scene, field: Field) -> str:
    """What an automatic setting follows to; the wanted draft is known at once."""
    if (field.table, field.key) == ("draft", "wanted_deg"):
        return f"Auto: {field.told(wanted_draft.of_settings(scene))}"
    return automatic.words(scene, field)


def _fits(text: str, *, share: float = _LABEL_SHARE) -> bool:
    """Whether a label has room beside its value, or a text in its share of the line; Blender would cut it."""
    return width_px(text, bpy.context) <= share * room_px(bpy.context)


def _draw_value(layout: bpy.types.UILayout, group: Any, field: Field) -> None:
    if field.kind not in ("direction", "amount_or_word"):
        beside = field.kind == "switch" or _fits(field.heading)
        column = layout if beside else layout.column(align=True)
        if not beside:
            column.label(text=field.heading)
        column.prop(group, field.prop, text=field.heading if beside else " ")
        return
    layout.prop(group, field.mode)
    word = getattr(group, field.mode)
    if word == "VECTOR":
        _draw_direction(layout, group, field)
    if word == "AMOUNT":
        layout.prop(group, field.key)


def _draw_direction(layout: bpy.types.UILayout, group: Any, field: Field) -> None:
    """A ball to turn beside the three numbers, and the switch for the handle in the viewport."""
    row = layout.row()
    row.use_property_split = False
    row.prop(group, field.vector, text="")
    numbers = row.column(align=True)
    for index, axis in enumerate("XYZ"):
        numbers.prop(group, field.vector, index=index, text=axis)
    if field.table == "pull":
        numbers.prop(view_settings.of(group.id_data), "turn", text="Handle", icon="GIZMO", toggle=True)


def parent_of(table: str) -> str:
    """The panel that a table belongs under: the workshop's, or the first command's that reads it all."""
    if _ROOMS.search(tables()[table].__module__):
        return "BUCKWRIGHT_PT_workshop_more"
    wanted = {name for name in all_settings() if name.partition(".")[0] == table}
    for command, panel in _PARENTS.items():
        if wanted <= set(settings_for(COMMANDS[command])):
            return panel
    return "BUCKWRIGHT_PT_send"


def panel_of(table: str, title: str, held: Iterable[Field], parent: str) -> type[bpy.types.Panel]:
    """The closed panel of some fields of a table."""
    keys = [field.key for field in held]

    def draw(self: Any, context: bpy.types.Context) -> None:
        layout, scene = self.layout, context.scene
        assert scene is not None
        layout.use_property_split = True
        layout.use_property_decorate = False
        if table in _OBJECTS:
            layout.prop(settings.of(scene), _OBJECTS[table])
        for key in keys:
            draw_field(layout, scene, table, key)

    return type(
        f"BUCKWRIGHT_PT_{table}",
        (Tab, bpy.types.Panel),
        {
            "__doc__": f"More settings: {title.lower()}",
            "bl_label": title,
            "bl_parent_id": parent,
            "bl_options": {"DEFAULT_CLOSED"},
            "draw": draw,
        },
    )


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
        {"bl_label": f"{kind.title()} Presets", "__doc__": "Settings saved under a name", "draw": draw},
    )


def _operator(layout: Any, name: str, kind: str, preset: str, **how: Any) -> None:
    button = layout.operator(name, **how)
    button.kind = kind
    if preset:
        button.name = preset


def preset_menus(layout: bpy.types.UILayout) -> None:
    """The menus of all kinds, in a row or a column that says what they are by its icon."""
    layout.label(icon="PRESET")
    for kind in presets.KINDS:
        layout.menu(f"BUCKWRIGHT_MT_{kind}_presets", text=kind.title())


def _classes() -> list[type[Any]]:
    found: list[type[Any]] = [_preset_menu(kind) for kind in presets.KINDS]
    for table, title in titles_of(tables()).items():
        rest = [
            one for one in fields() if one.table == table and (one.table, one.key) not in IN_FRONT | _OF_FILES
        ]
        if rest:
            found.append(panel_of(table, title, rest, parent_of(table)))
    return found


_CLASSES = _classes()

register, unregister = bpy.utils.register_classes_factory(_CLASSES)
