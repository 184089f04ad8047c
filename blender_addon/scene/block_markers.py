"""The markers of take-up blocks: circles on their tops, that can be moved and scaled by hand."""

import math
from collections.abc import Sequence
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix
from numpy.typing import NDArray

from . import hand_marks, results, settings
from .placement import Placement
from .result_objects import blender_matrix, delete, part_of

__all__ = ["add", "add_by_hand", "forget", "place", "write"]

_RADIUS_MM = 4.0
"""Of a block whose radius nobody says, as the library makes it."""
_ACROSS = Matrix.Rotation(-math.pi / 2.0, 4, "X")
"""An empty's circle lies across its own Y."""


def add(
    scene: bpy.types.Scene, placement: Placement, name: str, *, at: Sequence[float], radius_mm: float
) -> bpy.types.Object:
    """Put a circle where the top of a block is.

    Parameters
    ----------
    at : middle of the top in the world, Blender units
    radius_mm : of the block
    """
    marker = bpy.data.objects.new(name, None)
    marker.empty_display_type = "CIRCLE"
    marker.empty_display_size = radius_mm * placement.drawn / placement.mm
    marker.show_in_front = True
    marker.rotation_euler = (blender_matrix(placement.matrix()) @ _ACROSS).to_euler()
    marker.location = at
    marker[hand_marks.BLOCK] = True
    results.claim(scene, marker, "BLOCK")
    part_of(scene, "blocks").objects.link(marker)
    return marker


def add_by_hand(scene: bpy.types.Scene, at: Sequence[float]) -> bpy.types.Object:
    """Put a block over a place of the flange, its top as far below the trim line as the settings say.

    Parameters
    ----------
    at : in the world, Blender units
    """
    placement, own = Placement.of(scene), settings.of(scene)
    top = placement.to_buck(np.array([[*at]], np.float64))
    if (trim := _trim_mm(scene, placement)) is not None:
        top[0, 2] = trim - own.take_up.below_trim_mm
    own.blocks_by_hand = True
    name = f"Take-Up Block {len(hand_marks.block_objects(scene)) + 1:02d}"
    return add(scene, placement, name, at=placement.to_world(top)[0].tolist(), radius_mm=_usual_mm(scene))


def _usual_mm(scene: bpy.types.Scene) -> float:
    """Radius of a block of which only the place is given."""
    own = settings.of(scene).take_up
    return _RADIUS_MM if own.auto_radius_mm else float(own.radius_mm)


def _trim_mm(scene: bpy.types.Scene, placement: Placement) -> float | None:
    """Height of the lowest place of the trim line in the buck's frame; None without one."""
    heights = [
        float(point.co[2]) * placement.mm
        for curve in results.objects(scene, "TRIM")
        for spline in curve.data.splines  # type: ignore[union-attr]
        for point in spline.points
    ]
    return min(heights, default=None)


def write(scene: bpy.types.Scene, arrays: dict[str, NDArray[Any]], placement: Placement) -> None:
    """Mark the blocks of a result; the markers of the last one go."""
    rows = np.asarray(arrays.get("blocks", np.zeros((0, 4))), np.float64)
    place(scene, np.column_stack([placement.buck_to_sculpt(rows[:, :3]), rows[:, 3]]), placement)


def place(scene: bpy.types.Scene, tops: NDArray[np.float64], placement: Placement) -> None:
    """Mark blocks by their tops in the sculpt's coordinates and their radius, (B, 4), mm."""
    _remove(scene)
    world = placement.to_world(placement.sculpt_to_buck(tops[:, :3]))
    for number, (row, at) in enumerate(zip(tops.tolist(), world.tolist(), strict=True), start=1):
        marker = add(
            scene, placement, f"Take-Up Block {number:02d}", at=at, radius_mm=row[3] or _usual_mm(scene)
        )
        marker["buckwright_at_mm"] = row
        hand_marks.put(marker)


def forget(scene: bpy.types.Scene) -> None:
    """Take the markers away; the next buck has its blocks sought."""
    _remove(scene)
    results.let_go(scene)


def _remove(scene: bpy.types.Scene) -> None:
    for old in (*results.objects(scene, "BLOCK"), *hand_marks.copies(scene, hand_marks.BLOCK)):
        delete(old)
