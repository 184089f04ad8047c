"""The templates themselves, drawn around the middle of the opening, pull towards the reader."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from buckwright.output.flat.drawing import Circle, FlatDrawing, Layer, Line, Words, box, rounded_box
from buckwright.workshop.machine.opening import turned_like
from buckwright.workshop.machine.planning import Fit
from buckwright.workshop.machine.platen import PlatenHoles
from buckwright.workshop.rig.planning import RigPlan

__all__ = ["base_board", "blank_drawing", "clamp_frame", "edge_strip", "mask_plate", "platen_holes"]

_TEXT_MM = 5.0
_SMALL_MM = 3.5
_TICK_EVERY_MM = 50.0
# Ends of an edge strip lie over one another by this, mm: makers' practice, no source.
_OVERLAP_MM = 15.0
_BOARD_BORDER_MM = 20.0
# Clearance of a wood screw through a board, mm: common practice, no source.
_SCREW_MM = 4.5
_DOWEL_MM = 6.0  # common practice, no source
_CROSS_MM = 6.0
_ARROW_MM = 40.0

type Polygons = Sequence[NDArray[np.float64]]


def blank_drawing(rig: RigPlan, base: Polygons, *, corner_mm: float) -> FlatDrawing:
    """The sheet to cut, with the opening and where the buck stands under it.

    Parameters
    ----------
    rig : opening and blank
    base : outlines of the base on the platen, (N, 2) each, around the middle of the opening, mm
    corner_mm : radius of the opening's corners; counts with a reducing set
    """
    width, depth = rig.blank_mm
    corner = corner_mm if rig.reduction is not None else 0.0
    return FlatDrawing(
        name="blank",
        title=f"Sheet blank, {width:.1f} x {depth:.1f} mm",
        lines=(
            box("cut", width, depth),
            rounded_box("reference", *rig.opening_mm, corner),
            *_outlines("reference", base),
            *_cross(width, depth),
            *_arrow(depth),
        ),
        words=(
            Words("reference", -width / 2.0 + 5.0, depth / 2.0 - 10.0, _TEXT_MM, "Sheet blank"),
            Words("reference", 0.0, -depth / 2.0 + 6.5, _SMALL_MM, "along the extrusion"),
        ),
    )


def mask_plate(
    rig: RigPlan, base: Polygons, *, corner_mm: float, gasket_width_mm: float, round_plate: bool = False
) -> FlatDrawing:
    """The plate that covers the rest of the platen; parameters as `blank_drawing`.

    `gasket_width_mm` is the width of the gasket strip; `round_plate` makes the plate as round as its platen.
    The rig must have a reducing set.
    """
    assert rig.reduction is not None
    plate, ring = rig.reduction.plate_mm, rig.reduction.gasket_mm
    half = gasket_width_mm / 2.0
    rings = tuple(
        rounded_box("engrave", ring[0] + 2.0 * by, ring[1] + 2.0 * by, corner_mm + half + by)
        for by in (-half, half)
    )
    return FlatDrawing(
        name="mask_plate",
        title=f"Mask plate, {plate[0]:.1f} x {plate[1]:.1f} mm",
        lines=(
            rounded_box("cut", *plate, min(plate) / 2.0 if round_plate else 0.0),
            rounded_box("cut", *rig.reduction.cut_out_mm, corner_mm),
            *rings,
            *_outlines("reference", base),
            *_cross(*plate),
        ),
        words=(
            Words("engrave", -plate[0] / 2.0 + 5.0, plate[1] / 2.0 - 9.0, _TEXT_MM, "Mask plate"),
            Words("reference", -18.0, ring[1] / 2.0 - half + 1.0, _SMALL_MM, "gasket in this band"),
        ),
    )


def platen_holes(
    holes: PlatenHoles, fit: Fit, base: Polygons, opening_mm: tuple[float, float]
) -> FlatDrawing:
    """The platen from above with its holes; those to mask carry a cross.

    Parameters
    ----------
    holes, fit : from the machine's plan; the platen's size must be known
    base : outlines of the base on the platen, (N, 2) each, around the middle of the opening, mm
    opening_mm : clear width and depth of the frame
    """
    assert fit.platen_mm is not None
    masked, reach = holes.places_mm[holes.masked], holes.hole_mm / 2.0
    width, depth = turned_like(fit.platen_mm, opening_mm)
    step = np.array([[reach, reach], [reach, -reach]])
    crosses = [
        Line("engrave", np.array([place - by, place + by]), closed=False) for place in masked for by in step
    ]
    return FlatDrawing(
        name="platen_holes",
        title=f"Platen from above, {len(masked)} of {len(holes.places_mm)} holes to mask",
        lines=(
            rounded_box("reference", width, depth, width / 2.0 if fit.round_platen else 0.0),
            rounded_box("reference", *opening_mm, opening_mm[0] / 2.0 if fit.round_platen else 0.0),
            *_outlines("engrave", base),
            *_cross(width, depth),
            *crosses,
        ),
        circles=tuple(Circle("reference", float(x), float(y), reach) for x, y in holes.places_mm),
        words=(
            Words(
                "reference",
                -width / 2.0 + 5.0,
                depth / 2.0 - 9.0,
                _TEXT_MM,
                f"mask the {len(masked)} crossed holes; the middle hole lies under the middle of the base",
            ),
        ),
    )


def clamp_frame(rig: RigPlan, *, corner_mm: float) -> FlatDrawing:
    """One of the two rings that hold the sheet; the rig must have a reducing set."""
    assert rig.reduction is not None
    frame = rig.reduction.frame
    outside, inside, member = frame.outside_mm, frame.inside_mm, frame.member_mm
    joints = [
        np.array([(side * inside[0] / 2.0, y), (side * outside[0] / 2.0, y)])
        for side in (-1.0, 1.0)
        for y in (-inside[1] / 2.0, inside[1] / 2.0)
    ]
    return FlatDrawing(
        name="clamp_frame",
        title=f"Clamp frame, make two, {outside[0]:.1f} x {outside[1]:.1f} mm",
        lines=(
            box("cut", *outside),
            rounded_box("cut", *inside, corner_mm),
            *(Line("reference", joint, closed=False) for joint in joints),
        ),
        words=(
            Words(
                "engrave",
                -inside[0] / 2.0 + 5.0,
                outside[1] / 2.0 - member / 2.0 - _SMALL_MM / 2.0,
                min(_SMALL_MM, member / 2.0),
                f"clamp frame, make two; inside {inside[0]:g} x {inside[1]:g} mm",
            ),
        ),
    )


def base_board(
    base: Polygons, screws: NDArray[np.float64], vacuum_mm: float, *, dowels: bool = False
) -> FlatDrawing:
    """A board to screw the buck on: outline, screw holes, and the area that must stay open to the vacuum.

    Parameters
    ----------
    base : outlines of the base, (N, 2) each, mm
    screws : (K, 2) places of the screws, mm
    vacuum_mm : depth of the buck's channels, for the note
    dowels : whether two dowel holes are drilled through board and platen, so that it lies where it lay
    """
    points = np.concatenate(list(base))
    low, high = points.min(axis=0), points.max(axis=0)
    middle, size = (low + high) / 2.0, high - low + 2.0 * _BOARD_BORDER_MM
    words = f"buck stands here; its channels, {vacuum_mm:g} mm deep, must reach an open hole"
    # at unlike distances from the corners: the board goes on one way only
    corners = [(low - _BOARD_BORDER_MM / 2.0), (high + np.array([-1.5, 0.5]) * _BOARD_BORDER_MM)]
    pins = corners if dowels else []
    return FlatDrawing(
        name="base_board",
        title=f"Base board, {size[0]:.1f} x {size[1]:.1f} mm",
        lines=(
            box("cut", float(size[0]), float(size[1]), x=float(middle[0]), y=float(middle[1])),
            *_outlines("engrave", base),
            *(line for place in (*screws, *pins) for line in _mark(place)),
        ),
        circles=(
            *(Circle("cut", float(x), float(y), _SCREW_MM / 2.0) for x, y in screws),
            *(Circle("cut", float(x), float(y), _DOWEL_MM / 2.0) for x, y in pins),
        ),
        words=(Words("reference", float(low[0]), float(high[1]) + 6.0, _SMALL_MM, words),),
    )


def edge_strip(length_mm: float, *, width_mm: float, ending: str = "") -> FlatDrawing:
    """A strip that is folded over the trimmed edge, with ticks and an overlap.

    Parameters
    ----------
    length_mm : of the trim line
    width_mm : of the strip; it is scored along its middle
    ending : of the drawing's name, as '_opening_1'
    """
    whole, half = length_mm + _OVERLAP_MM, width_mm / 2.0
    ticks = np.arange(_TICK_EVERY_MM, length_mm, _TICK_EVERY_MM)
    lines = [
        box("cut", whole, width_mm, x=whole / 2.0),
        Line("score", np.array([(0.0, 0.0), (whole, 0.0)]), closed=False),
        Line("reference", np.array([(length_mm, -half), (length_mm, half)]), closed=False),
        *(Line("engrave", np.array([(x, half - 3.0), (x, half)]), closed=False) for x in ticks),
    ]
    words = [Words("engrave", float(x) + 1.0, half - 4.0, 2.5, f"{x:.0f}") for x in ticks]
    words.append(Words("reference", length_mm + 1.0, -half + 2.0, 2.5, "overlap"))
    return FlatDrawing(
        name=f"edge_strip{ending}",
        title=f"Edge strip{ending.replace('_', ' ')}, {length_mm:.1f} mm and {_OVERLAP_MM:g} mm of overlap",
        lines=tuple(lines),
        words=tuple(words),
    )


def _outlines(layer: Layer, polygons: Polygons) -> tuple[Line, ...]:
    return tuple(Line(layer, np.asarray(points, np.float64)) for points in polygons)


def _cross(width: float, depth: float) -> tuple[Line, ...]:
    """Centre lines."""
    ends = ([(-width / 2.0, 0.0), (width / 2.0, 0.0)], [(0.0, -depth / 2.0), (0.0, depth / 2.0)])
    return tuple(Line("reference", np.array(pair), closed=False) for pair in ends)


def _arrow(depth: float) -> tuple[Line, ...]:
    """An arrow along the width, at the lower edge, for the direction of extrusion."""
    y = -depth / 2.0 + 4.0
    shaft = np.array([(0.0, y), (_ARROW_MM, y)])
    head = np.array([(_ARROW_MM - 4.0, y + 2.0), (_ARROW_MM, y), (_ARROW_MM - 4.0, y - 2.0)])
    return (Line("reference", shaft, closed=False), Line("reference", head, closed=False))


def _mark(place: NDArray[np.float64]) -> tuple[Line, ...]:
    """A cross on the middle of a hole."""
    steps = (np.array([_CROSS_MM, 0.0]), np.array([0.0, _CROSS_MM]))
    return tuple(Line("engrave", np.array([place - step, place + step]), closed=False) for step in steps)
