"""Text in as many lines as the width of a region asks for: Blender's labels do not break, they are cut."""

from typing import Any

import blf
import bpy

__all__ = ["is_narrow", "lines", "paragraph", "room_px", "width_px"]

_FONT = 0
"""The font of the interface."""
# Pixels at an interface scale of 1, measured on pictures of the sidebar with some to spare.
_MARGINS_PX, _BOX_PX, _ICON_PX = 62.0, 8.0, 24.0
_POPUP_PX = 30.0
_NARROW_PX = 150.0
"""Room for two buttons with an icon and a word or two beside each other."""
_LEAST_PX = 40.0


def paragraph(
    layout: bpy.types.UILayout,
    text: str,
    context: bpy.types.Context,
    icon: Any = "NONE",
    *,
    boxed: bool = False,
    beside: bool = False,
    share: float = 1.0,
    width: float | None = None,
) -> None:
    """Write text as labels, one a line.

    Parameters
    ----------
    icon : stands before the first line; the others are indented alike
    boxed : whether the layout is a box
    beside : whether a button with an icon stands beside it
    share : of the room, where something else has the rest
    width : of a popup that holds it, in pixels at an interface scale of 1; None for a panel
    """
    column = layout.column(align=True)
    column.scale_y = 0.8
    indent = _BOX_PX * boxed + _ICON_PX * ((icon != "NONE") + beside)
    room = room_px(context) if width is None else (width - _POPUP_PX) * _scale(context)
    room = share * (room - indent * _scale(context))
    for number, line in enumerate(lines(text, room, context)):
        if icon == "NONE":
            column.label(text=line)
        else:
            column.label(text=line, icon=icon if number == 0 else "BLANK1")


def room_px(context: bpy.types.Context) -> float:
    """Width for a text in a panel of this region, in pixels."""
    width = context.region.width if context.region is not None else 300
    return float(width) - _MARGINS_PX * _scale(context)


def is_narrow(context: bpy.types.Context) -> bool:
    """Whether buttons with words have to stand one below the other."""
    return room_px(context) < _NARROW_PX * _scale(context)


def lines(text: str, room: float, context: bpy.types.Context) -> list[str]:
    """Break text between words, so that no line is wider than the room where that can be done.

    Parameters
    ----------
    room : pixels
    """
    room = max(room, _LEAST_PX)
    broken: list[str] = []
    for part in text.splitlines():
        line = ""
        for word in part.split():
            longer = f"{line} {word}" if line else word
            if line and width_px(longer, context) > room:
                broken.append(line)
                longer = word
            line = longer
        broken.append(line)
    return broken


def width_px(text: str, context: bpy.types.Context) -> float:
    """Width of a text in the font of the interface, in pixels."""
    preferences = context.preferences
    points = preferences.ui_styles[0].widget.points if preferences is not None else 11.0
    blf.size(_FONT, points * _scale(context))
    return float(blf.dimensions(_FONT, text)[0])


def _scale(context: bpy.types.Context) -> float:
    preferences = context.preferences
    return (preferences.system.ui_scale if preferences is not None else 0.0) or 1.0  # 0 without a window
