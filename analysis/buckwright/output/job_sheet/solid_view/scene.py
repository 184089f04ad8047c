"""What the 3-D view of the job sheet shows, packed for a browser: quantised, and not finer than a screen."""

import base64
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import igl
import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from buckwright.mesh.manifolds import from_manifold, to_manifold
from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.palette import ORIGIN_COLOURS

__all__ = ["FormedShape", "SolidScene", "lighter", "lighter_scene", "lighter_sheet", "packed"]

MOST_FACES = 100_000
"""So many triangles weigh 2 MB in the page and turn smoothly on a phone: judgement."""
_FIRST_MM = 0.02
_MOST_MM = 1.0
_STEPS = 65_535
_POINT_MM = 0.5  # corners of a line nearer to one another than this are left out
_TICKS = 6


@dataclass(frozen=True, slots=True, eq=False)
class FormedShape:
    """The formed sheet.

    Attributes
    ----------
    mesh : its triangles in the buck's frame, mm
    thickness_mm : (V,) at its vertices
    order : (V,) when each lands, 0 first .. 1 last; nan where it never does
    blank_mm : thickness before forming
    part : (F,) bool, triangles that are not trimmed off
    """

    mesh: Mesh
    thickness_mm: NDArray[np.float64]
    order: NDArray[np.float64]
    blank_mm: float
    part: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class SolidScene:
    """What can be turned.

    Attributes
    ----------
    buck : in the pull frame, mm, standing on z = 0
    vents : (N, 4), place and width of each, mm
    lines : trim line, (N, 3) each, mm
    sheet : the formed sheet; None without a forecast
    """

    buck: Mesh
    vents: NDArray[np.float64]
    lines: Sequence[NDArray[np.float64]] = ()
    sheet: FormedShape | None = None

    @property
    def triangles(self) -> int:
        """Of buck and sheet."""
        return self.buck.face_count + (0 if self.sheet is None else self.sheet.mesh.face_count)


def lighter_scene(scene: SolidScene, *, most: int = MOST_FACES) -> SolidScene:
    """A scene whose bodies have no more triangles than is wanted, for the eye only.

    Parameters
    ----------
    scene : what can be turned
    most : triangles of buck and of sheet

    Returns
    -------
    SolidScene
    """
    sheet = None if scene.sheet is None else lighter_sheet(scene.sheet, most=most)
    return SolidScene(lighter(scene.buck, most=most), scene.vents, scene.lines, sheet)


def lighter(mesh: Mesh, *, most: int = MOST_FACES) -> Mesh:
    """A mesh with fewer triangles, for the eye only.

    Parameters
    ----------
    mesh : mm
    most : triangles that are wanted

    Returns
    -------
    Mesh : a solid stays one, no corner off by more than 1 mm, where that suffices; else corners are drawn
        together in ever larger cells
    """
    if mesh.face_count <= most:
        return mesh
    solid = to_manifold(mesh)
    found = mesh if solid is None else from_manifold(_simplified(solid, most))
    by = _MOST_MM
    while found.face_count > most:
        found = _clustered(mesh, by)
        by *= 1.5
    return found


def _clustered(mesh: Mesh, by_mm: float) -> Mesh:
    """The corners of each cell of a grid drawn together at their middle."""
    cells = np.floor((mesh.vertices - mesh.vertices.min(axis=0)) / by_mm).astype(np.int64)
    which, count = np.unique(cells, axis=0, return_inverse=True, return_counts=True)[1:]
    which = which.ravel()
    middles = np.zeros((len(count), 3))
    np.add.at(middles, which, mesh.vertices)
    faces = which[mesh.faces]
    flat = (faces == np.roll(faces, 1, axis=1)).any(axis=1)
    return Mesh(middles / count[:, None], np.ascontiguousarray(faces[~flat], np.int32))


def _simplified(solid: Manifold, most: int) -> Manifold:
    by = _FIRST_MM * max(solid.num_tri() / most, 1.0)
    while solid.num_tri() > most and by <= _MOST_MM:
        solid = solid.simplify(by)
        by *= 2.0
    return solid


def lighter_sheet(sheet: FormedShape, *, most: int = MOST_FACES) -> FormedShape:
    """A sheet with fewer triangles, for the eye only.

    Parameters
    ----------
    sheet : as forecast
    most : triangles that are wanted

    Returns
    -------
    FormedShape : the shortest edges are drawn together first; values are those of a node that was there
    """
    if sheet.mesh.face_count <= most:
        return sheet
    points = np.asfortranarray(sheet.mesh.vertices, dtype=np.float64)
    faces = np.asfortranarray(sheet.mesh.faces, dtype=np.int32)
    vertices, corners, face, vertex = igl.decimate(points, faces, most)
    return FormedShape(
        Mesh(np.ascontiguousarray(vertices), np.ascontiguousarray(corners, np.int32)),
        sheet.thickness_mm[vertex],
        sheet.order[vertex],
        sheet.blank_mm,
        sheet.part[face],
    )


