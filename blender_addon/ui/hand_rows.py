"""Rows of the buck's panel for what was placed by hand: a switch, a button for more, and back to the rule."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import bpy

from ..scene import results, settings

__all__ = ["USUAL", "draw", "rows"]

USUAL = 2
"""So many rows stand after every buck: its vents and its outline."""


@dataclass(frozen=True, slots=True)
class Row:
    """One kind of thing that a hand can place.

    Attributes
    ----------
    switch : property that says that those of the scene are used
    add : operator that adds one; empty where nothing can be added
    reset : operator that goes back to the rule
    has_some : (scene) whether there is anything of the kind to rule
    """

    switch: str
    add: str
    reset: str
    has_some: Callable[[bpy.types.Scene], bool]


def _has_buck(scene: bpy.types.Scene) -> bool:
    own = settings.of(scene)
    return bool(results.objects(scene, "BUCK")) or any(getattr(own, one.switch) for one in _ROWS[:-1])


def _has_blocks(scene: bpy.types.Scene) -> bool:
    own = settings.of(scene)
    sought = own.take_up.enabled and results.objects(scene, "BUCK")
    return bool(own.blocks_by_hand or sought or results.objects(scene, "BLOCK"))


def _has_planes(scene: bpy.types.Scene) -> bool:
    return bool(results.objects(scene, "CUT") or settings.of(scene).planes_by_hand)


_ROWS = (
    Row("vents_by_hand", "add_vent", "vents_by_rule", _has_buck),
    Row("blocks_by_hand", "add_block", "blocks_by_rule", _has_blocks),
    Row("outline_by_hand", "", "outline_by_rule", _has_buck),
    Row("planes_by_hand", "", "planes_by_rule", _has_planes),
)


def rows(scene: bpy.types.Scene) -> list[Row]:
    """Those that have something to rule."""
    return [one for one in _ROWS if one.has_some(scene)]


def draw(layout: bpy.types.UILayout, scene: bpy.types.Scene) -> None:
    """Draw them, one below the other."""
    own: Any = settings.of(scene)
    column = layout.column(align=True)
    for one in rows(scene):
        row = column.row(align=True)
        row.use_property_split = False
        row.prop(own, one.switch)
        if one.add:
            row.operator(f"buckwright.{one.add}", text="", icon="ADD")
        row.operator(f"buckwright.{one.reset}", text="", icon="LOOP_BACK")
