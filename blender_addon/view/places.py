"""Places that the view is taken to: a trapped region, a place of the forecast sheet, that of a finding."""

from dataclasses import dataclass, field
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix, Vector
from numpy.typing import NDArray

from ..bridge.units import mm_per_unit
from ..scene import results
from ..scene.placement import Placement
from . import overlay
from .mesh_faces import Faces, face_values, read_faces
from .overlay_lines import outlines

__all__ = ["Place", "of_finding", "of_region", "of_spot", "samples"]

type Array = NDArray[np.float64]

_SAMPLES = 64
_REGION_ROOM_MM = 5.0
_FINDING_ROOM_MM = 12.0
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
        return _at(words, [region.centre], size=size, slack=_SLACK_MM / mm_per_unit(scene))
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
    """A place of the forecast sheet; a web is its line."""
    marker = spot.object
    ends: list[Any] = [spot.centre]
    if spot.kind == "WEB" and marker is not None and marker.type == "CURVE":
        ends = [marker.matrix_world @ point.co.to_3d() for point in marker.data.splines[0].points]
    return _at(spot.words, ends, size=spot.size, slack=_SLACK_MM * _drawn(scene), scene=scene)


def of_finding(scene: bpy.types.Scene, finding: Any) -> Place:
    """The place of a finding."""
    drawn = _drawn(scene)
    size, slack = _FINDING_ROOM_MM * drawn, _SLACK_MM * drawn
    words = finding.words.partition(".")[0]
    return _at(words, [finding.place], size=size, slack=slack, scene=scene)


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


def _at(
    words: str, ends: list[Any], *, size: float, slack: float, scene: bpy.types.Scene | None = None
) -> Place:
    """A place of a few points; it faces as the sheet does there, where there is one."""
    points = np.array([tuple(end) for end in ends], np.float64)
    if len(points) > 1:
        points = np.linspace(points[0], points[-1], 9)
    normals = np.zeros_like(points) if scene is None else _of_sheet(scene, points, 2.0 * slack)
    centre = (points.min(axis=0) + points.max(axis=0)) / 2.0
    return Place(words=words, points=points, normals=normals, centre=centre, size=size, slack=slack)


def _of_sheet(scene: bpy.types.Scene, points: Array, reach: float) -> Array:
    """Normals of the formed sheet at points in the world; 0 where it is further away."""
    normals = np.zeros_like(points)
    for sheet in results.objects(scene, "SHEET")[:1]:
        into = sheet.matrix_world.inverted_safe()
        turn = sheet.matrix_world.to_3x3().inverted_safe().transposed()
        for row, point in zip(normals, points, strict=True):
            found, near, normal, _face = sheet.closest_point_on_mesh(into @ Vector(point))
            if found and (sheet.matrix_world @ near - Vector(point)).length <= reach:
                row[:] = (turn @ normal).normalized()
    return normals


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
