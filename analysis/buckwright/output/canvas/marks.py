"""Numbers, rings and lines drawn over a picture: trapped regions, vents, the trim line."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from buckwright.mesh.level_cut import closed_cut
from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.page import HALO
from buckwright.output.canvas.palette import INK, PAPER
from buckwright.output.canvas.views import Shot

__all__ = [
    "HIDDEN_TINT",
    "HIDDEN_VENT_STYLES",
    "TRIM_STYLE",
    "VENT_STYLES",
    "RegionMark",
    "VentMark",
    "draw_labels",
    "draw_level",
    "draw_trim",
    "draw_vents",
    "place_words",
    "trim_outline",
]

HIDDEN_TINT = "0.86"
TRIM_STYLE: dict[str, Any] = {"color": INK, "linewidth": 1.8, "linestyle": (0, (9, 3, 2, 3))}
_RING: dict[str, Any] = {
    "marker": "o",
    "markersize": 12,
    "markerfacecolor": "none",
    "markeredgecolor": INK,
    "markeredgewidth": 1.7,
}
_BEHIND: dict[str, Any] = _RING | {"markeredgecolor": PAPER, "markeredgewidth": 4.2}
_DOT: dict[str, Any] = {"marker": "o", "markersize": 5.5, "markerfacecolor": INK, "markeredgecolor": PAPER}
_CROSS: dict[str, Any] = {"marker": "x", "markersize": 6, "markeredgecolor": INK, "markeredgewidth": 1.5}
_CROSS_BEHIND: dict[str, Any] = _CROSS | {"markersize": 8, "markeredgecolor": PAPER, "markeredgewidth": 4.0}

VENT_STYLES = (_BEHIND, _RING, _DOT)
"""A vent that is seen: layers from back to front."""

HIDDEN_VENT_STYLES = (_CROSS_BEHIND, _CROSS)
"""A vent that is hidden from this side."""

_SEEN_SLACK_MM = 0.6
_SPREAD = (0, 34, 58, 86, 120, 160)
_MOST_VENT_NUMBERS = 60


@dataclass(frozen=True, slots=True, eq=False)
class RegionMark:
    """A trapped region as it is labelled in a picture.

    Attributes
    ----------
    number : as in report.json, from 1
    centre_mm : (3,) a point on it
    words : what a reader should know, for example '1.8 mm sideways, flexes off'
    """

    number: int
    centre_mm: NDArray[np.float64]
    words: str


@dataclass(frozen=True, slots=True, eq=False)
class VentMark:
    """A vent as it is shown in a picture.

    Attributes
    ----------
    top_mm : (3,) where it opens in the face
    diameter_mm : at the face
    number : as in report.json, from 1
    """

    top_mm: NDArray[np.float64]
    diameter_mm: float
    number: int


def draw_labels(axes: Axes, shot: Shot, points: NDArray[np.float64], numbers: Sequence[int]) -> None:
    """Numbers near points, kept apart, each with a thin line to its point.

    Parameters
    ----------
    axes : from `Page.show`
    shot : the picture beneath
    points : (N, 3) float64, mm, in the pull frame
    numbers : one per point

    Notes
    -----
    Round where the point is seen, square where it is hidden from this side.
    """
    if not len(points):
        return
    seen = shot.is_seen(points, slack_mm=_SEEN_SLACK_MM)
    spots = shot.project(points)[:, :2]
    places = _apart(spots / shot.unit_mm, radius=17) * shot.unit_mm
    for spot, place, number, open_view in zip(spots, places, numbers, seen, strict=True):
        if np.abs(spot - place).max() > shot.unit_mm:
            axes.plot(*np.stack([spot, place]).T, color=INK, linewidth=1.3, zorder=6, path_effects=HALO)
            axes.plot(*spot, marker="o", markersize=4, color=INK, zorder=6)
        shape = "circle,pad=0.28" if open_view else "square,pad=0.3"
        face = PAPER if open_view else HIDDEN_TINT
        frame = {"boxstyle": shape, "facecolor": face, "edgecolor": INK, "linewidth": 1.6}
        place_words(axes, place, f"{number}", size=12, weight="bold", ha="center", zorder=7, bbox=frame)


def place_words(axes: Axes, place: NDArray[np.float64], words: str, *, size: float, **style: Any) -> None:
    """Words at a place in a view.

    Parameters
    ----------
    axes : from `Page.show`
    place : (2,) mm in the view
    words : plain text
    size : of the letters, points
    **style : further settings of matplotlib's text
    """
    x, y = (float(value) for value in place)
    settings: dict[str, Any] = {"fontsize": size, "color": INK, "va": "center", "clip_on": False} | style
    axes.text(x, y, words, **settings)


def _apart(spots: NDArray[np.float64], *, radius: float) -> NDArray[np.float64]:
    """Move labels away from each other: the nearest free place on growing rings, in units of the layout."""
    placed: list[NDArray[np.float64]] = []
    angles = np.radians(np.arange(8) * 45 + 22.5)
    directions = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    for spot in spots:
        tries = [spot + reach * way for reach in _SPREAD for way in (directions if reach else directions[:1])]
        free = (t for t in tries if all(np.hypot(*(t - other)) > 2.1 * radius for other in placed))
        placed.append(next(free, spot))
    return np.array(placed).reshape(-1, 2)


def draw_vents(
    axes: Axes, shot: Shot, vents: Sequence[VentMark], *, numbered: bool, hideable: bool = True
) -> int:
    """A ringed dot at each vent that is seen, a small cross at each that is hidden from this side.

    Parameters
    ----------
    axes : from `Page.show`
    shot : the picture beneath
    vents : to draw
    numbered : whether the seen ones get their number; omitted where there are more than 60, which would cover
        the picture
    hideable : whether a vent can be hidden; if not, all count as seen

    Returns
    -------
    int : number of hidden vents
    """
    if not vents:
        return 0
    points = np.array([vent.top_mm for vent in vents], np.float64)
    seen = shot.is_seen(points, slack_mm=_SEEN_SLACK_MM) if hideable else np.ones(len(vents), bool)
    spots = shot.project(points)[:, :2]
    for chosen, layers in ((~seen, HIDDEN_VENT_STYLES), (seen, VENT_STYLES)):
        x, y = spots[chosen].T
        for layer in layers:
            axes.plot(x, y, linestyle="none", zorder=5, **layer)
    if numbered and len(vents) <= _MOST_VENT_NUMBERS:
        for spot, vent, open_view in zip(spots + 9 * shot.unit_mm, vents, seen, strict=True):
            if open_view:
                place_words(axes, spot, f"{vent.number}", size=10.5, zorder=6, path_effects=HALO)
    return int((~seen).sum())


def trim_outline(mesh: Mesh, trim_z_mm: float) -> list[NDArray[np.float64]]:
    """Where the plane of the trim line cuts a mesh.

    Parameters
    ----------
    mesh : in the pull frame, mm
    trim_z_mm : height of the trim line

    Returns
    -------
    list of (N, 3) float64, mm : closed, the last point is the first again; empty where it cuts nothing
    """
    return closed_cut(mesh, trim_z_mm)


def draw_trim(axes: Axes, shot: Shot, outlines: Sequence[NDArray[np.float64]]) -> None:
    """Draw the trim line where it can be seen.

    Parameters
    ----------
    axes : from `Page.show`
    shot : the picture beneath
    outlines : from `trim_outline`
    """
    slack = max(_SEEN_SLACK_MM, 3.0 * shot.pixel_mm)
    for line in outlines:
        seen = shot.is_seen(line, slack_mm=slack)
        flat = np.where(seen[:, None], shot.project(line)[:, :2], np.nan)
        axes.plot(*flat.T, zorder=4, path_effects=HALO, **TRIM_STYLE)


def draw_level(axes: Axes, shot: Shot, trim_z_mm: float) -> None:
    """Draw the height of the trim line as a straight line across a view from the side.

    Parameters
    ----------
    axes : from `Page.show`
    shot : the picture beneath
    trim_z_mm : height of the trim line
    """
    left, right, _, _ = shot.extent
    reach = 0.04 * (right - left)
    axes.plot(
        [left - reach, right + reach],
        [trim_z_mm] * 2,
        zorder=4,
        clip_on=False,
        path_effects=HALO,
        **TRIM_STYLE,
    )
