"""A handle that turns the pull: drag the arrow's tip over the sphere around the sculpt."""

import math
from typing import Any, ClassVar

import bpy
import numpy as np
from bpy_extras import view3d_utils
from mathutils import Matrix, Vector

from ..scene import results, settings
from ..scene.pull import pull_in, set_pull
from . import view_settings
from .plate import Plate, style
from .pointing import ray_at

__all__ = [
    "BUCKWRIGHT_GGT_pull",
    "BUCKWRIGHT_GT_pull",
    "centre_and_radius",
    "on_sphere",
    "register",
    "snapped",
    "unregister",
]

_STEP_DEG = 5.0
"""Ctrl turns in such steps, counted from the world's Z, as Blender's own rotation does by default."""
_SLOW = 0.1
"""Shift turns at a tenth of the speed, as elsewhere in Blender."""


_LENGTH = 0.33
"""Length of the arrow as a share of the sphere's radius, a judgement."""


def centre_and_radius(obj: bpy.types.Object) -> tuple[Vector, float]:
    """Middle of an object's box in the world, and the radius of the sphere that the tip moves on."""
    corners = [obj.matrix_world @ Vector(corner) for corner in obj.bound_box]
    middle = sum(corners, Vector()) / 8.0
    return middle, max(max((corner - middle).length for corner in corners) * 1.05, 1e-6)


def on_sphere(origin: Vector, ray: Vector, centre: Vector, radius: float) -> Vector:
    """Direction from the centre of a sphere to where a line of sight meets it first.

    A line that misses gives the nearest place on the rim, so that dragging goes on outside.
    """
    way = ray.normalized()
    closest = origin + way * (centre - origin).dot(way)
    off = closest - centre
    if off.length >= radius:
        return off.normalized()
    return (closest - way * math.sqrt(radius**2 - off.length_squared) - centre).normalized()


def snapped(direction: Vector) -> Vector:
    """The direction with height and bearing rounded to whole steps."""
    step = math.radians(_STEP_DEG)
    lean = round(math.acos(max(-1.0, min(1.0, direction.normalized().z))) / step) * step
    bearing = round(math.atan2(direction.y, direction.x) / step) * step
    return Vector((math.sin(lean) * math.cos(bearing), math.sin(lean) * math.sin(bearing), math.cos(lean)))


