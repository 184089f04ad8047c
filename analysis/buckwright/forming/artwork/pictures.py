"""Pictures of the part: how a printed grid lands on it, and what a printed picture looks like there."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.artwork.carrying import Carried
from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.drawing import png_of
from buckwright.output.canvas.normals import unit_normals
from buckwright.output.canvas.page import Page
from buckwright.output.canvas.palette import INK
from buckwright.output.canvas.shading import shaded
from buckwright.output.canvas.views import TOP, Shot, oblique, take

__all__ = ["draw_grid_landed", "draw_part", "grid_lines"]

_SLANT = oblique("slant", "from the front left", azimuth_deg=-35.0, elevation_deg=40.0)
_ROOMS = ((TOP, (30, 560, 1090, 520)), (_SLANT, (30, 90, 1090, 430)))
_EVERY = 5
_PLAIN = (232, 236, 240)
_FOLDED = (196, 160, 206)


def grid_lines(carried: Carried, axis: int, at_mm: float) -> NDArray[np.float64]:
    """Pieces of a straight line of the flat sheet where they lie on the part, (M, 2, 3), mm.

    Parameters
    ----------
    carried : flat and formed sheet
    axis : 0 for a line of equal x, 1 for one of equal y
    at_mm : where it runs, from the middle of the opening
    """
    # a line through nodes would touch triangles on both sides
    side = carried.flat[:, axis] - at_mm - 1e-7
    above = (side > 0.0)[carried.triangles]
    hit = above.any(axis=1) & ~above.all(axis=1)
    faces, above = carried.triangles[hit], above[hit]
    crossed = above != np.roll(above, -1, axis=1)  # exactly two edges of three
    a, b = faces[crossed], np.roll(faces, -1, axis=1)[crossed]
    share = (side[a] / (side[a] - side[b]))[:, None]
    return np.asarray(carried.formed[a] * (1.0 - share) + carried.formed[b] * share).reshape(-1, 2, 3)


def draw_grid_landed(title: str, carried: Carried, *, grid_mm: float, facts: tuple[str, ...]) -> bytes:
    """How a grid on the flat sheet comes to lie on the part.

    Parameters
    ----------
    title : of the job
    carried : flat and formed sheet
    grid_mm : distance of the grid's lines
    facts : short lines for the column

    Returns
    -------
    bytes : PNG
    """
    plate = Page(title, f"A grid of {grid_mm:g} mm on the flat sheet, and where it lands")
    mesh = Mesh(carried.formed, carried.triangles)
    colours = np.where(carried.folded[:, None], _FOLDED, _PLAIN).astype(np.uint8)
    for view, room in _ROOMS:
        shot = take(mesh, view, width=room[2] - 20, height=room[3] - 20)
        axes = plate.show(shot, shaded(shot, unit_normals(mesh), colours, strength=0.5), room=room)
        for axis in (0, 1):
            most = int(carried.opening_mm[axis] / 2.0 / grid_mm)
            for n in range(-most, most + 1):
                _draw_line(axes, shot, grid_lines(carried, axis, n * grid_mm), heavy=n % _EVERY == 0)
    _tell(plate, carried, "Where the grid lands", facts)
    return png_of(plate)


def _draw_line(axes: Any, shot: Shot, pieces: NDArray[np.float64], *, heavy: bool) -> None:
    from matplotlib.collections import LineCollection

    seen = shot.is_seen(pieces.mean(axis=1), slack_mm=4.0 * shot.pixel_mm)
    ends = shot.project(pieces[seen].reshape(-1, 3))[:, :2].reshape(-1, 2, 2)
    axes.add_collection(
        LineCollection(list(ends), colors=[INK], linewidths=1.6 if heavy else 0.6, zorder=4), autolim=False
    )


def draw_part(title: str, carried: Carried, pixels: NDArray[np.uint8], *, facts: tuple[str, ...]) -> bytes:
    """What the part looks like once the printed sheet is formed.

    Parameters
    ----------
    title : of the job
    carried : flat and formed sheet
    pixels : (rows, columns, 4) uint8, the print on the whole opening, seen from above
    facts : short lines for the column

    Returns
    -------
    bytes : PNG
    """
    plate = Page(title, "The printed sheet on the part, as forecast")
    mesh = Mesh(carried.formed, carried.triangles)
    plain = np.full((mesh.face_count, 3), 255, np.uint8)
    for view, room in _ROOMS:
        shot = take(mesh, view, width=room[2] - 20, height=room[3] - 20)
        lit = shaded(shot, unit_normals(mesh), plain, strength=0.6)
        plate.show(shot, _printed(shot, lit, carried, pixels), room=room)
    _tell(plate, carried, "Picture on the part", facts)
    return png_of(plate)


def _printed(
    shot: Shot, lit: NDArray[np.uint8], carried: Carried, pixels: NDArray[np.uint8]
) -> NDArray[np.uint8]:
    """The print over the shaded part, pixel by pixel."""
    rows, columns = np.nonzero(shot.face_at_pixel >= 0)
    corners = carried.triangles[shot.face_at_pixel[rows, columns]]
    spots = shot.low + (np.column_stack([columns, rows]) + 0.25) * shot.pixel_mm
    seen = shot.project(carried.formed)[:, :2]
    a, b, c = (seen[corners[:, k]] for k in range(3))
    double = _cross(b - a, c - a)
    double[double == 0.0] = 1.0
    s, t = _cross(spots - a, c - a) / double, _cross(b - a, spots - a) / double
    weights = np.column_stack([1.0 - s - t, s, t])
    flat = (carried.flat[corners] * weights[..., None]).sum(axis=1)
    size = np.array(pixels.shape[1::-1])
    places = ((flat * [1.0, -1.0] / carried.opening_mm + 0.5) * size).astype(np.int64)
    column, row = np.clip(places, 0, size - 1).T
    ink = pixels[row, column].astype(np.float64)
    cover = ink[:, 3:] / 255.0
    result = lit.copy()
    under = result[rows, columns].astype(np.float64)
    result[rows, columns] = np.round(under * (1.0 - cover + cover * ink[:, :3] / 255.0))
    return result


def _cross(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def _tell(plate: Page, carried: Carried, heading: str, facts: tuple[str, ...]) -> None:
    plate.column.heading(heading)
    for fact in facts:
        plate.column.line(fact)
    if carried.folded.any() and heading.startswith("Where"):
        plate.column.gap()
        plate.column.line("Mauve: near folds. Where the print lands there is not known.")
