"""Pictures of the sculpt as surveyed: coloured by state, seen down the pull and from two sides."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from buckwright.findings import counted
from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.drawing import directions, drawn, explain_vents, size_words
from buckwright.output.canvas.marks import (
    TRIM_STYLE,
    RegionMark,
    VentMark,
    draw_labels,
    draw_level,
    draw_trim,
    draw_vents,
    trim_outline,
)
from buckwright.output.canvas.normals import normals_and_areas, unit_normals
from buckwright.output.canvas.page import ROOM, Page
from buckwright.output.canvas.palette import (
    BASE,
    FREE,
    INK,
    STATE_COLOURS,
    STATE_WORDS,
    TIGHT,
    TRAPPED,
    state_rgb,
)
from buckwright.output.canvas.shading import hatched, outlined, patterned, shaded
from buckwright.output.canvas.views import FRONT, RIGHT, TOP, Shot, View, oblique, take
from buckwright.relief.raster import relief_of
from buckwright.survey.face_maps import FaceMaps

__all__ = ["LookScene", "draw_draft", "draw_look", "swatch"]

_MOST_REGIONS = 12
_SWATCH = (21, 40)
_DRAFT_VIEWS = (
    oblique("front_left", "from the front left", azimuth_deg=-35.0, elevation_deg=35.0),
    oblique("back_right", "from the back right", azimuth_deg=145.0, elevation_deg=35.0),
)


@dataclass(frozen=True, slots=True, eq=False)
class LookScene:
    """What the pictures of a sculpt show.

    Attributes
    ----------
    title : the job's name, any script
    mesh : the sculpt in the pull frame, mm
    maps : survey results per face of `mesh`
    wanted_draft_deg : degrees, > 0
    regions : trapped regions, worst first; the first twelve are labelled
    vents : as planned where they open in the sculpt; empty if none do
    trim_z_mm : height of the trim line, or None
    faces : how many are told; None for those of `mesh`
    foot_vents : how many more open round its foot, in what the buck adds
    """

    title: str
    mesh: Mesh
    maps: FaceMaps
    wanted_draft_deg: float
    regions: tuple[RegionMark, ...] = ()
    vents: tuple[VentMark, ...] = ()
    trim_z_mm: float | None = None
    faces: int | None = None
    foot_vents: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class _Prepared:
    """What all views need, computed once."""

    normals: NDArray[np.float64]
    shares: NDArray[np.float64]
    outlines: list[NDArray[np.float64]]


def _prepared(scene: LookScene) -> _Prepared:
    normals, areas = normals_and_areas(scene.mesh)
    sums = np.bincount(scene.maps.state, areas, minlength=4).astype(np.float64)
    shares = sums / max(float(sums[:BASE].sum()), 1e-12)
    outlines = [] if scene.trim_z_mm is None else trim_outline(scene.mesh, scene.trim_z_mm)
    return _Prepared(normals, shares, outlines)


def draw_look(scene: LookScene, *, tick: Callable[[float], None] | None = None) -> dict[str, bytes]:
    """Draw a sculpt by what is free, tight and trapped.

    Parameters
    ----------
    scene : what to show
    tick : called with 0..1 after each picture; may raise to stop

    Returns
    -------
    PNG bytes (1120 x 840) by file name: look_top.png, look_front.png, look_right.png.
    """
    ready = _prepared(scene)
    makers: dict[str, Callable[[], Page]] = {
        f"look_{view.name}.png": partial(_state_plate, scene, view, ready) for view in (TOP, FRONT, RIGHT)
    }
    return drawn(makers, tick=tick)


def draw_draft(scene: LookScene) -> dict[str, bytes]:
    """Draw the draft of a sculpt as a ramp of colours, without any marks.

    Parameters
    ----------
    scene : what to show; title, mesh, maps and wanted draft count

    Returns
    -------
    PNG bytes (1120 x 840) by file name: look_draft.png.
    """
    return drawn({"look_draft.png": partial(_draft_plate, scene, unit_normals(scene.mesh))}, tick=None)


def _state_plate(scene: LookScene, view: View, ready: _Prepared) -> Page:
    """One view coloured by state, with its marks and its text column."""
    plate = Page(scene.title, f"The sculpt {view.words} \u00b7 {size_words(scene.mesh, scene.faces)}")
    shot = take(scene.mesh, view, width=ROOM[2] - 80, height=ROOM[3] - 40)
    pixels, hidden = _state_pixels(scene, shot, ready.normals)
    axes = plate.show(shot, pixels)
    if scene.trim_z_mm is not None and view is not TOP:
        draw_level(axes, shot, scene.trim_z_mm)
    else:
        draw_trim(axes, shot, ready.outlines)
    hidden_vents = draw_vents(axes, shot, scene.vents, numbered=False)
    named = scene.regions[:_MOST_REGIONS]
    centres = np.array([region.centre_mm for region in named], np.float64).reshape(-1, 3)
    draw_labels(axes, shot, centres, [region.number for region in named])
    _state_words(plate, scene, ready.shares, hidden=hidden)
    _mark_words(plate, scene, hidden_vents=hidden_vents)
    _region_words(plate, scene)
    directions(plate, view)
    return plate


def _state_pixels(
    scene: LookScene, shot: Shot, normals: NDArray[np.float64]
) -> tuple[NDArray[np.uint8], bool]:
    """Coloured pixels, and whether anything trapped is hidden below what is seen down the pull."""
    pixels = shaded(shot, normals, state_rgb(scene.maps.state))
    face = shot.face_at_pixel
    state = np.append(scene.maps.state, np.uint8(BASE))[face]
    region = np.append(scene.maps.region, np.int32(-1))[face]
    pixels = patterned(pixels, state)
    if shot.view is not TOP:
        return outlined(pixels, region), False
    trapped = scene.maps.state == TRAPPED
    if not trapped.any():
        return pixels, False
    below = _footprint(scene.mesh.submesh(trapped), shot) & (state != TRAPPED) & (face >= 0)
    return outlined(hatched(pixels, below), np.where(below, 0, region)), bool(below.any())


def _footprint(mesh: Mesh, shot: Shot) -> NDArray[np.bool_]:
    """Pixels of a shot down the pull that have part of the mesh below them, whatever stands above."""
    rows, columns = shot.depth.shape
    corner = shot.low + np.array([columns, rows]) * shot.pixel_mm
    there = relief_of(mesh, pixel_mm=shot.pixel_mm, bounds_xy=np.stack([shot.low, corner])).face >= 0
    return there[:rows, :columns]


def _state_words(plate: Page, scene: LookScene, shares: NDArray[np.float64], *, hidden: bool) -> None:
    """The legend of the colours, with numbers."""
    column = plate.column
    wanted = scene.wanted_draft_deg
    column.heading("How the sheet comes off")
    meanings = {
        FREE: f"{wanted:g}\u00b0 of draft or more",
        TIGHT: f"0\u00b0 to {wanted:g}\u00b0 of draft",
        TRAPPED: "cannot come straight off",
    }
    for state in (FREE, TIGHT, TRAPPED):
        name = f"{STATE_WORDS[state]}: {100 * shares[state]:.1f} % of the area"
        column.swatch(swatch(state), name, meanings[state])
    if shares[BASE] > 0.0:
        column.swatch(swatch(BASE), STATE_WORDS[BASE], "underside, not judged")
    if hidden:
        column.swatch(_hidden_swatch(), "trapped below", "hidden below the visible surface")


def _mark_words(plate: Page, scene: LookScene, *, hidden_vents: int) -> None:
    column = plate.column
    if scene.trim_z_mm is not None:
        column.sample(f"trim line, {scene.trim_z_mm:.1f} mm above the platen", TRIM_STYLE)
    explain_vents(plate, scene.vents, hidden=hidden_vents)
    if scene.foot_vents:
        column.line(f"{counted(scene.foot_vents, 'vent')} round the foot of the buck, not shown here")


def _region_words(plate: Page, scene: LookScene) -> None:
    """A line for each numbered region, as far as the column has room."""
    column = plate.column
    column.gap()
    count = len(scene.regions)
    if not count:
        column.heading("No trapped regions")
        return
    column.heading(f"{count} trapped region{'s' if count > 1 else ''}, worst first")
    column.line("Round number: seen here. Square: hidden.")
    shown = 0
    for region in scene.regions[:_MOST_REGIONS]:
        if column.lines_left < 4:
            break
        column.line(region.words, lead=f"{region.number}")
        shown += 1
    if count > shown:
        column.line(f"and {count - shown} more in report.json")


def swatch(state: int) -> NDArray[np.uint8]:
    """A patch of the legend in a state's colour and pattern.

    Parameters
    ----------
    state : 0 free, 1 tight, 2 trapped, 3 base

    Returns
    -------
    (21, 40, 3) uint8, RGB
    """
    plain = np.tile(np.round(np.array(STATE_COLOURS[state]) * 255).astype(np.uint8), (*_SWATCH, 1))
    return patterned(plain, np.full(_SWATCH, state))


def _hidden_swatch() -> NDArray[np.uint8]:
    return hatched(swatch(FREE), np.ones(_SWATCH, bool))


def _draft_plate(scene: LookScene, normals: NDArray[np.float64]) -> Page:
    """Two oblique views coloured by draft angle, on a ramp of even lightness steps."""
    from matplotlib import colormaps
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize

    plate = Page(scene.title, f"Draft angle of the sculpt \u00b7 {size_words(scene.mesh, scene.faces)}")
    wanted = scene.wanted_draft_deg
    ramp, norm = colormaps["cividis"], Normalize(-2 * wanted, 8 * wanted)
    colours = np.asarray(ramp(norm(scene.maps.draft_deg), bytes=True))[:, :3]
    for index, view in enumerate(_DRAFT_VIEWS):
        shot = take(scene.mesh, view, width=1080, height=430)
        plate.show(
            shot, shaded(shot, normals, colours, strength=0.45), room=(30, 640 - 540 * index, 1090, 440)
        )
        plate.words(760, 586 - 540 * index, view.words)
    column = plate.column
    column.heading("Draft: how far a wall leans back from the pull")
    bar = plate.figure.add_axes((1180 / 1600, 520 / 1200, 40 / 1600, 480 / 1200))
    ticks = [-2 * wanted, 0.0, wanted, 2 * wanted, 4 * wanted, 6 * wanted, 8 * wanted]
    scale = plate.figure.colorbar(ScalarMappable(norm, ramp), cax=bar, extend="both", ticks=ticks)
    notes = {ticks[0]: "and less: leans under", 0.0: "straight up", wanted: "wanted", ticks[-1]: "and more"}
    scale.ax.set_yticklabels(
        [f"{t:g}\u00b0 {notes.get(t, '')}".rstrip() for t in ticks], fontsize=12.5, color=INK
    )
    return plate
