"""The legend: what the colours mean, with numbers and units, in a free corner of the viewport."""

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import blf
import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader

from . import ramps, results
from .view_units import angle_words, length_words

if TYPE_CHECKING:
    from .overlay import Shown

__all__ = ["Plate", "draw", "free_room", "stale_words", "value_words"]

_FONT = 0
_STATES = ("Free", "Tight", "Trapped")
_MOST_ROOM = 0.2
"""Share of the free viewport that a whole legend may cover; a brief one twice as much. A judgement."""


@dataclass(frozen=True, slots=True)
class Style:
    """Sizes in pixels and colours, from the user's interface scale and theme."""

    unit: float
    size: float
    text: tuple[float, float, float, float]
    ground: tuple[float, float, float, float]
    edge: tuple[float, float, float, float]


def style(context: bpy.types.Context) -> Style:
    """Style of this viewport: the theme's tooltip, as the legend is one that stays."""
    preferences = context.preferences
    assert preferences is not None
    colours = preferences.themes[0].user_interface.wcol_tooltip
    scale = preferences.system.ui_scale
    points = preferences.ui_styles[0].widget.points
    ground = tuple(colours.inner)
    return Style(
        unit=scale,
        size=points * scale,
        text=(*colours.text[:3], 1.0),
        ground=(ground[0], ground[1], ground[2], 0.88),
        edge=tuple(colours.outline),  # type: ignore[arg-type]
    )


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


def value_words(scene: bpy.types.Scene, quantity: ramps.Quantity, value: float) -> str:
    """A value with its unit, as the scene shows it."""
    if quantity.unit == "deg":
        return angle_words(value)
    if quantity.unit == "mm":
        units = scene.unit_settings
        return length_words(value, system=units.system, unit=units.length_unit)
    return f"{value:.2f}".rstrip("0").rstrip(".")


def stale_words(scene: bpy.types.Scene, one: "Shown") -> list[str]:
    """Lines that say how far the colours can be trusted; none where they hold."""
    if one.live:
        lines = ["Draft alone: overhangs", "take a look to find"]
        return [*lines, "Out of date"] if one.changed else lines
    return ["Out of date: look again"] if results.is_stale(scene) else []


class Plate:
    """A box that text and patches are written on from the top, measured before it is drawn."""

    def __init__(self, look: Style) -> None:
        self.look = look
        self.rows: list[tuple[str, Any]] = []
        blf.size(_FONT, look.size)
        self.line = round(look.size * 1.55)
        self.pad = round(8 * look.unit)

    def words(self, text: str) -> None:
        """A line of text."""
        self.rows.append(("words", text))

    def patch(self, colour: tuple[float, float, float], text: str, *, hatched: bool = False) -> None:
        """A patch of colour with a text beside it."""
        self.rows.append(("patch", (colour, text, hatched)))

    def scale(self, quantity: ramps.Quantity, marks: list[tuple[float, str]]) -> None:
        """A ramp with texts at places 0..1 along it, lowest first."""
        self.rows.append(("scale", (quantity, marks)))

    def size(self) -> tuple[float, float]:
        """Width and height in pixels."""
        blf.size(_FONT, self.look.size)
        wide, high = 0.0, 2.0 * self.pad
        for kind, row in self.rows:
            if kind == "scale":
                texts, indent = [text for _place, text in row[1]], 2.4 * self.line
                high += _bar(self.line, row[1]) + 1.35 * self.line
            else:
                texts, indent = ([row], 0.0) if kind == "words" else ([row[1]], 2.0 * self.line)
                high += self.line
            wide = max(wide, *(blf.dimensions(_FONT, text)[0] + indent for text in texts))
        return wide + 2 * self.pad, high

    def draw(self, left: float, bottom: float) -> None:
        """Draw with the lower left corner there."""
        wide, high = self.size()
        gpu.state.blend_set("ALPHA")
        _box(left - 1, bottom - 1, wide + 2, high + 2, self.look.edge)
        _box(left, bottom, wide, high, self.look.ground)
        top, x = bottom + high - self.pad, left + self.pad
        for kind, row in self.rows:
            if kind == "scale":
                top = self._draw_scale(x, top, *row)
                continue
            if kind == "patch":
                self._draw_patch(x, top, row[0], hatched=row[2])
            text = row if kind == "words" else row[1]
            self._text(x if kind == "words" else x + 2.0 * self.line, top - 0.72 * self.line, text)
            top -= self.line
        gpu.state.blend_set("NONE")

    def _text(self, x: float, y: float, text: str) -> None:
        blf.size(_FONT, self.look.size)
        blf.color(_FONT, *self.look.text)
        blf.position(_FONT, round(x), round(y), 0.0)
        blf.draw(_FONT, text)

    def _draw_patch(self, x: float, top: float, colour: tuple[float, float, float], *, hatched: bool) -> None:
        wide, high = 1.6 * self.line, 0.72 * self.line
        y = top - 0.88 * self.line
        _box(x - 1, y - 1, wide + 2, high + 2, self.look.edge)
        _box(x, y, wide, high, (*colour, 1.0))
        if hatched:
            steps = np.arange(0.5, 4.0) * wide / 4
            ends = [
                (x + s + side * high / 2, y + (0.0 if side < 0 else high)) for s in steps for side in (-1, 1)
            ]
            ends = [(min(max(px, x), x + wide), py) for px, py in ends]
            _lines(ends, (0.97, 0.97, 0.97, 1.0), self.look.unit * 1.2)

    def _draw_scale(
        self, x: float, top: float, quantity: ramps.Quantity, marks: list[tuple[float, str]]
    ) -> float:
        bar = _bar(self.line, marks)
        bar_top, wide = top - 0.5 * self.line, 1.3 * self.line
        _box(x - 1, bar_top - bar - 1, wide + 2, bar + 2, self.look.edge)
        _ramp(x, bar_top - bar, wide, bar, quantity)
        ends = []
        for place, text in marks:
            y = bar_top - bar + place * bar
            ends += [(x + wide, y), (x + wide + 0.3 * self.line, y)]
            self._text(x + 2.0 * self.line, y - 0.34 * self.look.size, text)
        _lines(ends, self.look.text, self.look.unit)
        return top - bar - 1.35 * self.line


