"""A box with words, patches of colour and ramps, drawn over a viewport in the style of the user's theme."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import blf
import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader

from ..bridge.library import ColorMap
from . import ramps

__all__ = ["Plate", "Style", "style"]

_FONT = 0


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

    def scale(self, quantity: ColorMap, marks: list[tuple[float, str]]) -> None:
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

    def _draw_scale(self, x: float, top: float, quantity: ColorMap, marks: list[tuple[float, str]]) -> float:
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


def _ramp(x: float, y: float, wide: float, high: float, quantity: ColorMap) -> None:
    """A bar of 64 steps: the legend is small, and is drawn anew with the viewport."""
    steps = np.linspace(0.0, 1.0, 65)
    colours = ramps.ramp(quantity, steps)
    places, paints = [], []
    for step, colour in zip(steps, colours, strict=True):
        places += [(x, y + step * high, 0.0), (x + wide, y + step * high, 0.0)]
        paints += [(*colour, 1.0)] * 2
    shader = gpu.shader.from_builtin("SMOOTH_COLOR")
    batch_for_shader(shader, "TRI_STRIP", {"pos": places, "color": paints}).draw(shader)
