"""Places that the view is taken to: a trapped region, a place of the forecast sheet, that of a finding."""

from dataclasses import dataclass, field
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix
from numpy.typing import NDArray

from ..bridge.units import mm_per_unit
from ..scene import forecast_markers, results
from ..scene.placement import Placement
from . import overlay
from .mesh_faces import Faces, face_values, read_faces
from .overlay_lines import outlines

__all__ = ["Place", "of_finding", "of_region", "of_spot", "samples"]

type Array = NDArray[np.float64]

_SAMPLES, _ALONG = 64, 9
_REGION_ROOM_MM = 5.0
_FINDING_ROOM_MM = 16.0
_SLACK = 0.02
"""How far before a point of a region a line of sight may end and still reach it, as a share of its size."""
_SLACK_MM = 1.5
"""The same for places that lie near a surface but not on it: those of the sheet, those of findings."""


_EVEN = 0.7548776662466927
"""Root of x³ + x² = 1: multiples of it and of its square fill a square evenly (Roberts 2018, from memory)."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Place:
    """A place in the world, in Blender units.

    Attributes
    ----------
    words : its name
    points, normals : (N, 3) of it, each point for an equal share; a normal of 0 where none is known
    centre : (3,) its middle
    size : diameter of what is to be seen, > 0
    slack : how far before a point a line of sight may end and still reach it
    outline : (2 L, 3) ends of lines around it, in pairs; empty for a point
    """

    words: str
    points: Array
    normals: Array
    centre: Array
    size: float
    slack: float
    outline: NDArray[np.float32] = field(default_factory=lambda: np.empty((0, 3), np.float32))


def of_region(scene: bpy.types.Scene, region: Any) -> Place:
    """A trapped region, where its faces are now; without them, where its middle was."""
    words, least = f"Trapped Region {region.number + 1}", _REGION_ROOM_MM / mm_per_unit(scene)
    inspection = results.inspection(scene)
    found = None if inspection is None else _faces_of(inspection.data, region.number)  # type: ignore[arg-type]
    if inspection is None or found is None:
        size = max(2.0 * float(np.sqrt(region.area_mm2)) / mm_per_unit(scene), least)
        points = np.array([region.centre], np.float64)
        slack = _SLACK_MM / mm_per_unit(scene)
        return _at(words, points, np.zeros_like(points), size=size, slack=slack)
    faces, here = found
    moved = _moved(scene, inspection)
    corners = faces.vertices[faces.faces[here]].astype(np.float64)
    chosen = samples(faces.areas[here], _SAMPLES)
    box = _turned(corners.reshape(-1, 3), moved)
    size = max(float(np.linalg.norm(np.ptp(box, axis=0))), least)
    lines = outlines(faces.vertices, faces.faces, here)
    return Place(
        words=words,
        points=_turned(_within(corners[chosen]), moved),
        normals=_normals(corners[chosen], moved),
        centre=(box.min(axis=0) + box.max(axis=0)) / 2.0,
        size=size,
        slack=_SLACK * size,
        outline=_turned(lines, moved).astype(np.float32),
    )


def of_spot(scene: bpy.types.Scene, spot: Any) -> Place:
    """A place of the forecast sheet, from its outer side; a web is its line, and is seen down the pull."""
    ends = np.array(forecast_markers.ends_of(spot), np.float64)
    if len(ends) > 1:
        up = Placement.of(scene).matrix()[:3, 2]
        points = np.linspace(ends[0], ends[-1], _ALONG)
        normals = np.tile(up / np.linalg.norm(up), (_ALONG, 1))
    else:
        points, sheet = ends, next(iter(results.objects(scene, "SHEET")), None)
        normals = np.zeros_like(points) if sheet is None else _normals_near(sheet, points)
    return _at(spot.words, points, normals, size=spot.size, slack=_SLACK_MM * _drawn(scene))


def of_finding(scene: bpy.types.Scene, finding: Any) -> Place:
    """The place of a finding, from the outer side of the sculpt."""
    drawn = _drawn(scene)
    points, inspection = np.array([finding.place], np.float64), results.inspection(scene)
    normals = np.zeros_like(points) if inspection is None else _normals_near(inspection, points)
    words = finding.words.partition(".")[0]
    return _at(words, points, normals, size=_FINDING_ROOM_MM * drawn, slack=_SLACK_MM * drawn)


def samples(areas: NDArray[np.floating[Any]], count: int) -> NDArray[np.intp]:
    """Numbers of faces (at most `count`, ascending) that stand for equal shares of an area."""
    ends = np.cumsum(areas, dtype=np.float64)
    if not len(ends) or ends[-1] <= 0.0:
        return np.arange(min(len(ends), count))
    shares = (np.arange(count) + 0.5) * ends[-1] / count
    found: NDArray[np.intp] = np.searchsorted(ends, shares)
    return found


def _within(corners: Array) -> Array:
    """A point in each of the triangles (N, 3, 3); where a triangle comes again, another one of it."""
    steps = np.arange(len(corners)) + 0.5
    shares = np.column_stack([steps * _EVEN, steps * _EVEN**2]) % 1.0
    over = shares.sum(axis=1) > 1.0
    shares[over] = 1.0 - shares[over]
    weights = np.column_stack([1.0 - shares.sum(axis=1), shares])
    return np.asarray(np.einsum("nk,nkx->nx", weights, corners))


def _drawn(scene: bpy.types.Scene) -> float:
    """Blender units in a millimetre of the buck, as it is drawn."""
    return Placement.of(scene).drawn / mm_per_unit(scene)


def _at(words: str, points: Array, normals: Array, *, size: float, slack: float) -> Place:
    """A place of a few points."""
    centre = (points.min(axis=0) + points.max(axis=0)) / 2.0
    return Place(words=words, points=points, normals=normals, centre=centre, size=size, slack=slack)


def _normals_near(one: bpy.types.Object, points: Array) -> Array:
    """Normals of an object's mesh at the vertices that are nearest to points in the world."""
    mesh: Any = one.data
    places, normals = np.empty((2, len(mesh.vertices), 3), np.float32)
    if not len(places):
        return np.zeros_like(points)
    mesh.attributes["position"].data.foreach_get("vector", places.reshape(-1))
    mesh.vertex_normals.foreach_get("vector", normals.reshape(-1))
    world = _turned(places, one.matrix_world)
    near = [int(np.argmin(((world - point) ** 2).sum(axis=1))) for point in points]
    turn = np.array(one.matrix_world.to_3x3().inverted_safe(), np.float64)
    found = normals[near].astype(np.float64) @ turn
    return np.asarray(found / np.maximum(np.linalg.norm(found, axis=1), 1e-30)[:, None])


