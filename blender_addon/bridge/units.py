"""Millimetres and Blender's units: the only place that converts one into the other.

Settings are kept in millimetres whatever the scene's unit, and shown as such: the trade thinks in
millimetres, a job file holds them, and a scene in metres would show a 0.75 mm sheet as "0.001 m". Blender
has a kind of number for that, lengths of a camera, which no unit scale touches. Lengths are thus converted
only where coordinates are read from the scene or written to it. This module must not import Blender.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import bpy

__all__ = ["mm_per_unit"]


def mm_per_unit(scene: "bpy.types.Scene") -> float:
    """Millimetres in one unit of the scene's coordinates: a unit is `scale_length` metres.

    That also holds for a scene without a unit system, where Blender leaves the meaning open.
    """
    return 1000.0 * _exact(scene.unit_settings.scale_length)


def _exact(single: float) -> float:
    """0.001 as it was meant, from the single precision that Blender keeps (0.0010000000474974513)."""
    return float(f"{single:.7g}")
