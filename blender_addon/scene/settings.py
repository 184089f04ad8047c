"""The settings of a job as properties of the scene, made from the table in `fields`.

`read_tables` and `write_tables` carry them to and from the tables of a job file without loss: Blender keeps
numbers in single precision, so the numbers of a job that was opened are kept beside, and are given back
wherever the property still stands for them.
"""

import json
import math
from collections.abc import Callable, Iterable
from typing import Any

import bpy
from bpy.props import (
    BoolProperty,
    EnumProperty,
    FloatProperty,
    FloatVectorProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)

from ..bridge.library import tables as declared_tables
from . import automatic, hand_marks, heat_painting, results
from .events import Event
from .fields import Field, fields, kept_lists, same_stored, titles_of

__all__ = [
    "Settings",
    "group_of",
    "identifier",
    "of",
    "pull_turned",
    "read_tables",
    "register",
    "unregister",
    "write_tables",
]


pull_turned: Event[[bpy.types.Scene]] = Event()
"""The pull was set in a scene, by its direction or by a setup, to another one or to the same."""


def identifier(word: str) -> str:
    """Name of a choice's word as Blender wants it: `-x` becomes MINUS_X."""
    signed = f"MINUS_{word[1:]}" if word.startswith("-") else word
    return signed.upper().replace("-", "_").replace(" ", "_")


def _properties(field: Field) -> dict[str, Any]:
    """Annotations of the properties that hold one field."""
    return {name: _property(field, name, start) for name, start in field.props().items()}


def _property(field: Field, name: str, start: Any) -> Any:  # noqa: PLR0911  (one return a kind)
    common: dict[str, Any] = {"name": field.setting.label, "description": field.setting.tip}
    if (field.table, field.key) in {("pull", "direction"), ("pull", "setup")}:
        common["update"] = _turned
    if name == field.auto:
        follows = {"description": f"Automatic: {field.setting.automatic}"}
        return BoolProperty(**common | follows, default=start, set_transform=_switch(field))
    if field.holds_word(name):
        items = [(identifier(word), *said) for word, said in field.words.items()]
        return EnumProperty(**common, items=items, default=identifier(start))
    if field.kind == "switch":
        return BoolProperty(**common, default=start)
    if field.kind == "text":
        file = {"subtype": "FILE_PATH", "options": {"PATH_SUPPORTS_BLEND_RELATIVE"}}
        return StringProperty(**common, default=start, **(file if field.setting.names_file else {}))
    if field.kind == "whole":
        return IntProperty(**common, default=start, min=int(field.setting.low), max=int(field.setting.high))
    if isinstance(start, tuple):
        return FloatVectorProperty(**common, default=start, size=len(start), **_number(field))
    return FloatProperty(**common, default=start, **_number(field))


def _turned(group: Any, _context: bpy.types.Context) -> None:
    pull_turned.tell(group.id_data)


def _switch(field: Field) -> Callable[[Any, bool, bool, bool], bool]:
    """Starts a value that is set by hand from now on: from what the rule gave last, where that is known."""

    def switched(group: Any, wanted: bool, present: bool, is_set: bool) -> bool:
        if (present if is_set else field.default is None) and not wanted:
            told = automatic.value(group.id_data, field)
            _put(group, field, field.start() if told is None else told)
        return wanted

    return switched


def _put(group: Any, field: Field, value: Any) -> None:
    """Set the properties of a value, and keep its number as it is."""
    for name, stored in field.to_props(value).items():
        if name != field.auto:
            setattr(group, name, identifier(stored) if field.holds_word(name) else stored)
    settings = of(group.id_data)
    opened = json.loads(settings.opened or "{}")
    opened.setdefault(field.table, {})[field.key] = value
    settings.opened = json.dumps(opened)


def _number(field: Field) -> dict[str, Any]:
    """Range, digits and unit of a number."""
    low, high = field.setting.low, field.setting.high
    if field.kind in ("vector", "direction"):
        return {"subtype": "DIRECTION", "precision": 3}
    if field.is_angle:
        return {
            "subtype": "ANGLE",
            "min": math.radians(low),
            "max": math.radians(high),
            "step": 50,
            "precision": 2,
        }
    bounds = {"min": low, "max": high}
    if field.setting.unit == "mm":
        # See bridge/units.py: a camera's length is always in millimetres.
        unit = {"unit": "CAMERA"} if field.kind == "pair" else {"subtype": "DISTANCE_CAMERA"}
        return bounds | unit | {"step": 10, "precision": 2}
    if field.is_share:
        return bounds | {"subtype": "FACTOR", "step": 1, "precision": 4}
    return bounds | {"step": 10, "precision": 2}


def _unless_set(derived: Callable[[bpy.types.Scene], bool]) -> Callable[[Any, bool, bool], bool]:
    """A switch that follows what is in the scene until somebody sets it."""
    return lambda group, value, is_set: value if is_set else derived(group.id_data)


