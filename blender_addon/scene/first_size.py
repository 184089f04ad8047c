"""The size of a sculpt before anything is made of it: doubted where a unit was likely mistaken."""

from collections.abc import Sequence

import bpy
import numpy as np
from numpy.typing import NDArray

from ..bridge.library import LARGEST_MM, LIKELY_MM, MM_PER_UNIT, SMALLEST_MM
from ..bridge.units import mm_per_unit
from . import settings

__all__ = ["UNITS", "is_wanted", "likely_unit", "size_mm", "take_unit", "want_height", "words"]

UNITS = ("mm", "cm", "in", "m")
"""Units that a mesh may have been made in, the likeliest first."""


def size_mm(scene: bpy.types.Scene, objects: Sequence[bpy.types.Object]) -> NDArray[np.float64] | None:
    """(3,) size of the box around meshes in the world, mm; None where there are none. Cheap."""
    boxes = [
        np.array(one.bound_box, np.float64) @ np.array(one.matrix_world.to_3x3(), np.float64).T
        + np.array(one.matrix_world.translation, np.float64)
        for one in objects
        if one.type == "MESH"
    ]
    if not boxes:
        return None
    corners = np.concatenate(boxes)
    return np.asarray(np.ptp(corners, axis=0) * mm_per_unit(scene))


def is_wanted(scene: bpy.types.Scene) -> bool:
    """Whether the settings ask for a size, whatever that of the sculpt is."""
    own = settings.of(scene).sculpt
    return not (own.auto_width_mm and own.auto_depth_mm and own.auto_height_mm)


def likely_unit(scene: bpy.types.Scene, size: NDArray[np.float64]) -> str:
    """The unit that would make a size likely which is not as it stands; empty for a size that can be."""
    largest = float(size.max())
    if is_wanted(scene) or SMALLEST_MM <= largest <= LARGEST_MM:
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
