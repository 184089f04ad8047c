"""Signs at the places of the forecast: as large as they are to be read, hollow, named under the mouse.

A ring is shut-in air, a line a web, a diamond the weakest spot. A place that something hides is a dot. A
click goes there.
"""

from typing import Any, ClassVar

import bpy
import numpy as np
from bpy_extras import view3d_utils
from mathutils import Vector
from numpy.typing import NDArray

from ..scene import forecast_markers, results
from . import highlight
from .plate import Plate, style
from .pointing import pixels_of
from .strokes import circle, draw_strokes

__all__ = [
    "BUCKWRIGHT_GGT_spots",
    "BUCKWRIGHT_GT_spot",
    "away_from",
    "register",
    "strokes_of",
    "unregister",
]

COLOURS = {
    "WEAKEST": (0.95, 0.95, 0.95),
    "WEB": (0.8, 0.475, 0.655),
    "POCKET": (0.835, 0.369, 0.0),
}
"""In sRGB: white, purple and vermilion, far from the blue and yellow of the ramps. The last two are of a set
made for colour-vision deficiency (Okabe and Ito 2008, from memory); the shapes differ too."""
_RADII = {"WEAKEST": 9.0, "WEB": 5.0, "POCKET": 7.0}
"""In pixels at an interface scale of 1."""
_CORNERS = {"WEAKEST": 4, "POCKET": 24}
_DOT = 2.5
_WIDTH, _REACH = 2.0, 7.0
"""Width of a stroke, and how near the mouse has to come, in the same pixels as the radii."""
_SLACK = 0.02
"""How far before a place a line of sight may end and still reach it, as a share of the way: places lie on the
sheet, which cuts corners of the buck."""

type Pixels = NDArray[np.float64]


def strokes_of(kind: str, ends: Pixels, *, scale: float, hidden: bool) -> Pixels:
    """Lines that draw a sign, as ends in pairs (2 L, 2).

    Parameters
    ----------
    ends : (1 or 2, 2) pixels of a place, or of the ends of a web
    scale : of the interface
    hidden : whether something is before it
    """
    if hidden:
        return circle(*ends.mean(axis=0), _DOT * scale, corners=8)
    if len(ends) == 1:
        return circle(*ends[0], _RADII[kind] * scale, corners=_CORNERS.get(kind, 24))
    way = ends[1] - ends[0]
    length = float(np.linalg.norm(way))
    across = np.array([-way[1], way[0]]) / max(length, 1e-9) * _RADII[kind] * scale
    ticks = [point + side * across for point in ends for side in (-1.0, 1.0)]
    return np.concatenate([ends, np.array(ticks)])


def away_from(ends: Pixels, mouse: tuple[float, float]) -> float:
    """Pixels from the mouse to a place, or to the line of a web."""
    start, way = ends[0], ends[-1] - ends[0]
    at = np.array(mouse) - start
    share = float(np.clip(at @ way / max(float(way @ way), 1e-9), 0.0, 1.0))
    return float(np.linalg.norm(at - share * way))


class BUCKWRIGHT_GT_spot(bpy.types.Gizmo):
    """The sign at one place."""

    bl_idname = "BUCKWRIGHT_GT_spot"
    __slots__ = ("ends", "hidden", "kind", "words")

    def setup(self) -> None:
        """Nowhere yet."""
        self.ends, self.kind, self.words, self.hidden = np.empty((0, 2)), "POCKET", "", False

    def draw(self, context: bpy.types.Context) -> None:
        """Draw the sign; under the mouse wider, and with its name."""
        if not len(self.ends):
            return
        look, lit = style(context), bool(self.is_highlight)
        hidden = self.hidden and not lit
        strokes = strokes_of(self.kind, self.ends, scale=look.unit, hidden=hidden)
        draw_strokes(strokes, COLOURS[self.kind], width=_WIDTH * look.unit * (1.6 if lit else 1.0))
        marked = highlight.shown(context.scene)  # type: ignore[arg-type]
        if lit and (marked is None or marked.words != self.words):
            plate = Plate(look)
            plate.words(self.words)
            x, y = self.ends.max(axis=0) + 14.0 * look.unit
            plate.draw(x, y)

    def test_select(self, context: bpy.types.Context, location: Any) -> int:
        """Whether the mouse is at the sign: 0, else -1."""
        if not len(self.ends):
            return -1
        scale = context.preferences.system.ui_scale  # type: ignore[union-attr]
        reach = _REACH + (_RADII[self.kind] if len(self.ends) == 1 and not self.hidden else 0.0)
        return 0 if away_from(self.ends, tuple(location)) <= reach * scale else -1


class BUCKWRIGHT_GGT_spots(bpy.types.GizmoGroup):
    """The signs of the last forecast, while its markers are shown."""

    bl_idname = "BUCKWRIGHT_GGT_spots"
    bl_label = "Places of the Forecast"
    bl_space_type = "VIEW_3D"
    bl_region_type = "WINDOW"
    bl_options: ClassVar = {"PERSISTENT"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only in Object Mode, with a forecast whose markers are shown."""
        scene, space = context.scene, context.space_data
        if scene is None or context.mode != "OBJECT" or not isinstance(space, bpy.types.SpaceView3D):
            return False
        return bool(results.of(scene).spots) and space.overlay.show_overlays

    def setup(self, _context: bpy.types.Context) -> None:
        """No signs yet."""
        self.signs: list[Any] = []

    def draw_prepare(self, context: bpy.types.Context) -> None:
        """Put a sign at every place, where it is on the screen now."""
        spots = results.of(context.scene).spots  # type: ignore[arg-type]
        if len(self.signs) != len(spots):
            self._renew(spots)
        for sign, spot in zip(self.signs, spots, strict=True):
            shown = spot.object is not None and spot.object.visible_in_viewport_get(context.space_data)
            ends = forecast_markers.ends_of(spot) if shown else []
            sign.ends = _on_screen(context, ends)
            sign.kind, sign.words = spot.kind, spot.words
            sign.hidden = bool(len(sign.ends)) and _is_hidden(context, sum(ends, Vector()) / len(ends))

    def _renew(self, spots: Any) -> None:
        self.gizmos.clear()
        self.signs = []
        for number in range(len(spots)):
            sign: Any = self.gizmos.new(BUCKWRIGHT_GT_spot.bl_idname)
            sign.use_draw_modal = False
            sign.target_set_operator("buckwright.show_spot").index = number
            self.signs.append(sign)


def _on_screen(context: bpy.types.Context, ends: list[Vector]) -> Pixels:
    """Pixels of all ends, or of none where one is behind the eye."""
    found = pixels_of(context, ends)
    return found if len(found) == len(ends) else np.empty((0, 2))


def _is_hidden(context: bpy.types.Context, place: Vector) -> bool:
    """Whether something that Blender shows is before a place."""
    region, region_3d, scene = context.region, context.region_data, context.scene
    assert region is not None and region_3d is not None and scene is not None
    at = view3d_utils.location_3d_to_region_2d(region, region_3d, place)
    if at is None:
        return False
    eye = view3d_utils.region_2d_to_origin_3d(region, region_3d, at)
    way = place - eye
    length = way.length * (1.0 - _SLACK)
    return bool(scene.ray_cast(context.evaluated_depsgraph_get(), eye, way, distance=length)[0])


_CLASSES = (BUCKWRIGHT_GT_spot, BUCKWRIGHT_GGT_spots)

register, unregister = bpy.utils.register_classes_factory(_CLASSES)
