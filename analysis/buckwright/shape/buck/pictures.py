"""Pictures of the finished buck: obliquely, down the pull, from the front and from below."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.drawing import directions, drawn, explain_vents, size_words
from buckwright.output.canvas.marks import (
    TRIM_STYLE,
    VentMark,
    draw_level,
    draw_trim,
    draw_vents,
    trim_outline,
)
from buckwright.output.canvas.normals import unit_normals
from buckwright.output.canvas.page import ROOM, Page
from buckwright.output.canvas.palette import CUT, ORIGIN_COLOURS
from buckwright.output.canvas.shading import dotted, shaded
from buckwright.output.canvas.views import FRONT, TOP, UNDERSIDE, Shot, View, oblique, take

__all__ = ["BASE_PART", "FILL_PART", "SCULPT_PART", "BuckScene", "draw_buck"]

SCULPT_PART, FILL_PART, BASE_PART = range(3)
"""Where a face of the buck comes from."""

_SLANT = oblique("slant", "from the front left", azimuth_deg=-32.0, elevation_deg=38.0)
_SWATCH = (21, 40)
_CUT_MM = 0.15  # what lies this far above the platen, seen from below, is cut into the underside


@dataclass(frozen=True, slots=True, eq=False)
class BuckScene:
    """What the pictures of a buck show.

    Attributes
    ----------
    title : the job's name, any script
    mesh : the buck in the pull frame, mm, standing on z = 0
    part : (F,) uint8; 0 the sculpt's own face, 1 draft fill, 2 base (or anything else that was added)
    vents : numbered as in report.json
    trim_z_mm : height of the trim line, or None
    trim : outlines (M, 2) each of the trim line; None takes all where the buck is cut at its height
    facts : short lines for the column, for example 'Filled: 12.4 cm3'
    faces : how many are told; None for those of `mesh`

    Raises
    ------
    ValueError
        `part` does not fit `mesh`.
    """

    title: str
    mesh: Mesh
    part: NDArray[np.uint8]
    vents: tuple[VentMark, ...] = ()
    trim_z_mm: float | None = None
    trim: tuple[NDArray[np.float64], ...] | None = None
    facts: tuple[str, ...] = ()
    faces: int | None = None

    def __post_init__(self) -> None:
        """Refuse parts that do not belong to the mesh."""
        if np.shape(self.part) != (self.mesh.face_count,):
            raise ValueError(f"part must have the shape ({self.mesh.face_count},), got {np.shape(self.part)}")


def draw_buck(scene: BuckScene, *, tick: Callable[[float], None] | None = None) -> dict[str, bytes]:
    """Draw every picture of a buck.

    Parameters
    ----------
    scene : what to show
    tick : called with 0..1 after each picture; may raise to stop

    Returns
    -------
    PNG bytes (1120 x 840) by file name: buck_slant.png, buck_top.png, buck_front.png, buck_underside.png.
    """
    normals = unit_normals(scene.mesh)
    outlines = _trim_lines(scene)
    makers: dict[str, Callable[[], Page]] = {
        f"buck_{view.name}.png": partial(_outside_plate, scene, view, normals, outlines)
        for view in (_SLANT, TOP, FRONT)
    }
    makers["buck_underside.png"] = partial(_underside_plate, scene, normals)
    return drawn(makers, tick=tick)


def _trim_lines(scene: BuckScene) -> list[NDArray[np.float64]]:
    if scene.trim_z_mm is None:
        return []
    if scene.trim is None:
        return trim_outline(scene.mesh, scene.trim_z_mm)
    closed = [np.vstack([ring, ring[:1]]) for ring in scene.trim]
    return [np.column_stack([ring, np.full(len(ring), scene.trim_z_mm)]) for ring in closed]


def _outside_plate(
    scene: BuckScene, view: View, normals: NDArray[np.float64], outlines: list[NDArray[np.float64]]
) -> Page:
    """A view from above or the side, tinted by where each face comes from."""
    plate = Page(scene.title, f"The buck, {view.words} \u00b7 {size_words(scene.mesh, scene.faces)}")
    shot = take(scene.mesh, view, width=ROOM[2] - 80, height=ROOM[3] - 40)
    colours = np.round(np.array(ORIGIN_COLOURS) * 255).astype(np.uint8)[scene.part]
    part = np.append(scene.part, np.uint8(BASE_PART))[shot.face_at_pixel]
    axes = plate.show(shot, dotted(shaded(shot, normals, colours), part == FILL_PART))
    if scene.trim_z_mm is not None and view is FRONT:
        draw_level(axes, shot, scene.trim_z_mm)
    else:
        draw_trim(axes, shot, outlines)
    hidden = draw_vents(axes, shot, scene.vents, numbered=True)
    _outside_words(plate, scene, hidden=hidden)
    if view is not _SLANT:
        directions(plate, view)
    return plate


def _outside_words(plate: Page, scene: BuckScene, *, hidden: int) -> None:
    column = plate.column
    column.heading("What the buck is made of")
    column.swatch(_patch(SCULPT_PART), "sculpt", "its own faces, unmoved")
    if (scene.part == FILL_PART).any():
        column.swatch(_patch(FILL_PART), "draft fill", "added so that the part releases")
    column.swatch(_patch(BASE_PART), "base", "riser, flange, underside")
    _vents_and_facts(plate, scene, hidden=hidden)


def _vents_and_facts(plate: Page, scene: BuckScene, *, hidden: int) -> None:
    column = plate.column
    if scene.trim_z_mm is not None:
        column.sample(f"trim line, {scene.trim_z_mm:.1f} mm above the platen", TRIM_STYLE)
    explain_vents(plate, scene.vents, hidden=hidden)
    column.gap()
    for index, fact in enumerate(scene.facts):
        if column.lines_left < 3:
            column.line(f"and {len(scene.facts) - index} more lines in report.json")
            break
        column.line(fact)


def _underside_plate(scene: BuckScene, normals: NDArray[np.float64]) -> Page:
    """The view from below; what is cut into the underside is darkened, so that it shows in grey as well."""
    plate = Page(scene.title, f"The buck, seen from below \u00b7 {size_words(scene.mesh, scene.faces)}")
    shot = take(scene.mesh, UNDERSIDE, width=ROOM[2] - 80, height=ROOM[3] - 40)
    plain = np.tile(
        np.round(np.array(ORIGIN_COLOURS[BASE_PART]) * 255).astype(np.uint8), (scene.mesh.face_count, 1)
    )
    pixels, greatest_mm = _cut_tinted(
        shot, shaded(shot, normals, plain), lowest_mm=float(scene.mesh.bounds[0, 2])
    )
    axes = plate.show(shot, pixels)
    draw_vents(axes, shot, scene.vents, numbered=True, hideable=False)
    column = plate.column
    column.heading("The underside")
    column.swatch(_patch(BASE_PART), "flat", "stands on the platen")
    if greatest_mm > 0.0:
        words = f"channels, back-bores, holes, engraving; up to {greatest_mm:.1f} mm deep as seen here"
        column.swatch(_tinted_patch(), "cut in", words)
    explain_vents(plate, scene.vents, hidden=0)
    directions(plate, UNDERSIDE)
    return plate


def _cut_tinted(
    shot: Shot, pixels: NDArray[np.uint8], *, lowest_mm: float
) -> tuple[NDArray[np.uint8], float]:
    """Darken what lies above the platen; also the greatest such height that is seen, mm."""
    height = -shot.depth - lowest_mm
    cut = np.isfinite(height) & (height > _CUT_MM)
    result = pixels.copy()
    result[cut] = _tinted(pixels[cut])
    return result, float(height[cut].max()) if cut.any() else 0.0


def _tinted(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    mixed: NDArray[np.uint8] = (pixels * np.array(CUT)).astype(np.uint8)
    return mixed


def _patch(part: int) -> NDArray[np.uint8]:
    plain = np.tile(np.round(np.array(ORIGIN_COLOURS[part]) * 255).astype(np.uint8), (*_SWATCH, 1))
    return dotted(plain, np.full(_SWATCH, part == FILL_PART))


def _tinted_patch() -> NDArray[np.uint8]:
    return _tinted(_patch(BASE_PART))