def group_of(table: str, held: Iterable[Field]) -> type[bpy.types.PropertyGroup]:
    """The class of properties that hold the fields of a table."""
    annotations: dict[str, Any] = {}
    for field in held:
        if field.table == table:
            annotations |= _properties(field)
    name = f"BuckwrightTable{table.title()}"
    words = f"Settings of the table [{table}] of a job file."
    return type(name, (bpy.types.PropertyGroup,), {"__annotations__": annotations, "__doc__": words})


def _can_be_body(_group: Any, one: bpy.types.Object) -> bool:
    return one.type == "MESH" and one.session_uid not in results.owned()


_TITLES = titles_of(declared_tables())
_GROUPS = {table: group_of(table, fields()) for table in _TITLES}
Settings: type[bpy.types.PropertyGroup] = type(
    "BuckwrightSettings",
    (bpy.types.PropertyGroup,),
    {
        "__doc__": "All settings of the job of a scene.",
        "__annotations__": {
            **{table: PointerProperty(type=group, name=_TITLES[table]) for table, group in _GROUPS.items()},
            # Numbers of the last opened job as they stood in its file, as JSON.
            "opened": StringProperty(options={"HIDDEN"}),
            "vents_by_hand": BoolProperty(
                name="Own Vents",
                description="Drill only the vents that are marked in the scene",
                get_transform=_unless_set(hand_marks.vents),
            ),
            "blocks_by_hand": BoolProperty(
                name="Own Blocks",
                description="Make only the take-up blocks that are marked in the scene",
                get_transform=_unless_set(hand_marks.blocks),
            ),
            "planes_by_hand": BoolProperty(
                name="Own Planes",
                description="Split the buck along the planes in the scene",
                get_transform=_unless_set(hand_marks.planes),
            ),
            "body_object": PointerProperty(
                type=bpy.types.Object,
                name="Body",
                description="Head, limb, object or earlier layer that the part goes over, where it lies",
                poll=_can_be_body,
            ),
            "outline_by_hand": BoolProperty(
                name="Own Outline",
                description="Give the base the outline of the curve in the scene",
                get_transform=_unless_set(hand_marks.outline),
            ),
        },
    },
)


def of(scene: bpy.types.Scene) -> Any:
    """The settings of a scene."""
    return scene.buckwright  # type: ignore[attr-defined]


def read_tables(scene: bpy.types.Scene) -> dict[str, dict[str, Any]]:
    """The tables of a job file, as the properties of a scene stand; keys that follow from others left out."""
    settings = of(scene)
    opened = json.loads(settings.opened or "{}")
    tables: dict[str, dict[str, Any]] = {table: {} for table in _GROUPS}
    for field in fields():
        props = _stored(getattr(settings, field.table), field)
        value = field.from_props(props)
        exact = opened.get(field.table, {}).get(field.key)
        if exact is not None and _stands_for(field, props, exact):
            value = exact
        if value is not None:
            tables[field.table][field.key] = value
    for table, key in kept_lists():
        if (kept := opened.get(table, {}).get(key)) is not None:
            tables[table][key] = kept
    if (heat := heat_painting.words(scene)) is not None:
        tables["forecast"]["heat_map"] = heat
    return tables


def write_tables(scene: bpy.types.Scene, tables: dict[str, dict[str, Any]], *, whole: bool = True) -> None:
    """Set the properties of a scene from the tables of a checked job.

    With `whole`, keys that are missing take their defaults; without, they stay as they are (presets).
    """
    settings = of(scene)
    opened = {} if whole else json.loads(settings.opened or "{}")
    for field in fields():
        table = tables.get(field.table, {})
        if field.key not in table and not whole:
            continue
        value = table.get(field.key, field.default)
        group = getattr(settings, field.table)
        for name, stored in field.to_props(value).items():
            setattr(group, name, identifier(stored) if field.holds_word(name) else stored)
        opened.setdefault(field.table, {})[field.key] = value
    for name, key in kept_lists():
        if whole or key in tables.get(name, {}):
            opened.setdefault(name, {})[key] = tables.get(name, {}).get(key)
    settings.opened = json.dumps(opened)


def _stored(group: Any, field: Field) -> dict[str, Any]:
    """The properties of a field as they stand, words as the job writes them."""
    props: dict[str, Any] = {}
    for name, start in field.props().items():
        value = getattr(group, name)
        if field.holds_word(name):
            value = next((word for word in field.words if identifier(word) == value), start)
        props[name] = tuple(value) if isinstance(start, tuple) else value
    return props


def _stands_for(field: Field, props: dict[str, Any], exact: Any) -> bool:
    return all(same_stored(value, props[name]) for name, value in field.to_props(exact).items())


def register() -> None:
    """Hang the settings on scenes."""
    for group in (*_GROUPS.values(), Settings):
        bpy.utils.register_class(group)
    bpy.types.Scene.buckwright = PointerProperty(type=Settings)  # type: ignore[attr-defined]


def unregister() -> None:
    """Take them away."""
    del bpy.types.Scene.buckwright  # type: ignore[attr-defined]
    for group in reversed((*_GROUPS.values(), Settings)):
        bpy.utils.unregister_class(group)
