"""One picture of the clearance: the part seen down the pull, and a cut through its nearest place."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.findings import percent
from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.drawing import directions, png_of
from buckwright.output.canvas.marks import RegionMark, draw_labels
from buckwright.output.canvas.normals import unit_normals
from buckwright.output.canvas.page import Page
from buckwright.output.canvas.palette import INK
from buckwright.output.canvas.shading import dotted, hatched, shaded
from buckwright.output.canvas.views import TOP, take
from buckwright.workshop.clearance.measuring import Clearance

__all__ = ["draw_clearance"]

_MOST_PLACES = 9
_PLAN = (30, 570, 1090, 520)
_CUT = (80, 116, 1020, 350)
_MARK: dict[str, Any] = {"marker": "v", "markersize": 12, "color": "white", "markeredgecolor": INK}
# The ramp ends at this many times the wanted clearance: what is roomier is no matter. House rule.
_SPAN = 4.0
_LEAST_SPAN_MM = 4.0


def draw_clearance(cleared: Clearance, *, title: str) -> dict[str, bytes]:
    """Draw the clearance of a part.

    Parameters
    ----------
    cleared : as measured
    title : the job's name, any script

    Returns
    -------
    PNG bytes by file name: clearance.png
    """
    where = "as forecast" if cleared.source == "forecast" else "as the buck gives it, without a forecast"
    plate = Page(title, f"Clearance between part and body \u00b7 {where}")
    ramp, norm = _ramp(cleared)
    above = Mesh(cleared.surface.vertices, cleared.surface.faces[_whole(cleared)])
    of_face = cleared.clearance_mm[above.faces].min(axis=1)
    shot = take(above, TOP, width=_PLAN[2] - 60, height=_PLAN[3] - 30)
    colours = np.asarray(ramp(norm(of_face), bytes=True))[:, :3]
    pixels = shaded(shot, unit_normals(above), colours, strength=0.35)
    seen = np.append(of_face, np.inf)[shot.face_at_pixel]
    pixels = dotted(pixels, (seen > 0.0) & (seen < cleared.wanted_mm))
    pixels = hatched(pixels, seen <= 0.0)
    axes = plate.show(shot, pixels, room=_PLAN)
    spot = shot.project(np.array(cleared.least_at_mm))[0, :2]
    axes.plot(*spot, zorder=6, **_MARK)
    named = [
        RegionMark(n, np.array(place.at_mm), _place_words(place.least_mm, place.area_mm2))
        for n, place in enumerate(cleared.places[:_MOST_PLACES], 1)
    ]
    centres = np.array([mark.centre_mm for mark in named], np.float64).reshape(-1, 3)
    draw_labels(axes, shot, centres, [mark.number for mark in named])
    _draw_cut(plate, cleared, ramp, norm)
    _words(plate, cleared, named, ramp, norm)
    directions(plate, TOP)
    return {"clearance.png": png_of(plate)}


def _whole(cleared: Clearance) -> NDArray[np.bool_]:
    whole: NDArray[np.bool_] = cleared.part[cleared.surface.faces].all(axis=1)
    return whole


def _ramp(cleared: Clearance) -> tuple[Any, Any]:
    from matplotlib import colormaps
    from matplotlib.colors import Normalize

    most = float(cleared.clearance_mm[cleared.part].max(initial=0.0))
    return colormaps["cividis"], Normalize(0.0, max(min(most, _SPAN * cleared.wanted_mm), _LEAST_SPAN_MM))


def _place_words(least_mm: float, area_mm2: float) -> str:
    how = f"presses in by {-least_mm:.1f} mm" if least_mm < -0.05 else f"{max(least_mm, 0.0):.1f} mm"
    return f"{how}, {area_mm2 / 100.0:.1f} cm2"


def _draw_cut(plate: Page, cleared: Clearance, ramp: Any, norm: Any) -> None:
    """Part and body in the plane x or y through the nearest place, whichever shows more of the part."""
    from matplotlib.collections import LineCollection

    spot = np.array(cleared.least_at_mm)
    cuts = [_segments(cleared.surface, axis, float(spot[axis])) for axis in (0, 1)]
    across = int(_reach(cuts[1], 0) > _reach(cuts[0], 1))
    along = [1 - across, 2]
    low = float(cleared.surface.vertices[cleared.part, 2].min(initial=np.inf))
    sheet = cuts[across]
    sheet = sheet[sheet[:, :, 2].max(axis=1) >= low]
    body = _segments(cleared.body, across, float(spot[across]))
    left, foot, width, height = _CUT
    axes = plate.figure.add_axes((left / 1600, foot / 1200, width / 1600, height / 1200))
    colours = ramp(norm(_gaps_on(cleared, sheet)))
    axes.add_collection(LineCollection(list(body[:, :, along]), colors=[INK], linewidths=1.2, zorder=2))
    axes.add_collection(LineCollection(list(sheet[:, :, along]), colors=colours, linewidths=4.0, zorder=3))
    axes.plot(*spot[along], zorder=6, **_MARK)
    shown = cleared.surface.vertices[cleared.part]
    (left, bottom), (right, top) = shown[:, along].min(axis=0), shown[:, along].max(axis=0)
    axes.set_xlim(left - 5.0, right + 5.0)
    axes.set_ylim(bottom - 5.0, top + 5.0)
    axes.set_aspect("equal", adjustable="box")
    axes.tick_params(labelsize=11, colors=INK)
    for edge in ("top", "right"):
        axes.spines[edge].set_visible(False)
    plate.words(40, 482, f"Cut at {'xy'[across]} = {spot[across]:.1f} mm, through the nearest place; in mm")


def _segments(mesh: Mesh, axis: int, at_mm: float) -> NDArray[np.float64]:
    """Pieces (N, 2, 3) in which a plane across an axis cuts a mesh."""
    import trimesh

    normal = np.eye(3)[axis]
    body = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    found: NDArray[np.float64] = np.asarray(
        trimesh.intersections.mesh_plane(body, normal, normal * at_mm), np.float64
    )
    return found.reshape(-1, 2, 3)


def _reach(segments: NDArray[np.float64], axis: int) -> float:
    return float(np.ptp(segments[:, :, axis])) if len(segments) else 0.0


def _gaps_on(cleared: Clearance, segments: NDArray[np.float64]) -> NDArray[np.float64]:
    from scipy.spatial import cKDTree

    near = cKDTree(cleared.surface.vertices).query(segments.mean(axis=1))[1]
    gaps: NDArray[np.float64] = cleared.clearance_mm[near]
    return gaps


def _words(plate: Page, cleared: Clearance, named: list[RegionMark], ramp: Any, norm: Any) -> None:
    from matplotlib.cm import ScalarMappable

    column = plate.column
    column.heading("Clearance, less the padding")
    bar = plate.figure.add_axes((1180 / 1600, 780 / 1200, 40 / 1600, 320 / 1200))
    ticks = np.linspace(norm.vmin, norm.vmax, 5).tolist()
    scale = plate.figure.colorbar(ScalarMappable(norm, ramp), cax=bar, ticks=ticks)
    notes = {0: " and less: touches", 4: " and more"}
    scale.ax.set_yticklabels(
        [f"{tick:.3g} mm{notes.get(n, '')}" for n, tick in enumerate(ticks)], fontsize=12.5, color=INK
    )
    column.gap(370)
    column.sample(f"nearest place: {cleared.least_mm:.1f} mm", _MARK)
    column.line(f"Wanted {cleared.wanted_mm:g} mm over {cleared.padding_mm:g} mm of padding.")
    column.line(f"Hatched: touches ({percent(cleared.touch_share)} of the part).")
    column.line(f"Dots: less than wanted ({percent(cleared.short_share)} with those that touch).")
    column.line("In the cut: thin line the body, broad line the part's side towards it.")
    column.gap()
    for mark in named:
        if column.lines_left < 3:
            break
        column.line(mark.words, lead=f"{mark.number}")