def packed(scene: SolidScene) -> str:
    """The scene as JSON that may stand inside a script element.

    Parameters
    ----------
    scene : see `SolidScene`

    Returns
    -------
    str : places are true to 1/65535 of the longest side of everything that is shown
    """
    shown = scene.buck.vertices
    if scene.sheet is not None:
        shown = np.concatenate([shown, scene.sheet.mesh.vertices])
    low, high = shown.min(axis=0), shown.max(axis=0)
    step = max(float((high - low).max()), 1e-6) / _STEPS
    ends = scene.buck.bounds
    told: dict[str, Any] = {
        "box_mm": {"low": low.tolist(), "step": step},
        "middle_mm": _short(ends.mean(axis=0)),
        "radius_mm": float(np.linalg.norm(np.ptp(ends, axis=0)) / 2.0),
        "buck": _body(scene.buck, low, step),
        "vents": [_short(vent) for vent in scene.vents],
        "lines": [[_short(point) for point in _thinned(line)] for line in scene.lines],
        "states": [_buck_state(scene)],
    }
    if scene.sheet is not None:
        order = np.argsort(~scene.sheet.part, kind="stable")
        sheet = Mesh(scene.sheet.mesh.vertices, scene.sheet.mesh.faces[order])
        told["sheet"] = _body(sheet, low, step) | {"part": int(scene.sheet.part.sum())}
        told["states"] += _sheet_states(scene.sheet)
    return json.dumps(told, separators=(",", ":")).replace("<", "\\u003c")


def _short(values: NDArray[np.float64]) -> list[float]:
    return [round(float(value), 2) for value in values]


def _thinned(line: NDArray[np.float64]) -> NDArray[np.float64]:
    """The line without corners that crowd."""
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    first = np.unique((way / _POINT_MM).astype(np.int64), return_index=True)[1]
    kept: NDArray[np.float64] = line[np.union1d(first, [len(line) - 1])]
    return kept


def _coded(values: NDArray[Any]) -> str:
    return base64.b64encode(np.ascontiguousarray(values).tobytes()).decode("ascii")


def _body(mesh: Mesh, low: NDArray[np.float64], step: float) -> dict[str, str]:
    places = np.clip(np.rint((mesh.vertices - low) / step), 0, _STEPS).astype("<u2")
    return {"points": _coded(places), "faces": _coded(mesh.faces.astype("<u4"))}


def _buck_state(scene: SolidScene) -> dict[str, Any]:
    count = len(scene.vents)
    vents = f"{count} vents as dark dots, drawn larger than they are; " if count else ""
    return {
        "name": "buck",
        "label": "Buck",
        "words": f"The buck in 3-D: {vents}the trim line is dashed",
        "scale": [],
    }


def _sheet_states(sheet: FormedShape) -> list[dict[str, Any]]:
    return [_plain_state(), _thickness_state(sheet), _order_state(sheet)]


def _plain_state() -> dict[str, Any]:
    colour = np.round(np.array(ORIGIN_COLOURS[1]) * 255).astype(np.uint8)
    return {
        "name": "part",
        "label": "Formed part",
        "words": "The formed part in 3-D; what is trimmed off is pale",
        "colour": _hex(colour),
        "scale": [],
    }


def _thickness_state(sheet: FormedShape) -> dict[str, Any]:
    low = float(np.percentile(sheet.thickness_mm, 1.0))
    ends = (min(low, 0.9 * sheet.blank_mm), sheet.blank_mm)
    ticks = np.linspace(*ends, _TICKS)
    return {
        "name": "thickness",
        "label": "Thickness",
        "words": f"Thickness of the formed sheet in 3-D, {ends[0]:.2f} mm dark to {ends[1]:.2f} mm light",
        "colours": _coded(_ramp(sheet.thickness_mm, ends)),
        "scale": [[_hex(one), f"{t:.2f} mm"] for t, one in zip(ticks, _ramp(ticks, ends))],
    }


def _order_state(sheet: FormedShape) -> dict[str, Any]:
    never, ends = np.isnan(sheet.order), (0.0, 1.0)
    colours = _ramp(np.where(never, 1.0, sheet.order), ends)
    colours[never] = 255
    places = np.array([0.0, 0.5, 1.0])
    scale = [[_hex(one), words] for one, words in zip(_ramp(places, ends), ("first", "half of it", "last"))]
    if never.any():
        scale.append(["#ffffff", "does not touch"])
    return {
        "name": "order",
        "label": "Order of contact",
        "words": "Order in which the sheet touches the buck in 3-D: first dark, last light",
        "colours": _coded(colours),
        "scale": scale,
    }


def _ramp(values: NDArray[np.float64], ends: tuple[float, float]) -> NDArray[np.uint8]:
    """Colours of the pictures' ramp, (N, 3)."""
    from matplotlib import colormaps
    from matplotlib.colors import Normalize

    return np.asarray(colormaps["cividis"](Normalize(*ends)(values), bytes=True))[:, :3].copy()


def _hex(colour: NDArray[np.uint8]) -> str:
    return f"#{bytes(colour.tolist()).hex()}"
