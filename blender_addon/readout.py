"""The value under the mouse, while asked for: a modal operator that lets everything else through."""

import math
from typing import Any, ClassVar

import bpy
import numpy as np
from bpy_extras import view3d_utils
from mathutils import Vector
from mathutils.geometry import closest_point_on_tri
from numpy.typing import NDArray

from . import overlay, ramps, results, visibility
from .legend import Plate, style, value_words

__all__ = ["BUCKWRIGHT_OT_read_values", "face_at", "place_under", "register", "unregister", "words_at"]

_ON_SURFACE = 2e-3
"""How far behind the first surface the sculpt may lie, as a share of the distance: the buck's faces coincide
with the sculpt's."""
_STATES = ("Free", "Tight", "Trapped")
_CLOSES = {"ESC", "RIGHTMOUSE"}


def place_under(
    context: bpy.types.Context, region: bpy.types.Region, at: tuple[float, float]
) -> Vector | None:
    """Place on the sculpt that is seen at a pixel of a viewport, in the world; None where there is none."""
    scene, region_3d = context.scene, region.data
    origin = view3d_utils.region_2d_to_origin_3d(region, region_3d, at)
    ray = view3d_utils.region_2d_to_vector_3d(region, region_3d, at)
    depsgraph = context.evaluated_depsgraph_get()
    is_hit, first, *_rest = scene.ray_cast(depsgraph, origin, ray)  # type: ignore[union-attr]
    most = (first - origin).length * (1.0 + _ON_SURFACE) if is_hit else math.inf
    places = [place for obj in _painted(scene) if (place := _struck(obj, depsgraph, origin, ray)) is not None]
    nearest = min(places, key=lambda place: (place - origin).length, default=None)
    return nearest if nearest is not None and (nearest - origin).length <= most else None


def _struck(obj: bpy.types.Object, depsgraph: Any, origin: Vector, ray: Vector) -> Vector | None:
    """Where a ray meets an object, in the world."""
    seen = obj.visible_get() or visibility.is_aside(bpy.context.scene, obj)
    if obj.type != "MESH" or not seen or abs(obj.matrix_world.determinant()) < 1e-30:
        return None
    into = obj.matrix_world.inverted()
    found, local, _normal, _polygon = obj.evaluated_get(depsgraph).ray_cast(
        into @ origin, into.to_3x3() @ ray
    )
    return obj.matrix_world @ local if found else None


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


def face_at(scene: bpy.types.Scene, one: overlay.Shown, finder: Finder, place: Vector) -> int:
    """The painted triangle at a place in the world, -1 where none is."""
    anchor = next((obj for obj in scene.objects if obj.session_uid == one.anchor), None)
    stands = one.follow if anchor is None else anchor.matrix_world @ one.follow
    return finder.find(stands.inverted() @ place)


def words_at(scene: bpy.types.Scene, one: overlay.Shown, face: int) -> list[str]:
    """What is known of a painted triangle, a line each: its state first, then every number."""
    lines = []
    state = one.values.get("state")
    if state is not None:
        number = int(state[face])
        lines.append(_STATES[number] if 0 <= number < len(_STATES) else "Not judged")
    for quantity in ramps.QUANTITIES.values():
        values = one.values.get(quantity.attribute)
        if quantity.key == "STATE" or values is None or not np.isfinite(values[face]):
            continue
        if not (quantity.zero_is_free and values[face] == 0.0):
            lines.append(f"{quantity.label}: {value_words(scene, quantity, float(values[face]))}")
    region = one.values.get("region")
    if region is not None and region[face] >= 0:
        lines.append(f"Trapped Region {int(region[face]) + 1}")
    return lines


class BUCKWRIGHT_OT_read_values(bpy.types.Operator):
    """Show what was found at the place under the mouse, until Esc or a right click"""

    bl_idname = "buckwright.read_values"
    bl_label = "Read Values"
    bl_options: ClassVar = {"INTERNAL"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only where colours are shown."""
        if context.scene is None or overlay.shown(context.scene) is None:
            cls.poll_message_set("Look at a sculpt first, and show its colors")
            return False
        return context.area is not None and context.area.type == "VIEW_3D"

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Begin to read."""
        one = overlay.shown(context.scene)  # type: ignore[arg-type]
        assert one is not None
        self.faces = one.faces
        self.finder = Finder(one.faces.vertices, one.faces.faces)
        self.at, self.lines, self.region = (0.0, 0.0), [], 0
        draw = bpy.types.SpaceView3D.draw_handler_add
        self.handle = draw(self._draw, (), "WINDOW", "POST_PIXEL")
        context.window_manager.modal_handler_add(self)  # type: ignore[union-attr]
        context.workspace.status_text_set("Values under the mouse   Esc or right click: end")  # type: ignore[union-attr]
        self._look(context, event)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Read where the mouse is; everything but the end passes through."""
        one = overlay.shown(context.scene) if context.scene else None
        if event.type in _CLOSES or one is None or one.faces is not self.faces:
            self.cancel(context)
            return {"CANCELLED"}
        if event.type == "MOUSEMOVE":
            self._look(context, event)
        return {"PASS_THROUGH"}

    def cancel(self, context: bpy.types.Context) -> None:
        """End: also when a file is opened or Blender quits."""
        if self.handle is not None:
            bpy.types.SpaceView3D.draw_handler_remove(self.handle, "WINDOW")
            self.handle = None
        if context.workspace is not None:
            context.workspace.status_text_set(None)
        overlay.redraw()

    def _look(self, context: bpy.types.Context, event: bpy.types.Event) -> None:
        self.lines = []
        region = _viewport_at(context, event.mouse_x, event.mouse_y)
        one = overlay.shown(context.scene)  # type: ignore[arg-type]
        if region is not None and one is not None:
            self.at = (event.mouse_x - region.x, event.mouse_y - region.y)
            self.region = region.as_pointer()
            place = place_under(context, region, self.at)
            face = -1 if place is None else face_at(context.scene, one, self.finder, place)  # type: ignore[arg-type]
            if face >= 0:
                self.lines = words_at(context.scene, one, face)  # type: ignore[arg-type]
        overlay.redraw()

    def _draw(self) -> None:
        context = bpy.context
        if not self.lines or context.region is None or context.region.as_pointer() != self.region:
            return
        plate = Plate(style(context))
        for line in self.lines:
            plate.words(line)
        wide, high = plate.size()
        gap = 18 * plate.look.unit
        x = min(self.at[0] + gap, context.region.width - wide - gap)
        y = self.at[1] - high - gap
        plate.draw(max(x, 0.0), y if y > gap else self.at[1] + gap)


def _viewport_at(context: bpy.types.Context, x: int, y: int) -> bpy.types.Region | None:
    """The viewport under the mouse, unless a sidebar or header lies over it."""
    for area in context.window.screen.areas:  # type: ignore[union-attr]
        if area.type != "VIEW_3D":
            continue
        under = [r for r in area.regions if r.x <= x < r.x + r.width and r.y <= y < r.y + r.height]
        if under and all(region.type == "WINDOW" for region in under):
            return under[0]
    return None


def register() -> None:
    """Register the operator."""
    bpy.utils.register_class(BUCKWRIGHT_OT_read_values)


def unregister() -> None:
    """Take it away."""
    bpy.utils.unregister_class(BUCKWRIGHT_OT_read_values)
