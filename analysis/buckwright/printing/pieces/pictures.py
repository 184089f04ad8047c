"""The glue-up drawing: the pieces pulled apart, with their letters."""

from collections.abc import Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from buckwright.findings import counted
from buckwright.mesh.manifolds import from_manifold
from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.drawing import directions, drawn
from buckwright.output.canvas.marks import place_words
from buckwright.output.canvas.normals import unit_normals
from buckwright.output.canvas.page import ROOM, Page
from buckwright.output.canvas.shading import shaded
from buckwright.output.canvas.views import TOP, View, oblique, take
from buckwright.printing.pieces.planning import Pieces

__all__ = ["draw_pieces"]

_APART = 0.15
"""How far the pieces are pulled apart, as a share of their distance from the middle."""
_SLANT = oblique("slant", "from the front left", azimuth_deg=-32.0, elevation_deg=38.0)
_LIGHT = np.array([(222, 214, 196), (188, 200, 210), (205, 190, 205)], np.uint8)
_MOST_LINES = 12


def draw_pieces(pieces: Pieces, *, title: str) -> dict[str, bytes]:
    """Draw the pieces from above and obliquely, pulled apart.

    Parameters
    ----------
    pieces : a buck that was split
    title : the job's name

    Returns
    -------
    PNG bytes by file name
    """
    bodies = [from_manifold(piece.solid) for piece in pieces.pieces]
    middles = np.array([body.bounds.mean(axis=0) for body in bodies])
    shifts = (middles - middles.mean(axis=0)) * 2.0 * _APART
    apart = [Mesh(body.vertices + shift, body.faces) for body, shift in zip(bodies, shifts)]
    whole = _together(apart)
    piece = np.repeat(np.arange(len(apart)), [body.face_count for body in apart])
    normals = unit_normals(whole)
    makers = {
        f"pieces_{view.name}.png": partial(
            _plate, pieces, title, view, whole, normals, piece, middles + shifts
        )
        for view in (TOP, _SLANT)
    }
    return drawn(makers, tick=None)


def _plate(
    pieces: Pieces,
    title: str,
    view: View,
    whole: Mesh,
    normals: NDArray[np.float64],
    piece: NDArray[np.int64],
    middles: NDArray[np.float64],
) -> Page:
    plate = Page(title, f"The pieces to print, pulled apart, {view.words}")
    shot = take(whole, view, width=ROOM[2] - 80, height=ROOM[3] - 40)
    axes = plate.show(shot, shaded(shot, normals, _LIGHT[piece % len(_LIGHT)]))
    for one, spot in zip(pieces.pieces, shot.project(middles)):
        place_words(axes, spot[:2], one.name, size=22, weight="bold", ha="center", va="center")
    _words(plate, pieces)
    if view is TOP:
        directions(plate, view)
    return plate


def _words(plate: Page, pieces: Pieces) -> None:
    column = plate.column
    column.heading("Pieces")
    for one in pieces.pieces[:_MOST_LINES]:
        wide, deep, tall = one.size_mm
        number = one.place.plate + 1 if one.place is not None else 1
        column.line(f"{one.name}: plate {number}, {wide:.0f} x {deep:.0f} x {tall:.0f} mm")
    if len(pieces.pieces) > _MOST_LINES:
        column.line(f"and {len(pieces.pieces) - _MOST_LINES} more in report.json")
    column.gap()
    column.heading("Joints")
    column.line("Letters are engraved underneath.")
    for width, count in pin_counts(pieces):
        column.line(f"{counted(count, 'pin')} for holes of {width:g} mm")
    column.line("Two pins of different width: a joint fits one way only.")


def pin_counts(pieces: Pieces) -> Sequence[tuple[float, int]]:
    """Width of hole and how many pins, the widest first."""
    widths = [pin.hole_mm for joint in pieces.joints for pin in joint.pins]
    return [(width, widths.count(width)) for width in sorted(set(widths), reverse=True)]


def _together(bodies: list[Mesh]) -> Mesh:
    first = np.cumsum([0, *(body.vertex_count for body in bodies[:-1])])
    faces = [body.faces + np.int32(start) for body, start in zip(bodies, first)]
    return Mesh(np.concatenate([body.vertices for body in bodies]), np.concatenate(faces))
