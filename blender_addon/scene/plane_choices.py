"""The planes that could halve a sculpt: kept with their pictures, one taken, one as an empty to be moved."""

import json
from collections.abc import Sequence
from typing import Any

import bpy
import numpy as np
from mathutils import Vector
from numpy.typing import NDArray

from ..bridge.library import percent, rounded, way_words
from ..bridge.units import mm_per_unit
from . import hand_marks, results, settings
from .pictures import picture
from .result_objects import delete, hide, part_of
from .settings import identifier

__all__ = ["forget", "is_taken", "moved_plane", "record", "take"]

_WIDE, _FLAT = 0.6, 0.001
"""Half the width of the empty as a share of the sculpt's longest side, and its height as a share of that."""

type Box = tuple[Sequence[float], Sequence[float]]


def record(
    scene: bpy.types.Scene,
    report: dict[str, Any],
    images: NDArray[np.uint8] | None,
    *,
    scale: float,
    box: Box,
) -> None:
    """Keep the planes of a result, in place of those of the last one, and put the empty into the one taken.

    Parameters
    ----------
    scale : by how much the job makes the sculpt larger than it is drawn
    box : lowest and highest corner of the sculpt as it is drawn, Blender units
    """
    forget(scene)
    kept = results.of(scene)
    kept.halved_box = json.dumps([list(corner) for corner in box])
    taken = 1
    for row, entry in enumerate(report["halves"]["planes"]):
        one = kept.planes.add()
        one.number, one.normal = entry["number"], entry["normal"]
        one.offset_mm = entry["offset_mm"] / scale
        one.name = f"{entry['number']}: Across {way_words(entry['normal'])}"
        one.words, one.more = f"at {entry['offset_mm']:.1f} mm", _more(entry)
        if images is not None and row < len(images):
            one.picture = picture(f"Plane {entry['number']}", images[row])
        taken = entry["number"] if entry["taken"] else taken
    _put(scene, taken)


def forget(scene: bpy.types.Scene) -> None:
    """Take the planes, their pictures and the empty away."""
    kept = results.of(scene)
    for one in kept.planes:
        if one.picture is not None:
            bpy.data.images.remove(one.picture)
    kept.planes.clear()
    for old in results.objects(scene, "PLANE"):
        delete(old)


def is_taken(scene: bpy.types.Scene, number: int) -> bool:
    """Whether the settings ask for this plane, and the empty was not moved away from it."""
    own, given = settings.of(scene).halves, len(results.of(scene).planes) == 1
    return (given or (own.normal == "SEARCH" and int(own.plane) == number)) and moved_plane(scene) is None


def take(scene: bpy.types.Scene, number: int) -> None:
    """Ask for a plane from the next halving on, and put the empty there."""
    own = settings.of(scene).halves
    if len(results.of(scene).planes) > 1:  # one alone was given
        own.normal, own.plane, own.auto_offset_mm = identifier("search"), number, True
    _put(scene, number)


def _put(scene: bpy.types.Scene, number: int) -> None:
    """Put the empty into a plane, in the middle of the sculpt; it is made where there is none."""
    one = next(one for one in results.of(scene).planes if one.number == number)
    low, high = (Vector(corner) for corner in json.loads(results.of(scene).halved_box))
    across, middle = Vector(one.normal).normalized(), (low + high) / 2.0
    found = results.objects(scene, "PLANE")
    empty = found[0] if found else _new(scene)
    empty.empty_display_size = _WIDE * float(max(*(high - low)))
    empty.location = middle + across * (one.offset_mm / mm_per_unit(scene) - middle.dot(across))
    empty.rotation_quaternion = across.to_track_quat("Z", "Y")
    empty.scale = (1.0, 1.0, _FLAT)
    empty["buckwright_put"] = hand_marks.stands(empty)
    hide(empty, hidden=False)


def _new(scene: bpy.types.Scene) -> bpy.types.Object:
    empty = bpy.data.objects.new("Halving Plane", None)
    results.claim(scene, empty, "PLANE")
    part_of(scene, "lines").objects.link(empty)
    empty.empty_display_type = "CUBE"
    empty.rotation_mode = "QUATERNION"
    empty.show_in_front = True
    empty.hide_render = True
    return empty


def moved_plane(scene: bpy.types.Scene) -> bpy.types.Object | None:
    """The empty, where it was turned or moved since it was put."""
    for empty in results.objects(scene, "PLANE"):
        if hand_marks.stands(empty) != hand_marks.was_put(empty):
            return empty
    return None


def _more(entry: dict[str, Any]) -> str:
    """Its figures, short."""
    tall = " and ".join(f"{height:.0f}" for height in entry["height_mm"])
    lines = [
        f"halves {tall} mm tall",
        f"fill {rounded(entry['fill_volume_mm3'] / 1000.0, 3)} cm³",
        f"trapped {rounded(entry['trapped_area_mm2'] / 100.0, 3)} cm²",
        f"hidden {percent(entry['hidden_share'])}, seam {percent(entry['seam_share'])}",
        *(["mirror images"] if entry["symmetrical"] else []),
    ]
    return "\n".join(lines)
