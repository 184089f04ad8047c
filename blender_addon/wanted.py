"""The wanted draft in degrees: as the last result had it, or as the settings ask for it."""

import math
import tomllib
from functools import cache

import bpy

from . import results, settings
from .borrowed import HOST

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


@cache
def _of_sheet(material: str) -> float:
    """Draft of a sheet, by the identifier of its choice."""
    table = tomllib.loads((HOST.parent / "forming" / "sheets" / "sheets.toml").read_text(encoding="utf-8"))
    name = next(name for name in table if settings.identifier(name) == material)
    return float(table[name]["male_draft_deg"]["value"])
