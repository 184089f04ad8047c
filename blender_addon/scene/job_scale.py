"""By how much a job makes its sculpt larger than it is drawn: places that a job names hold at that size."""

from collections.abc import Sequence
from typing import Any

import bpy
import numpy as np

from . import first_size, hole_markers, results, settings

__all__ = ["job_scale", "scaled"]

_PLACES = (
    ("vents", "at_mm"),
    ("take_up", "at_mm"),
    ("base", "outline_mm"),
    *(tuple(name.split(".")) for name in hole_markers.SETTINGS),
)
"""What a job names in the sculpt's own coordinates."""


def job_scale(scene: bpy.types.Scene, sculpt: Sequence[bpy.types.Object]) -> float:
    """The scale of the job as it is set; of a wanted measurement only a result knows it, before that 1."""
    if not settings.of(scene).size.auto_wanted_mm:
        return float(results.facts(scene).get("scale", 1.0))
    return first_size.wanted_scale(scene, sculpt)


def scaled(tables: dict[str, dict[str, Any]], scale: float) -> dict[str, dict[str, Any]]:
    """Tables of a job, their places multiplied; what follows a place, such as a radius, is not."""
    found = {name: dict(table) for name, table in tables.items()}
    if scale == 1.0:
        return found
    for table, key in _PLACES:
        if places := found.get(table, {}).get(key):
            found[table][key] = [[*_times(place, scale), *place[3:]] for place in places]
    return found


def _times(place: Sequence[float], scale: float) -> list[float]:
    return [float(v) for v in np.array(place[:3], np.float64) * scale]
