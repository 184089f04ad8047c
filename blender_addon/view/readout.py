"""What is known of the sculpt at a place: found by the faces that are painted there, told in words."""

import math
from typing import Any

import bpy
import numpy as np
from mathutils import Vector
from mathutils.geometry import closest_point_on_tri
from numpy.typing import NDArray

from ..scene import results, visibility
from . import overlay, ramps
from .legend import value_words
from .pointing import ray_at, struck
from .ramps import STATE_WORDS
from .shown_result import Shown

__all__ = ["Finder", "face_at", "place_under", "words_at"]

_ON_SURFACE = 2e-3
"""How far behind the first surface the sculpt may lie, as a share of the distance: the buck's faces coincide
with the sculpt's."""


def place_under(
    context: bpy.types.Context, region: bpy.types.Region, at: tuple[float, float]
) -> Vector | None:
    """Place on the sculpt that is seen at a pixel of a viewport, in the world; None where there is none."""
    scene, region_3d = context.scene, region.data
    origin, ray = ray_at(region, region_3d, at)
    depsgraph = context.evaluated_depsgraph_get()
    is_hit, first, *_rest = scene.ray_cast(depsgraph, origin, ray)  # type: ignore[union-attr]
    most = (first - origin).length * (1.0 + _ON_SURFACE) if is_hit else math.inf
    places = [place for obj in _painted(scene) if (place := _struck(obj, depsgraph, origin, ray)) is not None]
    nearest = min(places, key=lambda place: (place - origin).length, default=None)
    return nearest if nearest is not None and (nearest - origin).length <= most else None


def _struck(obj: bpy.types.Object, depsgraph: Any, origin: Vector, ray: Vector) -> Vector | None:
    """Where a ray meets an object that is shown, or would be but for the buck."""
    seen = obj.visible_get() or visibility.is_aside(bpy.context.scene, obj)
    return struck(obj, depsgraph, origin, ray) if obj.type == "MESH" and seen else None


def _painted(scene: Any) -> list[bpy.types.Object]:
    one = overlay.shown(scene)
    if one is not None and one.live:
        return [obj for obj in scene.objects if obj.session_uid == one.anchor]
    return results.sculpts(scene)


class Finder:
    """Finds painted triangles by place: the nearest of those whose box holds the place.

    Parameters
    ----------
    vertices, faces : the painted triangles
    """

    def __init__(self, vertices: NDArray[np.float32], faces: NDArray[np.int32]) -> None:
        self.vertices, self.faces = vertices, faces
        self.slack = 1e-3 * float(np.linalg.norm(np.ptp(vertices, axis=0))) if len(vertices) else 0.0
        corners = [vertices.take(faces[:, k], axis=0) for k in range(3)]
        self.low = np.minimum(np.minimum(corners[0], corners[1]), corners[2])
        self.high = np.maximum(np.maximum(corners[0], corners[1]), corners[2])

    def find(self, place: Vector) -> int:
        """Number of the triangle at a place, -1 where none is within a thousandth of the sculpt's size."""
        point = np.array(place, np.float32)
        inside = (self.low <= point + self.slack) & (self.high >= point - self.slack)
        near = np.flatnonzero(inside.all(axis=1))
        offsets = [
            (
                closest_point_on_tri(place, *(Vector(v) for v in self.vertices[self.faces[face]])) - place
            ).length
            for face in near
        ]
        best = int(np.argmin(offsets)) if offsets else -1
        return int(near[best]) if best >= 0 and offsets[best] <= self.slack else -1


def face_at(scene: bpy.types.Scene, one: Shown, finder: Finder, place: Vector) -> int:
    """The painted triangle at a place in the world, -1 where none is."""
    anchor = next((obj for obj in scene.objects if obj.session_uid == one.anchor), None)
    stands = one.follow if anchor is None else anchor.matrix_world @ one.follow
    return finder.find(stands.inverted() @ place)


def words_at(scene: bpy.types.Scene, one: Shown, face: int) -> list[str]:
    """What is known of a painted triangle, a line each: its state first, then every number."""
    lines = []
    state = one.values.get("state")
    if state is not None:
        number = int(state[face])
        lines.append(STATE_WORDS[number] if 0 <= number < len(STATE_WORDS) else "Not judged")
    for quantity in ramps.QUANTITIES.values():
        values = one.values.get(quantity.array)
        if quantity == ramps.STATE or values is None or not np.isfinite(values[face]):
            continue
        if not (quantity.zero_is_free and values[face] == 0.0):
            lines.append(f"{quantity.label}: {value_words(scene, quantity, float(values[face]))}")
    region = one.values.get("region")
    if region is not None and region[face] >= 0:
        lines.append(f"Trapped Region {int(region[face]) + 1}")
    return lines
