"""What the viewport shows of the results: settings of the scene that belong to no job."""

from typing import Any

import bpy
from bpy.props import BoolProperty, EnumProperty, FloatProperty, PointerProperty, StringProperty

from ..scene import forecast_markers, results
from ..scene.events import Event
from ..scene.running import Result
from ..scene.write_results import results_changed
from .ramps import FORMED, QUANTITIES, THICKNESS, identifier_of
from .viewports import redraw

__all__ = ["colours_changed", "is_formed", "of", "register", "unregister"]

colours_changed: Event[[bpy.types.Scene | None]] = Event()
"""Other colours are wanted in a scene."""


def _recolour(_group: bpy.types.PropertyGroup, context: bpy.types.Context) -> None:
    colours_changed.tell(context.scene)


def _switch(_group: bpy.types.PropertyGroup, _context: bpy.types.Context) -> None:
    redraw()


class BuckwrightView(bpy.types.PropertyGroup):
    """How results are shown in the viewport."""

    show: BoolProperty(  # type: ignore[valid-type]
        name="Colors",
        description="Color the sculpt by the values of its faces",
        default=True,
        update=_recolour,
    )
    quantity: EnumProperty(  # type: ignore[valid-type]
        name="Color By",
        description="What the colors mean",
        items=[(key, one.label, one.tip) for key, one in QUANTITIES.items()],
        update=_recolour,
    )
    quantity_before: StringProperty(  # type: ignore[valid-type]
        name="Color Before", description="What the colors meant before they showed a forecast"
    )
    sheet_through: BoolProperty(  # type: ignore[valid-type]
        name="See-Through Sheet",
        description="Draw the formed sheet see-through over the buck while its colors are shown",
        default=True,
        update=_switch,
    )
    strength: FloatProperty(  # type: ignore[valid-type]
        name="Strength",
        description="How much the colors cover the sculpt",
        subtype="FACTOR",
        min=0.2,
        max=1.0,
        default=0.9,
        update=_recolour,
    )
    mark: BoolProperty(  # type: ignore[valid-type]
        name="Hatching",
        description="Also mark trapped faces by hatching",
        default=True,
        update=_switch,
    )
    legend: BoolProperty(  # type: ignore[valid-type]
        name="Legend", description="Show what the colors mean, with numbers", default=True, update=_switch
    )
    live: BoolProperty(  # type: ignore[valid-type]
        name="Draft After Sculpting",
        description="Measure draft again after leaving Sculpt Mode; a look finds overhangs too",
        default=False,
    )
    pull: BoolProperty(  # type: ignore[valid-type]
        name="Pull",
        description="Show the pull as an arrow at the sculpt, and the plane of the platen",
        default=True,
        update=_switch,
    )
    turn: BoolProperty(  # type: ignore[valid-type]
        name="Pull Handle", description="Show a handle that turns the pull", default=False, update=_switch
    )


def of(scene: bpy.types.Scene) -> Any:
    """The settings of a scene."""
    return scene.buckwright_view  # type: ignore[attr-defined]


def is_formed(scene: bpy.types.Scene) -> bool:
    """Whether the colours stand for what the formed sheet is like."""
    return QUANTITIES[of(scene).quantity].array in FORMED


def _follow_result(scene: bpy.types.Scene, result: Result | None) -> None:
    """After a forecast the colours stand for what it is about; after a result without one, for that."""
    view = of(scene)
    if result is not None and result.command == "forecast":
        if not is_formed(scene):
            view.quantity_before = view.quantity
        view.quantity = identifier_of(THICKNESS.array)
        return
    if result is not None and THICKNESS.array in result.arrays:
        return
    if is_formed(scene):
        view.quantity = view.quantity_before or next(iter(QUANTITIES))
    for one in (*results.objects(scene, "SHEET"), *forecast_markers.objects(scene)):
        one.hide_set(True)  # they would cover the colours


def register() -> None:
    """Hang the settings on scenes."""
    results_changed.listen(_follow_result)
    bpy.utils.register_class(BuckwrightView)
    bpy.types.Scene.buckwright_view = PointerProperty(type=BuckwrightView)  # type: ignore[attr-defined]


def unregister() -> None:
    """Take them away."""
    results_changed.ignore(_follow_result)
    del bpy.types.Scene.buckwright_view  # type: ignore[attr-defined]
    bpy.utils.unregister_class(BuckwrightView)
