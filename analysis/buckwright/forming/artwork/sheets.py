"""What is printed on the flat sheet: pixels, outline of the blank, marks to lay it by, a bar of 100 mm."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from buckwright.output.flat.drawing import Circle, FlatDrawing, Image, Line, Words, bar, box

__all__ = ["Register", "grid_sheet", "picture_sheet"]

_BARS_MM = (100.0, 50.0)
"""The longest that a blank has room for is drawn; a blank without room for any is measured by its sides."""
_MARK_MM = 4.0
_PIP_MM = 1.0
"""Radius of the pips of the buck (`workshop.edge.pips`)."""
_TEXT_MM, _LINE_MM = 3.0, 2.2
_ROOM_MM = 30.0
"""Beside the bar, for words and marks."""
_EVERY = 5
"""Every fifth line of a grid is drawn heavier. House rule."""

type Outlines = Sequence[NDArray[np.float64]]


@dataclass(frozen=True, slots=True, eq=False)
class Register:
    """What tells on a sheet whether the print comes where it should.

    Attributes
    ----------
    pips : (N, 2) float64, mm, places of the buck's pips in the flat sheet, around the middle of the opening
    moves : how far the print moves, in words; empty for none
    """

    pips: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 2)))
    moves: str = ""


def picture_sheet(
    pixels: NDArray[np.uint8],
    opening_mm: tuple[float, float],
    blank_mm: tuple[float, float],
    trim: Outlines,
    *,
    mirrored: bool,
    register: Register | None = None,
) -> FlatDrawing:
    """The picture to print.

    Parameters
    ----------
    pixels : (ny, nx, 4) uint8 of the whole opening, seen from above
    opening_mm, blank_mm : width and depth
    trim : where the trim line lies in the flat sheet, (N, 2) each, around the middle of the opening, mm
    mirrored : whether the under side is printed
    register : what tells whether it comes where it should; None for nothing

    Returns
    -------
    FlatDrawing : as it is printed
    """
    shown = np.ascontiguousarray(pixels[:, ::-1]) if mirrored else pixels
    width, depth = opening_mm
    register = register or Register()
    (pips,) = _seen([register.pips], mirrored=mirrored)
    return FlatDrawing(
        name="artwork_sheet",
        title=f"Artwork for the flat sheet, {_side(mirrored)}",
        lines=(*_frame(opening_mm, blank_mm, _seen(trim, mirrored=mirrored)), *_crosses(pips)),
        circles=(*_rings(opening_mm, blank_mm), *_round(pips)),
        words=(
            *_words(opening_mm, blank_mm, "artwork", register.moves, mirrored=mirrored),
            *_numbers(pips),
        ),
        image=Image(shown, -width / 2.0, -depth / 2.0, width, depth),
    )


def grid_sheet(
    opening_mm: tuple[float, float],
    blank_mm: tuple[float, float],
    trim: Outlines,
    *,
    grid_mm: float,
    mirrored: bool,
    register: Register | None = None,
) -> FlatDrawing:
    """A grid to print on a sheet that is formed as a test; parameters as `picture_sheet`.

    Its lines run through the middle of the opening; every fifth is heavier and carries its distance.
    """
    lines, words = [], []
    for axis in (0, 1):
        reach, across = opening_mm[axis] / 2.0, opening_mm[1 - axis] / 2.0
        most = int(reach / grid_mm)
        for n in range(-most, most + 1):
            ends = np.zeros((2, 2))
            ends[:, axis], ends[:, 1 - axis] = n * grid_mm, (-across, across)
            lines.append(Line("cut" if n % _EVERY == 0 else "reference", ends, closed=False))
            if n % _EVERY == 0:
                place = [0.0, 0.0]
                place[axis], place[1 - axis] = n * grid_mm + 0.6, -across + 0.8
                told = -n if mirrored and axis == 0 else n
                words.append(Words("cut", place[0], place[1], 2.0, f"{told * grid_mm:g}"))
    register = register or Register()
    (pips,) = _seen([register.pips], mirrored=mirrored)
    words += _numbers(pips)
    return FlatDrawing(
        name="grid_sheet",
        title=f"Test grid of {grid_mm:g} mm for the flat sheet, {_side(mirrored)}",
        lines=(*lines, *_frame(opening_mm, blank_mm, _seen(trim, mirrored=mirrored)), *_crosses(pips)),
        circles=(*_rings(opening_mm, blank_mm), *_round(pips)),
        words=(
            *words,
            *_words(opening_mm, blank_mm, f"test grid {grid_mm:g} mm", register.moves, mirrored=mirrored),
        ),
    )


def _side(mirrored: bool) -> str:
    return "under side, mirrored" if mirrored else "upper side"


def _seen(trim: Outlines, *, mirrored: bool) -> list[NDArray[np.float64]]:
    return [ring * [-1.0, 1.0] if mirrored else ring for ring in trim]


def _frame(opening: tuple[float, float], blank: tuple[float, float], trim: Outlines) -> tuple[Line, ...]:
    low = -(opening[1] + blank[1]) / 4.0
    marks = [
        Line("cut", np.array([at - step, at + step]), closed=False)
        for at in _corners(opening, blank)
        for step in (np.array([_MARK_MM, 0.0]), np.array([0.0, _MARK_MM]))
    ]
    return (
        box("cut", *blank),
        box("reference", *opening),
        *(Line("engrave", ring) for ring in trim),
        *marks,
        *(bar(-length / 2.0, low, length_mm=length) if (length := _bar_mm(blank)) else ()),
    )


def _crosses(pips: NDArray[np.float64]) -> list[Line]:
    """Where a pip of the buck should come up through the print."""
    steps = (np.array([_MARK_MM, 0.0]), np.array([0.0, _MARK_MM]))
    return [Line("cut", np.array([at - step, at + step]), closed=False) for at in pips for step in steps]


def _round(pips: NDArray[np.float64]) -> list[Circle]:
    return [Circle("cut", float(x), float(y), _PIP_MM) for x, y in pips]


def _numbers(pips: NDArray[np.float64]) -> list[Words]:
    places = [(float(x) + _MARK_MM, float(y) + 1.0) for x, y in pips]
    return [Words("cut", x, y, 2.0, f"pip {n}") for n, (x, y) in enumerate(places, 1)]


def _bar_mm(blank: tuple[float, float]) -> float:
    """Length of the bar; 0 where there is no room for one."""
    return next((length for length in _BARS_MM if blank[0] >= length + 2.0 * _ROOM_MM), 0.0)


def _rings(opening: tuple[float, float], blank: tuple[float, float]) -> tuple[Circle, ...]:
    return tuple(Circle("cut", float(x), float(y), _MARK_MM / 2.0) for x, y in _corners(opening, blank))


def _corners(opening: tuple[float, float], blank: tuple[float, float]) -> NDArray[np.float64]:
    """Places of the marks: under the clamp, in the corners of the blank."""
    reach = (np.array(opening) + np.array(blank)) / 4.0
    return np.asarray(np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * reach)


def _words(
    opening: tuple[float, float], blank: tuple[float, float], what: str, moves: str, *, mirrored: bool
) -> tuple[Words, ...]:
    left, high = -opening[0] / 2.0 + 8.0, (opening[1] + blank[1]) / 4.0 - _TEXT_MM / 2.0
    side = "UNDER side of the sheet, printed mirrored" if mirrored else "UPPER side of the sheet"
    foot = -high - _TEXT_MM
    up = _LINE_MM if moves else 0.0
    length = _bar_mm(blank)
    told = (Words("cut", length / 2.0 + 3.0, foot, _TEXT_MM, f"{length:g} mm"),)
    return (
        *(told if length else ()),
        Words("cut", left, high + up, _TEXT_MM, f"back; {what}; {side}; print at 100 %"),
        *((Words("cut", left, high - up, _TEXT_MM, moves),) if moves else ()),
        Words("cut", left, foot, _TEXT_MM, "front"),
    )
