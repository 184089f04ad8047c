"""`FlatDrawing`: lines, circles and words in millimetres, each on a layer that says what is done there."""

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "LAYERS",
    "Circle",
    "FlatDrawing",
    "Image",
    "Layer",
    "Line",
    "Words",
    "bar",
    "box",
    "rounded_box",
]

type Layer = Literal["cut", "score", "engrave", "reference"]

LAYERS: tuple[Layer, ...] = get_args(Layer.__value__)
"""What is done along a line: cut through, score or fold, mark, or nothing."""

_ARC_STEPS = 16
_TICK_MM = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A line of straight pieces.

    Attributes
    ----------
    layer : what is done along it
    points : (N, 2) float64, mm
    closed : whether the last point is joined to the first
    """

    layer: Layer
    points: NDArray[np.float64]
    closed: bool = True

    @property
    def length_mm(self) -> float:
        """Its length."""
        ring = np.vstack([self.points, self.points[:1]]) if self.closed else self.points
        return float(np.linalg.norm(np.diff(ring, axis=0), axis=1).sum())


@dataclass(frozen=True, slots=True)
class Circle:
    """A full circle; middle and radius in mm."""

    layer: Layer
    x: float
    y: float
    radius_mm: float


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text; its lower left corner and the height of its letters in mm."""

    layer: Layer
    x: float
    y: float
    height_mm: float
    text: str


@dataclass(frozen=True, slots=True, eq=False)
class Image:
    """Pixels under the lines.

    Attributes
    ----------
    pixels : (ny, nx, 4) uint8, red, green, blue, opacity; row 0 at the top
    x, y : lower left corner, mm
    width_mm, depth_mm : on the drawing
    """

    pixels: NDArray[np.uint8]
    x: float
    y: float
    width_mm: float
    depth_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatDrawing:
    """One template at 1:1.

    Attributes
    ----------
    name : what its files are called, letters and underscores
    title : for people
    lines, circles, words : what is drawn
    image : what lies under them; SVG and DXF leave it out
    """

    name: str
    title: str
    lines: tuple[Line, ...]
    circles: tuple[Circle, ...] = ()
    words: tuple[Words, ...] = ()
    image: Image | None = None

    @property
    def bounds(self) -> NDArray[np.float64]:
        """Lowest and highest corner of lines and circles, (2, 2), mm; words may stand out."""
        corners = [line.points for line in self.lines]
        for circle in self.circles:
            middle, reach = np.array([circle.x, circle.y]), circle.radius_mm
            corners.append(np.array([middle - reach, middle + reach]))
        points = np.concatenate(corners)
        return np.array([points.min(axis=0), points.max(axis=0)])


def box(layer: Layer, width: float, depth: float, *, x: float = 0.0, y: float = 0.0) -> Line:
    """A rectangle around a middle; all in mm."""
    half = np.array([width, depth]) / 2.0
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half + (x, y)
    return Line(layer, corners)


def rounded_box(layer: Layer, width: float, depth: float, radius: float) -> Line:
    """A rectangle around the origin with rounded corners, counter-clockwise.

    Parameters
    ----------
    layer : what is done along it
    width, depth : mm
    radius : of the corners, mm; cut down to half the shorter side, 0 for sharp corners

    Returns
    -------
    Line : the flats of the arcs stay within 0.005 radius inside of true arcs
    """
    reach = min(radius, width / 2.0, depth / 2.0)
    if reach <= 0.0:
        return box(layer, width, depth)
    turns = np.linspace(0.0, np.pi / 2.0, _ARC_STEPS + 1)
    arc = reach * np.column_stack([np.cos(turns), np.sin(turns)])
    points: list[NDArray[np.float64]] = []
    for quarter, (i, j) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        turned = arc @ np.linalg.matrix_power(np.array([[0.0, 1.0], [-1.0, 0.0]]), quarter)
        points.append(turned + np.array([i * (width / 2.0 - reach), j * (depth / 2.0 - reach)]))
    return Line(layer, np.concatenate(points))


def bar(x: float, y: float, *, length_mm: float = 100.0, upright: bool = False) -> tuple[Line, ...]:
    """A bar of known length with end ticks, to check a print with; its first end at (x, y), mm."""
    along, across = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    if upright:
        along, across = across, along
    start = np.array([x, y])
    end = start + along * length_mm
    pieces = ((start, end), *((at - across * _TICK_MM, at + across * _TICK_MM) for at in (start, end)))
    return tuple(Line("cut", np.array(piece), closed=False) for piece in pieces)