def _faces_of(mesh: bpy.types.Mesh, number: int) -> tuple[Faces, NDArray[np.bool_]] | None:
    """Faces of an inspection, and which of them belong to a region; None where none does."""
    faces = read_faces(mesh)
    regions = face_values(mesh, results.PREFIX + "region", faces)
    if regions is None or not (regions == number).any():
        return None
    return faces, regions == number


def _moved(scene: bpy.types.Scene, inspection: bpy.types.Object) -> Matrix:
    """From the faces of an inspection to the world: with the sculpt, if it was moved since."""
    one = overlay.shown(scene)
    if one is None or one.live:
        return inspection.matrix_world.copy()
    anchor = next((each for each in scene.objects if each.session_uid == one.anchor), None)
    return one.follow if anchor is None else anchor.matrix_world @ one.follow


def _turned(points: NDArray[np.floating[Any]], moved: Matrix) -> Array:
    matrix = np.array(moved, np.float64)
    return np.asarray(points @ matrix[:3, :3].T + matrix[:3, 3], np.float64)


def _normals(corners: Array, moved: Matrix) -> Array:
    """Unit normals of triangles (N, 3, 3) in the world; those of a mirrored object are turned back."""
    first, second, third = (_turned(corners[:, k], moved) for k in range(3))
    across = np.cross(second - first, third - first)
    lengths = np.linalg.norm(across, axis=1)
    sign = -1.0 if moved.determinant() < 0.0 else 1.0
    return np.asarray(sign * across / np.maximum(lengths, 1e-30)[:, None])
