"""What the viewport shows of the results: settings of the scene that belong to no job."""

from typing import Any

import bpy
from bpy.props import BoolProperty, EnumProperty, FloatProperty, PointerProperty

from .ramps import QUANTITIES

__all__ = ["of", "register", "unregister"]


def _recolour(_group: bpy.types.PropertyGroup, context: bpy.types.Context) -> None:
    from . import overlay

    overlay.schedule(context.scene)


def _switch(_group: bpy.types.PropertyGroup, context: bpy.types.Context) -> None:
    for window in context.window_manager.windows if context.window_manager else ():
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()


class BuckwrightView(bpy.types.PropertyGroup):
    """How results are shown in the viewport."""

    show: BoolProperty(  # type: ignore[valid-type]
        name="Colors", description="Color the sculpt by what was found", default=True, update=_recolour
    )
    quantity: EnumProperty(  # type: ignore[valid-type]
        name="Color By",
        description="What the colors stand for",
        items=[(one.key, one.label, one.tip) for one in QUANTITIES.values()],
        update=_recolour,
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
        description="Mark trapped faces by lines too",
        default=True,
        update=_switch,
    )
    legend: BoolProperty(  # type: ignore[valid-type]
        name="Legend", description="Show what the colors mean, with numbers", default=True, update=_switch
    )
    live: BoolProperty(  # type: ignore[valid-type]
        name="Draft After Sculpting",
        description="Measure the draft anew whenever Sculpt Mode is left; overhangs take a look",
        default=False,
    )
    turn: BoolProperty(  # type: ignore[valid-type]
        name="Pull Handle", description="Show a handle that turns the pull", default=False, update=_switch
    )


def of(scene: bpy.types.Scene) -> Any:
    """The settings of a scene."""
    return scene.buckwright_view  # type: ignore[attr-defined]


def register() -> None:
    """Hang the settings on scenes."""
    bpy.utils.register_class(BuckwrightView)
    bpy.types.Scene.buckwright_view = PointerProperty(type=BuckwrightView)  # type: ignore[attr-defined]


def unregister() -> None:
    """Take them away."""
    del bpy.types.Scene.buckwright_view  # type: ignore[attr-defined]
    bpy.utils.unregister_class(BuckwrightView)
