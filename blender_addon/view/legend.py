"""The legend: what the colours mean, with numbers and units, in a free corner of the viewport."""

import bpy
import numpy as np

from ..bridge.library import ColorMap, percent
from ..scene import running, staleness
from . import ramps
from .number_words import angle_words, length_words
from .plate import Plate, style
from .ramps import STATE_WORDS
from .shown_result import Shown

__all__ = ["draw", "free_room", "plate_of", "stale_words", "value_words"]

_GREY = (0.6, 0.6, 0.6)
"""About as Blender draws a face without a colour."""
_MOST_ROOM = 0.2
"""Share of the free viewport that a whole legend may cover; a brief one twice as much. A judgement."""


def free_room(context: bpy.types.Context) -> tuple[float, float, float, float]:
    """Left, bottom, right and top of the part of the viewport that no sidebar, toolbar or header covers."""
    window = context.region
    area = context.area
    assert window is not None and area is not None
    left, bottom, right, top = 0.0, 0.0, float(window.width), float(window.height)
    for region in area.regions:
        if region.type == "WINDOW" or region.width <= 1 or region.height <= 1:
            continue
        x, y = region.x - window.x, region.y - window.y
        if region.type == "UI":
            left, right = (
                (max(left, x + region.width), right) if region.alignment == "LEFT" else (left, min(right, x))
            )
        elif region.type == "TOOLS":
            left, right = (
                (left, min(right, x)) if region.alignment == "RIGHT" else (max(left, x + region.width), right)
            )
        elif region.type in {"HEADER", "TOOL_HEADER", "ASSET_SHELF", "ASSET_SHELF_HEADER"}:
            middle = y + region.height / 2
            if middle > window.height / 2:
                top = min(top, y)
            else:
                bottom = max(bottom, y + region.height)
    return left, bottom, right, top


def _above_redo(context: bpy.types.Context, left: float, bottom: float, width: float) -> float:
    """Bottom for something that starts at `left`, moved above the redo panel where both would meet."""
    window = context.region
    for region in context.area.regions:  # type: ignore[union-attr]
        if region.type == "HUD" and region.width > 1 and region.height > 1:
            x, y = region.x - window.x, region.y - window.y  # type: ignore[union-attr]
            if left < x + region.width and left + width > x:
                bottom = max(bottom, y + region.height)
    return bottom


def value_words(scene: bpy.types.Scene, quantity: ColorMap, value: float) -> str:
    """A value with its unit, as the scene shows it."""
    if quantity.unit == "deg":
        return angle_words(value)
    if quantity.unit == "mm":
        units = scene.unit_settings
        return length_words(value, system=units.system, unit=units.length_unit)
    return f"{value:.2f}".rstrip("0").rstrip(".")


def stale_words(scene: bpy.types.Scene, one: Shown) -> list[str]:
    """Lines that say how far the colours can be trusted; none where they hold."""
    if one.live:
        lines = ["Draft only: look at the", "sculpt to find overhangs"]
        if running.now() is not None:
            lines = ["Draft along the pull so far:", "the rest follows"]
        return [*lines, "Out of date"] if one.changed else lines
    if one.is_formed:
        return ["Out of date: forecast again"] if staleness.seen(scene, "sheet_from") else []
    return ["Out of date: look again"] if staleness.seen(scene) else []


def plate_of(context: bpy.types.Context, one: Shown, *, brief: bool = False) -> Plate:
    """The legend of what is shown; a brief one names the ends of a ramp only."""
    scene = context.scene
    assert scene is not None
    plate = Plate(style(context))
    names = (*STATE_WORDS[:2], "Undercut") if one.live else STATE_WORDS
    plate.words(one.quantity.label)
    if one.missing:
        plate.words("Not measured yet")
    elif one.quantity == ramps.STATE:
        for state, share in enumerate(one.shares):
            text = f"{names[state]}  {percent(share)}"
            plate.patch(ramps.state_colour(state), text, hatched=state == len(names) - 1)
        plate.words(f"Wanted draft {angle_words(one.wanted_deg)}")
    else:
        span = one.highest - one.lowest
        marks = [
            ((value - one.lowest) / span, f"{value_words(scene, one.quantity, value)} {note}".rstrip())
            for value, note in ramps.ticks(
                one.quantity, one.lowest, one.highest, wanted_deg=one.wanted_deg, sheet_mm=one.sheet_mm
            )
        ]
        plate.scale(one.quantity, [marks[0], marks[-1]] if brief else marks)
        if one.shares[2] > 0.0 and not one.is_formed:
            plate.patch(ramps.state_colour(2), f"{names[2]}  {percent(one.shares[2])}", hatched=True)
    if _is_grey_somewhere(one):
        plate.patch(_GREY, _grey_words(one))
    for words in stale_words(scene, one):
        plate.words(words)
    return plate


def _grey_words(one: Shown) -> str:
    """What has no colour: what a look leaves out, or what a forecast lays no sheet on."""
    if one.is_formed:
        return "No sheet on it"
    return "Not judged" if one.live else "Cut off or base"


def _is_grey_somewhere(one: Shown) -> bool:
    """Whether a face of what is shown gets no colour."""
    values = one.values.get(one.quantity.array)
    if values is None or not len(values):
        return False
    # The greatest value is nan as soon as one is: quick enough for each drawing.
    greatest = values.max()
    if one.quantity == ramps.STATE:
        return bool(greatest >= ramps.NOT_JUDGED or values.min() < 0)
    return bool(np.isnan(greatest))


def draw(context: bpy.types.Context, one: Shown) -> None:
    """Draw the legend at the lower right, clear of everything that Blender puts there."""
    left, bottom, right, top = free_room(context)
    room = (right - left) * (top - bottom)
    plate = plate_of(context, one)
    wide, high = plate.size()
    if wide * high > _MOST_ROOM * room:
        plate = plate_of(context, one, brief=True)
        wide, high = plate.size()
    margin = round(12 * plate.look.unit)
    x = right - wide - margin
    y = _above_redo(context, x, bottom, wide) + margin
    # In a small viewport the legend would hide the sculpt: colours alone are better than a box alone.
    if x < left or y + high > top or wide * high > 2.0 * _MOST_ROOM * room:
        return
    plate.draw(x, y)
