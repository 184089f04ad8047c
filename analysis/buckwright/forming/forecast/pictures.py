"""Pictures of the forecast: how thick the sheet becomes, in which order it lands, and a cut through it."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.level_cut import closed_cut
from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.drawing import directions, drawn
from buckwright.output.canvas.marks import RegionMark, draw_labels, place_words
from buckwright.output.canvas.normals import unit_normals
from buckwright.output.canvas.page import HALO, ROOM, Page
from buckwright.output.canvas.palette import INK, ORIGIN_COLOURS
from buckwright.output.canvas.shading import shaded
from buckwright.output.canvas.views import FRONT, RIGHT, TOP, View, oblique, take

__all__ = ["ForecastScene", "draw_forecast", "draw_from_above"]

_MOST_MARKS = 14
_SLANTS = (
    oblique("front_left", "from the front left", azimuth_deg=-35.0, elevation_deg=40.0),
    oblique("back_right", "from the back right", azimuth_deg=145.0, elevation_deg=40.0),
)
_WEB_STYLE: dict[str, Any] = {"color": INK, "linewidth": 3.0, "linestyle": "-"}
_CLOSE_MM = 12.0
"""Half the width of the close-up of the cut: about sixteen thicknesses of a 0.75 mm sheet."""


@dataclass(frozen=True, slots=True, eq=False)
class ForecastScene:
    """What the pictures of a forecast show.

    Attributes
    ----------
    title : the job's name, any script
    sheet : the formed sheet in the buck's frame, mm
    thickness_mm : (V,) float64, at its vertices
    blank_mm : thickness of the sheet before forming
    order : (V,) float64, when each vertex landed, 0 first .. 1 last; nan where it never did
    buck : the buck, for the cut
    weakest_at_mm : (3,) middle of the weakest spot
    weakest_mm : mean thickness there
    webs : folds, each as a polyline (N, 3)
    marks : webs and pockets that are numbered
    facts : short lines for the column
    """

    title: str
    sheet: Mesh
    thickness_mm: NDArray[np.float64]
    blank_mm: float
    order: NDArray[np.float64]
    buck: Mesh
    weakest_at_mm: NDArray[np.float64]
    weakest_mm: float
    webs: tuple[NDArray[np.float64], ...] = ()
    marks: tuple[RegionMark, ...] = ()
    facts: tuple[str, ...] = ()


def draw_forecast(scene: ForecastScene, *, tick: Callable[[float], None] | None = None) -> dict[str, bytes]:
    """Draw every picture of a forecast.

    Parameters
    ----------
    scene : what to show
    tick : called with 0..1 after each picture; may raise to stop

    Returns
    -------
    PNG bytes (1120 x 840) by file name: forecast_top.png, forecast_front.png, forecast_right.png
    (thickness), forecast_contact.png (order of contact), forecast_cut.png (a cut through the weakest
    spot).
    """
    normals = unit_normals(scene.sheet)
    makers: dict[str, Callable[[], Page]] = {
        f"forecast_{view.name}.png": partial(_thickness_plate, scene, view, normals)
        for view in (TOP, FRONT, RIGHT)
    }
    makers["forecast_contact.png"] = partial(_contact_plate, scene, normals)
    makers["forecast_cut.png"] = partial(_cut_plate, scene)
    return drawn(makers, tick=tick)


def draw_from_above(scene: ForecastScene) -> bytes:
    """Draw the thickness seen down the pull.

    Parameters
    ----------
    scene : what to show

    Returns
    -------
    bytes : PNG, 1120 x 840
    """
    plate = partial(_thickness_plate, scene, TOP, unit_normals(scene.sheet))
    return drawn({"": plate}, tick=None)[""]


def _ramp(scene: ForecastScene) -> tuple[Any, Any]:
    """Colours of the thickness: from the first percentile to that of the blank."""
    from matplotlib import colormaps
    from matplotlib.colors import Normalize

    low = float(np.percentile(scene.thickness_mm, 1.0))
    return colormaps["cividis"], Normalize(min(low, 0.9 * scene.blank_mm), scene.blank_mm)


def _thickness_plate(scene: ForecastScene, view: View, normals: NDArray[np.float64]) -> Page:
    plate = Page(scene.title, f"Forecast of the formed sheet, {view.words} \u00b7 thickness")
    ramp, norm = _ramp(scene)
    shot = take(scene.sheet, view, width=ROOM[2] - 80, height=ROOM[3] - 40)
    of_face = scene.thickness_mm[scene.sheet.faces].mean(axis=1)
    colours = np.asarray(ramp(norm(of_face), bytes=True))[:, :3]
    axes = plate.show(shot, shaded(shot, normals, colours, strength=0.35))
    for line in scene.webs:
        axes.plot(*shot.project(line)[:, :2].T, zorder=5, path_effects=HALO, **_WEB_STYLE)
    spot = shot.project(scene.weakest_at_mm)[0, :2]
    axes.plot(*spot, marker="v", markersize=13, color="white", markeredgecolor=INK, zorder=6)
    named = scene.marks[:_MOST_MARKS]
    centres = np.array([mark.centre_mm for mark in named], np.float64).reshape(-1, 3)
    draw_labels(axes, shot, centres, [mark.number for mark in named])
    _thickness_words(plate, scene, ramp, norm)
    directions(plate, view)
    return plate


def _thickness_words(plate: Page, scene: ForecastScene, ramp: Any, norm: Any) -> None:
    """Colour bar in mm and in shares of the blank, the facts, and what the numbers mean."""
    column = plate.column
    column.heading("Thickness of the formed sheet")
    _bar(plate, ramp, norm, [f"{t:.2f} mm  ({t / scene.blank_mm:.0%})" for t in _ticks(norm)], _ticks(norm))
    column.gap(430)
    column.sample("weakest spot", {"marker": "v", "markersize": 11, "color": "white", "markeredgecolor": INK})
    if scene.webs:
        column.sample("web (fold)", _WEB_STYLE)
    for fact in scene.facts:
        column.line(fact)
    column.gap()
    for mark in scene.marks[:_MOST_MARKS]:
        if column.lines_left < 3:
            break
        column.line(mark.words, lead=f"{mark.number}")


def _ticks(norm: Any) -> list[float]:
    return [float(value) for value in np.linspace(norm.vmin, norm.vmax, 6)]


def _bar(plate: Page, ramp: Any, norm: Any, words: list[str], ticks: list[float]) -> None:
    from matplotlib.cm import ScalarMappable

    bar = plate.figure.add_axes((1180 / 1600, 720 / 1200, 40 / 1600, 380 / 1200))
    scale = plate.figure.colorbar(ScalarMappable(norm, ramp), cax=bar, ticks=ticks)
    scale.ax.set_yticklabels(words, fontsize=12.5, color=INK)


def _contact_plate(scene: ForecastScene, normals: NDArray[np.float64]) -> Page:
    """Two oblique views coloured by the order in which the sheet lands."""
    from matplotlib import colormaps
    from matplotlib.colors import Normalize

    plate = Page(scene.title, "Forecast of the formed sheet \u00b7 order of contact")
    ramp, norm = colormaps["cividis"], Normalize(0.0, 1.0)
    never = np.isnan(scene.order)
    of_face = np.where(never, 1.0, scene.order)[scene.sheet.faces].mean(axis=1)
    colours = np.asarray(ramp(norm(of_face), bytes=True))[:, :3].copy()
    colours[never[scene.sheet.faces].any(axis=1)] = 255
    for index, view in enumerate(_SLANTS):
        shot = take(scene.sheet, view, width=1080, height=430)
        pixels = shaded(shot, normals, colours, strength=0.4)
        plate.show(shot, pixels, room=(30, 640 - 540 * index, 1090, 440))
        plate.words(760, 586 - 540 * index, view.words)
    column = plate.column
    column.heading("Order in which the sheet touches")
    _bar(plate, ramp, norm, ["first", "", "half of it", "", "last"], [0.0, 0.25, 0.5, 0.75, 1.0])
    column.gap(430)
    if never.any():
        column.line("White: does not touch (clamped, bridging or folded).")
    column.line("Where the sheet touches last it traps air: vents belong there.")
    return plate


def _cut_plate(scene: ForecastScene) -> Page:
    """A cut through the weakest spot: the whole and a close-up, the sheet as thick as forecast."""
    plate = Page(scene.title, "Cut through the weakest spot \u00b7 the sheet at its forecast thickness")
    at_x, at_y = (_cut_sheet(scene, axis, float(scene.weakest_at_mm[axis])) for axis in (0, 1))
    # choose the plane with more relief
    across = int(np.ptp(at_y[0][..., 1]) > np.ptp(at_x[0][..., 1]))
    ends, thick = at_y if across else at_x
    along, at = 1 - across, float(scene.weakest_at_mm[across])
    spot = scene.weakest_at_mm[[along, 2]]
    high = float(scene.sheet.vertices[:, 2].max())
    wide = (float(scene.sheet.vertices[:, along].min()), float(scene.sheet.vertices[:, along].max()))
    rooms = (
        ((80, 760, 1480, 330), wide, (min(0.0, scene.sheet.vertices[:, 2].min()) - 2.0, high + 4.0)),
        (
            (80, 110, 1040, 560),
            (spot[0] - _CLOSE_MM * 1.95, spot[0] + _CLOSE_MM * 1.95),
            (spot[1] - _CLOSE_MM, spot[1] + _CLOSE_MM),
        ),
    )
    ramp, norm = _ramp(scene)
    for room, x_range, z_range in rooms:
        axes = _cut_axes(plate, room, x_range, z_range)
        for line in _cut_buck(scene.buck, across, at):
            axes.fill(*line.T, facecolor=ORIGIN_COLOURS[0], edgecolor=INK, linewidth=0.8, zorder=1)
        _draw_sheet(axes, ends, thick, ramp(norm(thick.mean(axis=1))))
        axes.plot(*spot, marker="v", markersize=9, color="white", markeredgecolor=INK, zorder=6)
    axes = plate.figure.axes[-1]
    value = scene.weakest_mm
    place_words(
        axes,
        spot + np.array([0.0, 2.2]),
        f"{value:.2f} mm",
        size=13,
        ha="center",
        zorder=7,
        path_effects=HALO,
    )
    plate.words(40, 700, f"{'xy'[across]} = {at:.1f} mm; close by, in mm:")
    plate.column.gap(480)
    plate.column.heading("Sheet: colour by thickness")
    plate.column.line(f"Before forming {scene.blank_mm:.2f} mm, weakest spot {value:.2f} mm.")
    plate.column.line("The buck is sand-coloured; the platen is z = 0.")
    return plate


def _cut_axes(
    plate: Page,
    room: tuple[int, int, int, int],
    x_range: tuple[float, float],
    z_range: tuple[float, float],
) -> Any:
    left, bottom, width, height = room
    axes = plate.figure.add_axes((left / 1600, bottom / 1200, width / 1600, height / 1200))
    axes.set_xlim(*x_range)
    axes.set_ylim(*z_range)
    axes.set_aspect("equal", adjustable="box")
    axes.tick_params(labelsize=11, colors=INK)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return axes


def _cut_buck(buck: Mesh, across: int, at: float) -> list[NDArray[np.float64]]:
    """Outlines of the buck in a vertical plane, (N, 2) each, closed."""
    return [line[:, [1 - across, 2]] for line in closed_cut(buck, at, values=buck.vertices[:, across])]


def _cut_sheet(
    scene: ForecastScene, across: int, at: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Pieces of the sheet in the plane, (N, 2 ends, 2), from low to high, and their thickness, (N, 2)."""
    points, faces = scene.sheet.vertices, scene.sheet.faces
    side = points[:, across] - at
    above = (side > 0.0)[faces]
    hit = np.flatnonzero(above.any(axis=1) & ~above.all(axis=1))
    faces, above = faces[hit], above[hit]
    crossed = above != np.roll(above, -1, axis=1)  # exactly two edges of three
    a, b = faces[crossed], np.roll(faces, -1, axis=1)[crossed]
    share = side[a] / (side[a] - side[b])
    spots = points[a] * (1.0 - share)[:, None] + points[b] * share[:, None]
    thick = scene.thickness_mm[a] * (1.0 - share) + scene.thickness_mm[b] * share
    return spots[:, [1 - across, 2]].reshape(-1, 2, 2), thick.reshape(-1, 2)


def _draw_sheet(
    axes: Any, ends: NDArray[np.float64], thick: NDArray[np.float64], colours: NDArray[np.float64]
) -> None:
    """Each piece as a band on the side away from the buck."""
    from matplotlib.collections import PolyCollection

    order = np.argsort(ends[:, :, 0], axis=1)
    rows = np.arange(len(ends))[:, None]
    ends, thick = ends[rows, order], thick[rows, order]
    run = ends[:, 1] - ends[:, 0]
    away = np.column_stack([-run[:, 1], run[:, 0]])
    away /= np.maximum(np.linalg.norm(away, axis=1), 1e-12)[:, None]
    outer = ends + away[:, None] * thick[..., None]
    bands = np.concatenate([ends, outer[:, ::-1]], axis=1)
    axes.add_collection(
        PolyCollection(list(bands), facecolors=colours, edgecolors=colours, linewidths=0.6, zorder=3)
    )
