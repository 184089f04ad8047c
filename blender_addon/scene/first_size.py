"""The size of a sculpt before anything is made of it: doubted where a unit was likely mistaken."""

from collections.abc import Sequence
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ..bridge.library import LARGEST_MM, LIKELY_MM, MM_PER_UNIT, SMALLEST_MM
from ..bridge.units import mm_per_unit
from . import results, settings, visibility

__all__ = [
    "UNITS",
    "likely_unit",
    "size_mm",
    "take_unit",
    "want_height",
    "wanted_scale",
    "wanted_words",
    "words",
]

UNITS = ("mm", "cm", "in", "m")
"""Units that a mesh may have been made in, the likeliest first."""


def size_mm(scene: bpy.types.Scene, objects: Sequence[bpy.types.Object]) -> NDArray[np.float64] | None:
    """(3,) size of the box around meshes in the world, mm; None where there are none. Cheap.

    Of a sculpt that is aside Blender knows no shape under modifiers: its copy that was looked at is asked.
    """
    copy = results.inspection(scene)
    if copy is not None and all(visibility.is_aside(scene, one) for one in objects):
        objects = [copy]
    boxes = [
        _box(one) @ np.array(one.matrix_world.to_3x3(), np.float64).T
        + np.array(one.matrix_world.translation, np.float64)
        for one in objects
        if one.type == "MESH"
    ]
    if not boxes:
        return None
    corners = np.concatenate(boxes)
    return np.asarray(np.ptp(corners, axis=0) * mm_per_unit(scene))


def _box(one: bpy.types.Object) -> NDArray[np.float64]:
    """(8, 3) corners, in an object's own space, of the box around what is seen of it.

    Blender leaves subdividing to the graphics card, and until a mesh is asked for keeps the box of its cage.
    """
    if any(each.type == "SUBSURF" and each.show_viewport for each in one.modifiers):
        mesh: Any = one.evaluated_get(bpy.context.evaluated_depsgraph_get()).data
        places = np.empty((len(mesh.vertices), 3), np.float32)
        if len(places):
            mesh.attributes["position"].data.foreach_get("vector", places.reshape(-1))
            low, high = places.min(axis=0), places.max(axis=0)
            return np.array(np.meshgrid(*np.stack([low, high], axis=1)), np.float64).reshape(3, -1).T
    return np.array(one.bound_box, np.float64)


def _wanted(scene: bpy.types.Scene) -> list[tuple[int, float, str]]:
    """Sides that the settings ask for, whatever those of the sculpt are: axis, mm, a word."""
    own = settings.of(scene).sculpt
    sides = (
        (2, own.auto_height_mm, own.height_mm, "tall"),
        (0, own.auto_width_mm, own.width_mm, "wide"),
        (1, own.auto_depth_mm, own.depth_mm, "deep"),
    )
    return [(axis, mm, word) for axis, auto, mm, word in sides if not auto]


def wanted_scale(scene: bpy.types.Scene, objects: Sequence[bpy.types.Object]) -> float:
    """By how much the job makes objects larger than they are drawn; 1 where no size is asked for."""
    size = size_mm(scene, objects)
    for axis, mm, _ in _wanted(scene):
        if size is not None and size[axis] > 0.0:
            return float(mm / size[axis])
    return 1.0


def wanted_words(scene: bpy.types.Scene, size: NDArray[np.float64]) -> str:
    """A size that is asked for: 'Made 120 mm tall, 34 m in the scene'; empty if none is."""
    for axis, mm, word in _wanted(scene):
        return f"Made {mm:.4g} mm {word}, {words(size[axis : axis + 1])} in the scene"
    return ""


def likely_unit(scene: bpy.types.Scene, size: NDArray[np.float64]) -> str:
    """The unit that would make a size likely which is not as it stands; empty for a size that can be."""
    largest = float(size.max())
    if _wanted(scene) or SMALLEST_MM <= largest <= LARGEST_MM:
        return ""
    in_units = largest / mm_per_unit(scene)
    low, high = LIKELY_MM
    return next((one for one in UNITS if low <= in_units * MM_PER_UNIT[one] <= high), UNITS[0])


def take_unit(scene: bpy.types.Scene, unit: str) -> None:
    """Let one unit of the scene be a millimetre, a centimetre, an inch or a metre. No object is scaled."""
    units = scene.unit_settings
    units.system = "IMPERIAL" if unit == "in" else "METRIC"
    units.scale_length = MM_PER_UNIT[unit] / 1000.0
    names = {"mm": "MILLIMETERS", "cm": "CENTIMETERS", "in": "INCHES", "m": "METERS"}
    units.length_unit = names[unit]  # type: ignore[assignment]


def want_height(scene: bpy.types.Scene, height_mm: float) -> None:
    """Ask for a part of this height; a wanted width or depth is set aside."""
    own = settings.of(scene).sculpt
    own.auto_width_mm = own.auto_depth_mm = True
    own.auto_height_mm = False
    own.height_mm = height_mm


def words(size: NDArray[np.float64]) -> str:
    """A size in words: '120 x 80 x 45.5 mm', in metres where it is that large."""
    large = float(size.max()) > LARGEST_MM
    numbers = [f"{side:.4g}" for side in (size / 1000.0 if large else size)]
    return f"{' x '.join(numbers)} {'m' if large else 'mm'}"