def _bar(line: float, marks: list[tuple[float, str]]) -> float:
    """Height of a ramp on which no two texts meet."""
    places = sorted(place for place, _text in marks)
    gaps = [after - before for before, after in pairwise(places)]
    return max(1.15 * line * (len(places) - 1), 0.82 * line / min(gaps, default=1.0))


def plate_of(context: bpy.types.Context, one: "Shown", *, brief: bool = False) -> Plate:
    """The legend of what is shown; a brief one names the ends of a ramp only."""
    scene = context.scene
    assert scene is not None
    plate = Plate(style(context))
    names = (*_STATES[:2], "Leans Under") if one.live else _STATES
    plate.words(one.quantity.label)
    if one.missing:
        plate.words("Not measured yet")
    elif one.quantity.key == "STATE":
        for state, share in enumerate(one.shares):
            text = f"{names[state]}  {_share_words(share)}"
            plate.patch(ramps.state_colour(state), text, hatched=state == len(names) - 1)
        plate.words(f"Wanted draft {angle_words(one.wanted_deg)}")
    else:
        span = one.highest - one.lowest
        marks = [
            ((value - one.lowest) / span, f"{value_words(scene, one.quantity, value)} {note}".rstrip())
            for value, note in ramps.ticks(one.quantity, one.lowest, one.highest, wanted_deg=one.wanted_deg)
        ]
        plate.scale(one.quantity, [marks[0], marks[-1]] if brief else marks)
        if one.shares[2] > 0.0:
            plate.patch(ramps.state_colour(2), f"{names[2]}  {_share_words(one.shares[2])}", hatched=True)
    for words in stale_words(scene, one):
        plate.words(words)
    return plate


def _share_words(share: float) -> str:
    """A share of the area in percent; a little is never shown as nothing."""
    if 0.0 < share < 0.001:
        return "< 0.1 %"
    return f"{100 * share:.1f} %" if share < 0.1 else f"{100 * share:.0f} %"


def draw(context: bpy.types.Context, one: "Shown") -> None:
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


def _box(x: float, y: float, wide: float, high: float, colour: Any) -> None:
    corners = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    shader.uniform_float("color", colour)
    batch_for_shader(shader, "TRI_FAN", {"pos": corners}).draw(shader)


def _lines(ends: list[tuple[float, float]], colour: Any, width: float) -> None:
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    shader.uniform_float("color", colour)
    shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
    shader.uniform_float("lineWidth", width)
    batch_for_shader(shader, "LINES", {"pos": [(x, y, 0.0) for x, y in ends]}).draw(shader)


def _ramp(x: float, y: float, wide: float, high: float, quantity: ramps.Quantity) -> None:
    """A bar of 64 steps: the legend is small, and is drawn anew with the viewport."""
    steps = np.linspace(0.0, 1.0, 65)
    colours = ramps.ramp(quantity, steps)
    places, paints = [], []
    for step, colour in zip(steps, colours, strict=True):
        places += [(x, y + step * high, 0.0), (x + wide, y + step * high, 0.0)]
        paints += [(*colour, 1.0)] * 2
    shader = gpu.shader.from_builtin("SMOOTH_COLOR")
    batch_for_shader(shader, "TRI_STRIP", {"pos": places, "color": paints}).draw(shader)
