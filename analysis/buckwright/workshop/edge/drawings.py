"""Templates of the edge at 1:1: paper strip, height gauge, drilling."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from buckwright.output.flat.drawing import Circle, FlatDrawing, Line, Words, box
from buckwright.workshop.edge.holes import HOLE_NAMES, PartHole
from buckwright.workshop.edge.unrolling import FlatBand

__all__ = ["drilling_template", "height_gauge", "paper_strip"]

_TICK_EVERY_MM = 50.0
_TICK_MM = 4.0
_TEXT_MM = 3.5
_SMALL_MM = 2.5
_FOOT_MM = 40.0
_CARD_MM = 70.0
_POINT_MM = 12.0
_HEAD_MM = 12.0
_IN_OPENING = 0.6  # a card may take so much of the width of an opening
_CROSS_MM = 5.0
_ARC = 16
_LINE_MM = 5.0

type Points = NDArray[np.float64]


def paper_strip(band: FlatBand, *, ending: str = "", rising: bool = False) -> FlatDrawing:
    """The strip that is laid round the wall, its lower edge on the trim line.

    Parameters
    ----------
    band : rolled out, with its overlap
    ending : of the drawing's name, as '_opening_1'
    rising : whether the trim line is the upper edge, and the lower one lies on the ledge
    """
    ticks = np.arange(0.0, band.length_mm, _TICK_EVERY_MM)
    marks = [(Line("engrave", _tick(band, way), closed=False), f"{way:.0f}") for way in ticks]
    seam = _across(band, band.length_mm)
    which = "upper" if rising else "lower"
    return FlatDrawing(
        name=f"paper_strip{ending}",
        title=f"Paper strip{_of(ending)}, {band.length_mm:.1f} mm round; its {which} edge is the trim line",
        lines=(
            Line("cut", np.vstack([band.lower, band.upper[::-1]])),
            Line("reference", seam, closed=False),
            *(line for line, _ in marks),
        ),
        words=(
            *(
                Words("engrave", float(line.points[1][0]) + 1.0, float(line.points[1][1]), _SMALL_MM, text)
                for line, text in marks
            ),
            Words(
                "reference", float(seam[:, 0].mean()) + 1.0, float(seam[:, 1].mean()), _SMALL_MM, "overlap"
            ),
        ),
    )


def _of(ending: str) -> str:
    return ending.replace("_", " ")


def _across(band: FlatBand, way_mm: float) -> Points:
    """From the lower to the upper edge at a way along the lower one, (2, 2)."""
    return np.array(
        [
            [float(np.interp(way_mm, band.way_mm, edge[:, k])) for k in range(2)]
            for edge in (band.lower, band.upper)
        ]
    )


def _tick(band: FlatBand, way_mm: float) -> Points:
    low, high = _across(band, way_mm)
    reach = float(np.linalg.norm(high - low)) or 1.0
    return np.array([low, low + (high - low) * min(_TICK_MM / reach, 1.0)])


def height_gauge(height_mm: float) -> FlatDrawing:
    """A card that stands on the table beside the sheet and points at the trim line.

    Parameters
    ----------
    height_mm : of the trim line over what the sheet's rim lies on
    """
    top = height_mm + _HEAD_MM
    card = np.array(
        [
            (0.0, -_FOOT_MM),
            (_CARD_MM, -_FOOT_MM),
            (_CARD_MM, top),
            (0.0, top),
            (0.0, height_mm),
            (-_POINT_MM, height_mm),
            (0.0, max(height_mm - _POINT_MM, height_mm / 2.0)),
        ]
    )
    return FlatDrawing(
        name="height_gauge",
        title=f"Height gauge, {height_mm:.1f} mm: fold the foot back, glue on stiff card",
        lines=(
            Line("cut", card),
            Line("score", np.array([(0.0, 0.0), (_CARD_MM, 0.0)]), closed=False),
        ),
        words=(
            Words("engrave", 4.0, height_mm + 4.0, _TEXT_MM, f"trim line {height_mm:.1f} mm"),
            Words("engrave", 4.0, -_FOOT_MM + 4.0, _TEXT_MM, "foot, lies on the table"),
        ),
    )


def opening_gauge(height_mm: float, across_mm: float, *, ending: str) -> FlatDrawing:
    """A card that stands on the floor of an opening and whose top marks the trim line.

    Parameters
    ----------
    height_mm : of the trim line over the floor
    across_mm : the opening's smaller width
    ending : of the drawing's name, as '_opening_1'
    """
    width = min(_CARD_MM, _IN_OPENING * across_mm)
    foot = min(_FOOT_MM, _IN_OPENING * across_mm)
    return FlatDrawing(
        name=f"height_gauge{ending}",
        title=f"Height gauge{_of(ending)}, {height_mm:.1f} mm over the floor: fold the foot back",
        lines=(
            box("cut", width, height_mm + foot, x=width / 2.0, y=(height_mm - foot) / 2.0),
            Line("score", np.array([(0.0, 0.0), (width, 0.0)]), closed=False),
        ),
        words=(Words("engrave", 1.0, -min(4.0, foot / 2.0), _SMALL_MM, f"{height_mm:.1f} mm"),),
    )


def drilling_template(
    trim: Points,
    holes: Sequence[PartHole],
    distances_mm: Sequence[float],
    *,
    openings: Sequence[Points] = (),
) -> FlatDrawing:
    """Holes seen down the pull, inside the trim line.

    Parameters
    ----------
    trim : (N, 2 or more) the trim line, mm
    holes : at least one
    distances_mm : of each to the nearest trim line, negative below the outer one
    openings : trim lines round openings, likewise
    """
    lines = [Line("reference", np.asarray(ring)[:, :2]) for ring in (trim, *openings)]
    circles, words = [], []
    (left, low), (right, top) = np.asarray(trim)[:, :2].min(axis=0), np.asarray(trim)[:, :2].max(axis=0)
    foot = low - _LINE_MM * (len(holes) + 1)
    for n, (hole, away) in enumerate(zip(holes, distances_mm, strict=True), 1):
        x, y = (float(v) for v in hole.at_mm[:2])
        if hole.kind == "slot":
            lines.append(_slot(hole))
        else:
            circles.append(Circle("cut", x, y, hole.across_mm / 2.0))
        lines += [line for place in hole.drilled_mm for line in _cross(place)]
        steep = f", wall {hole.slope_deg:.0f} deg: drill square to it" if hole.slope_deg > 30.0 else ""
        words.append(Words("engrave", x + 2.0, y + 2.0, _TEXT_MM, f"{n}"))
        edge = f"{away:.0f} mm to the edge" if away >= 0.0 else "below the trim line"
        line = f"{n}: {HOLE_NAMES[hole.kind]}, {_size(hole)}, {edge}{steep}"
        words.append(Words("engrave", left, low - _LINE_MM * n, _SMALL_MM, line))
    return FlatDrawing(
        name="drilling",
        title=f"Drilling template, {len(holes)} hole{'' if len(holes) == 1 else 's'}, seen down the pull",
        lines=(
            box("reference", right - left, top - foot, x=(left + right) / 2.0, y=(foot + top) / 2.0),
            *lines,
        ),
        circles=tuple(circles),
        words=tuple(words),
    )


def _size(hole: PartHole) -> str:
    if hole.length_mm > hole.across_mm:
        return f"{hole.length_mm:g} x {hole.across_mm:g} mm"
    return f"{hole.across_mm:g} mm"


def _slot(hole: PartHole) -> Line:
    """A slot with round ends, as it is seen down the pull where its wall is level along it."""
    ahead = hole.along[:2]
    beside = np.array([-ahead[1], ahead[0]])
    reach, half = (hole.length_mm - hole.across_mm) / 2.0, hole.across_mm / 2.0
    turn = np.linspace(-np.pi / 2.0, np.pi / 2.0, _ARC + 1)[:, None]
    end = np.cos(turn) * ahead + np.sin(turn) * beside
    points = np.vstack([reach * ahead + half * end, -reach * ahead - half * end])
    return Line("cut", hole.at_mm[:2] + points)


def _cross(place: Points) -> list[Line]:
    steps = (np.array([_CROSS_MM, 0.0]), np.array([0.0, _CROSS_MM]))
    return [Line("engrave", np.array([place[:2] - step, place[:2] + step]), closed=False) for step in steps]
