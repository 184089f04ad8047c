"""The wanted draft in degrees: as the last result had it, or as the settings ask for it."""

import math

import bpy

from ..bridge.library import known_sheets
from . import results, settings

__all__ = ["of_results", "of_settings"]

_TEXTURE_DEG_PER_MM = 1.0 / 0.0254
"""As in the library, survey/draft.py."""


def of_results(scene: bpy.types.Scene) -> float:
    """Wanted draft that the last result was sorted by."""
    value = results.facts(scene).get("wanted_deg")
    return float(value) if isinstance(value, int | float) else of_settings(scene)


def of_settings(scene: bpy.types.Scene) -> float:
    """Wanted draft that a look would use now."""
    draft = settings.of(scene).draft
    if not draft.auto_wanted_deg:
        return math.degrees(draft.wanted_angle)
    return _of_sheet(settings.of(scene).sheet.material) + draft.texture_depth_mm * _TEXTURE_DEG_PER_MM


def _of_sheet(material: str) -> float:
    """Draft of a sheet, by the identifier of its choice."""
    row = next(row for name, row in known_sheets().items() if settings.identifier(name) == material)
    return row.male_draft_deg.value