class BUCKWRIGHT_GT_pull(bpy.types.Gizmo):
    """The arrow along the pull."""

    bl_idname = "BUCKWRIGHT_GT_pull"
    bl_target_properties: ClassVar = ()
    __slots__ = ("before", "centre", "direction", "handle", "last", "radius")

    def setup(self) -> None:
        """Nothing has been dragged yet."""
        self.centre, self.radius, self.direction = Vector(), 1.0, Vector((0.0, 0.0, 1.0))
        self.handle = None

    def place(self) -> Matrix:
        """Matrix of the arrow: its tip is on the sphere, it is a third of the radius long."""
        turn = self.direction.to_track_quat("Z", "Y").to_matrix().to_4x4()
        foot = self.centre + self.direction * (self.radius * (1.0 - _LENGTH))
        return Matrix.Translation(foot) @ turn @ Matrix.Scale(self.radius * _LENGTH, 4)

    def draw(self, _context: bpy.types.Context) -> None:
        """Draw the arrow."""
        self.draw_preset_arrow(self.place())

    def draw_select(self, _context: bpy.types.Context, select_id: int) -> None:
        """What can be taken hold of."""
        self.draw_preset_arrow(self.place(), select_id=select_id)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Take hold of the tip."""
        pull = settings.of(context.scene).pull  # type: ignore[arg-type]
        self.before = (pull.direction, tuple(pull.direction_vector))
        self.last = self._pointed(context, event)
        self.handle = bpy.types.SpaceView3D.draw_handler_add(self._words, (), "WINDOW", "POST_PIXEL")
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event, tweak: set[str]) -> set[str]:
        """Turn the pull by as much as the mouse moved over the sphere."""
        now = self._pointed(context, event)
        turn = self.last.rotation_difference(now)
        if "PRECISE" in tweak:
            turn.angle *= _SLOW
        self.last = now
        self.direction = (turn @ self.direction).normalized()
        turned = snapped(self.direction) if "SNAP" in tweak else self.direction
        set_pull(context.scene, np.array(turned, np.float64))  # type: ignore[arg-type]
        context.area.tag_redraw()  # type: ignore[union-attr]
        return {"RUNNING_MODAL"}

    def exit(self, context: bpy.types.Context, cancel: bool) -> None:
        """Let go: keep the turn as one step of undo, or set everything back."""
        if self.handle is not None:
            bpy.types.SpaceView3D.draw_handler_remove(self.handle, "WINDOW")
            self.handle = None
        if cancel:
            pull = settings.of(context.scene).pull  # type: ignore[arg-type]
            pull.direction_vector = self.before[1]
            pull.direction = self.before[0]
        else:
            bpy.ops.ed.undo_push(message="Turn Pull")

    def _pointed(self, context: bpy.types.Context, event: bpy.types.Event) -> Vector:
        at = (event.mouse_region_x, event.mouse_region_y)
        return on_sphere(*ray_at(context.region, context.region_data, at), self.centre, self.radius)

    def _words(self) -> None:
        """Say the direction while it is turned."""
        context = bpy.context
        vector = settings.of(context.scene).pull.direction_vector  # type: ignore[arg-type]
        lean = math.degrees(math.acos(max(-1.0, min(1.0, vector[2]))))
        tip = view3d_utils.location_3d_to_region_2d(
            context.region, context.region_data, self.centre + self.direction * self.radius
        )
        if tip is None:
            return
        plate = Plate(style(context))
        plate.words(f"Pull {vector[0]:.3f}, {vector[1]:.3f}, {vector[2]:.3f}".replace("-", "−"))
        plate.words(f"{lean:.1f}° from the world's Z")
        plate.draw(tip.x + 24 * plate.look.unit, tip.y)


class BUCKWRIGHT_GGT_pull(bpy.types.GizmoGroup):
    """Shows the arrow at the active mesh while the handle is switched on."""

    bl_idname = "BUCKWRIGHT_GGT_pull"
    bl_label = "Pull Handle"
    bl_space_type = "VIEW_3D"
    bl_region_type = "WINDOW"
    bl_options: ClassVar = {"3D", "PERSISTENT", "SHOW_MODAL_ALL"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only in Object Mode at a mesh, when asked for."""
        scene, obj = context.scene, context.object
        if scene is None or obj is None or obj.type != "MESH" or obj.mode != "OBJECT":
            return False
        return bool(view_settings.of(scene).turn) and _sculpt(scene, obj) is not None

    def setup(self, context: bpy.types.Context) -> None:
        """Make the arrow in the colours of the theme."""
        theme = context.preferences.themes[0].user_interface  # type: ignore[union-attr]
        arrow: Any = self.gizmos.new(BUCKWRIGHT_GT_pull.bl_idname)
        arrow.use_draw_modal, arrow.use_draw_scale = True, False
        arrow.color, arrow.alpha = tuple(theme.gizmo_primary)[:3], 0.9
        arrow.color_highlight, arrow.alpha_highlight = tuple(theme.gizmo_hi)[:3], 1.0
        self.arrow = arrow

    def draw_prepare(self, context: bpy.types.Context) -> None:
        """Put the arrow where the pull is."""
        arrow = self.arrow
        obj = _sculpt(context.scene, context.object)  # type: ignore[arg-type]
        if arrow.is_modal or obj is None:
            return
        arrow.centre, arrow.radius = centre_and_radius(obj)
        arrow.direction = Vector(pull_in(context.scene)).normalized()  # type: ignore[arg-type]
        arrow.matrix_basis = Matrix.Identity(4)


def _sculpt(scene: bpy.types.Scene, obj: bpy.types.Object) -> bpy.types.Object | None:
    """The sculpt that belongs to the active object: itself, or the one a result was made from."""
    if obj.session_uid not in results.owned():
        return obj
    return next(iter(results.sculpts(scene)), None)


def register() -> None:
    """Register the handle."""
    bpy.utils.register_class(BUCKWRIGHT_GT_pull)
    bpy.utils.register_class(BUCKWRIGHT_GGT_pull)


def unregister() -> None:
    """Take it away."""
    bpy.utils.unregister_class(BUCKWRIGHT_GGT_pull)
    bpy.utils.unregister_class(BUCKWRIGHT_GT_pull)
