"""What can be done about a finding by one press: the setting behind it, and a few simple acts."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np

from . import first_size, results, settings, snapshot, vent_markers
from .fields import Field, field_of, fields
from .placement import Placement

__all__ = ["Act", "act_for", "field_for"]

# The unit of a file says nothing about objects of a scene: there the size is what can be set.
_INSTEAD = {"sculpt.unit": "sculpt.height_mm", "sculpt.file": ""}


@dataclass(frozen=True, slots=True)
class Act:
    """Something that can be done about a finding.

    Attributes
    ----------
    label : for the button
    icon : its icon
    do : (context, finding) does it
    fits : (context, finding) whether there is anything to do
    """

    label: str
    icon: str
    do: Callable[[bpy.types.Context, Any], object]
    fits: Callable[[bpy.types.Context, Any], bool]


def field_for(finding: Any) -> Field | None:
    """The setting that a finding hangs on, where a panel can show it."""
    name = _INSTEAD.get(finding.setting, finding.setting)
    table, _, key = name.partition(".")
    return field_of(table, key) if any((one.table, one.key) == (table, key) for one in fields()) else None


def act_for(context: bpy.types.Context, finding: Any) -> Act | None:
    """What can be done about a finding here; None where nothing can."""
    act = _ACTS.get(finding.slug)
    return act if act is not None and act.fits(context, finding) else None


def _scene(context: bpy.types.Context) -> bpy.types.Scene:
    assert context.scene is not None
    return context.scene


def _sink(context: bpy.types.Context, _finding: Any) -> None:
    settings.of(_scene(context)).base.sink_to = "WIDEST"


def _can_sink(context: bpy.types.Context, _finding: Any) -> bool:
    return bool(settings.of(_scene(context)).base.sink_to != "WIDEST")


def _vent(context: bpy.types.Context, finding: Any) -> None:
    scene = _scene(context)
    placement = Placement.of(scene)
    place = placement.sculpt_to_buck(np.array([finding.place], np.float64) * placement.mm)
    at = placement.to_world(place)[0].tolist()
    vent_markers.add(scene, placement, "Vent", at=at)
    settings.of(scene).vents_by_hand = True


def _can_vent(context: bpy.types.Context, finding: Any) -> bool:
    kept = results.of(_scene(context))
    return bool(finding.has_place and kept.made == "MAKE" and kept.collection is not None)


def _unit(context: bpy.types.Context) -> str:
    scene = _scene(context)
    size = first_size.size_mm(scene, snapshot.chosen(context))
    return "" if size is None else first_size.likely_unit(scene, size)


def _take_unit(context: bpy.types.Context, _finding: Any) -> None:
    first_size.take_unit(_scene(context), _unit(context))


def _can_take_unit(context: bpy.types.Context, _finding: Any) -> bool:
    return bool(_unit(context))


def _gauge(context: bpy.types.Context) -> float | None:
    """The sheet that the forecast tried and found thick enough, where the chosen one is thinner."""
    scene = _scene(context)
    gauge = results.facts(scene).get("thicker_mm")
    return gauge if gauge is not None and gauge > settings.of(scene).sheet.thickness_mm else None


def _take_gauge(context: bpy.types.Context, _finding: Any) -> None:
    gauge = _gauge(context)
    if gauge is not None:
        settings.of(_scene(context)).sheet.thickness_mm = gauge


def _can_take_gauge(context: bpy.types.Context, finding: Any) -> bool:
    return finding.setting == "sheet.thickness_mm" and _gauge(context) is not None


_SINK = Act("Sink to Widest Outline", "TRIA_DOWN_BAR", _sink, _can_sink)
_VENT = Act("Add Vent Here", "ADD", _vent, _can_vent)
_ACTS: Mapping[str, Act] = {
    "sinking-saves": _SINK,
    "tall-part": _SINK,
    "weakest-spot": Act("Thicker Sheet", "MOD_SOLIDIFY", _take_gauge, _can_take_gauge),
    "pocket-without-vent": _VENT,
    "trapped-air": _VENT,
    "doubtful-size": Act("Take the Likely Unit", "DRIVER_DISTANCE", _take_unit, _can_take_unit),
}
