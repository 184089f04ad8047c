"""Colours of the thickness on the formed sheet itself, for materials and for shading by attribute."""

from typing import Any

import bpy
import numpy as np

from ..scene import results
from ..scene.formed_sheet import thickness_mm
from ..scene.running import Result
from ..scene.write_results import results_changed
from .ramps import THICKNESS, colours, limits

__all__ = ["COLOUR", "paint_sheet", "register", "unregister"]

COLOUR = results.PREFIX + "thickness_color"


def paint_sheet(sheet: bpy.types.Object, *, sheet_mm: float = 0.0) -> None:
    """Give the vertices of a sheet the colours of its thickness; `sheet_mm` is that before forming."""
    mesh: Any = sheet.data
    thick, quantity = thickness_mm(sheet), THICKNESS
    low, high = limits(quantity, thick, wanted_deg=0.0, sheet_mm=sheet_mm)
    painted = colours(quantity, thick, lowest=low, highest=high).astype(np.float32) / np.float32(255.0)
    painted[:, 3] = 1.0
    colour = mesh.color_attributes.new(COLOUR, "BYTE_COLOR", "POINT")
    colour.data.foreach_set("color_srgb", np.ascontiguousarray(painted).reshape(-1))


def _paint_new(scene: bpy.types.Scene, _result: Result | None) -> None:
    """Paint the sheet that a run has just brought; one that is painted stays as it is."""
    for sheet in results.objects(scene, "SHEET"):
        mesh: Any = sheet.data
        if COLOUR not in mesh.color_attributes:
            paint_sheet(sheet, sheet_mm=results.of(scene).sheet_mm)


def register() -> None:
    """Paint from now on."""
    results_changed.listen(_paint_new)


def unregister() -> None:
    """Paint no longer."""
    results_changed.ignore(_paint_new)
