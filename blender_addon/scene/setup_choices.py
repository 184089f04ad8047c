"""The setups that a search offers: kept in the scene with their pictures, and one taken by its number."""

from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ..bridge.library import percent, rounded, way_words
from . import results, settings
from .pictures import picture

__all__ = ["forget", "is_taken", "record", "take"]


def record(scene: bpy.types.Scene, report: dict[str, Any], images: NDArray[np.uint8] | None) -> None:
    """Keep the setups of a result, and their pictures, in place of those of the last one.

    A result without setups (a pull that was set by hand) leaves none.
    """
    forget(scene)
    entries = report.get("setups") or ()
    for row, entry in enumerate(entries):
        kept = results.of(scene).setups.add()
        kept.number, kept.measured, kept.direction = entry["number"], entry["taken"], entry["direction"]
        kept.name = f"{entry['number']}: Pull {way_words(entry['direction'])}"
        kept.words, kept.more = _words(entry), _more(entry)
        if images is not None and row < len(images):
            kept.picture = picture(f"Setup {entry['number']}", images[row])


def forget(scene: bpy.types.Scene) -> None:
    """Take the setups and their pictures away."""
    kept = results.of(scene)
    for one in kept.setups:
        if one.picture is not None:
            bpy.data.images.remove(one.picture)
    kept.setups.clear()


def is_taken(scene: bpy.types.Scene, number: int) -> bool:
    """Whether the settings ask for this setup."""
    return int(settings.of(scene).pull.setup) == number


def take(scene: bpy.types.Scene, number: int) -> None:
    """Ask for a setup from the next look or make on."""
    settings.of(scene).pull.setup = number


def _words(entry: dict[str, Any]) -> str:
    """Depth and height: 'sunk 12.0 mm, 40 mm tall'."""
    sunk = entry["sink_mm"]
    depth = f"sunk {sunk:.1f} mm" if sunk > 0.0 else "not sunk"
    return f"{depth}, {entry['height_mm']:.0f} mm tall"


def _more(entry: dict[str, Any]) -> str:
    """Its figures, short enough for five setups to stand on one screen."""
    fill, cut = (rounded(entry[f"{name}_volume_mm3"] / 1000.0, 3) for name in ("fill", "cut"))
    lines = [
        f"outline {entry['footprint_mm2'] / 100.0:.0f} cm²",
        f"fill {fill}, cut off {cut} cm³",
        f"trapped {rounded(entry['trapped_area_mm2'] / 100.0, 3)} cm²",
        f"buried or cut off {rounded(entry['detail_buried_mm2'] / 100.0, 3)} cm²",
        f"thinnest 5 %: about {percent(entry['thin_share'])}",
    ]
    return "\n".join(lines)
