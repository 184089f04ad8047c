"""What a picture of the window shows, told from its pixels."""

from pathlib import Path

import bpy
import drive
import numpy as np
from bpy_extras import view3d_utils
from mathutils import Vector
from numpy.typing import NDArray

_CHROMA = 0.07
"""A pixel has a colour if its channels differ by this share of the largest; Blender's own grey has none."""
_SAME = 0.06
"""Channels that differ by less are alike."""

_LIT, _DARK, _QUIET = 0.55, 0.42, 0.46
"""Brightness of dots of a text, between them, and around them, on panels and buttons of the usual theme."""

_TINT = 0.15
_THREE_DOTS = 15
"""Three dots are less wide than this, in pixels; the grip of a list has more of them."""
_LETTER = 14
"""So near before the dots is the last letter, in pixels."""
_GUTTER = 8
"""Beside the panels, at the left of the sidebar, the viewport shines through too."""

type Picture = NDArray[np.float32]
type Box = tuple[int, int, int, int]


def read(path: Path) -> Picture:
    """A picture as (height, width, 3), 0..1, the first row at the bottom."""
    image = bpy.data.images.load(str(path), check_existing=False)
    try:
        width, height = image.size
        flat = np.empty(width * height * image.channels, np.float32)
        image.pixels.foreach_get(flat)
    finally:
        bpy.data.images.remove(image)
    return flat.reshape(height, width, -1)[..., :3]


def box_of(points: NDArray[np.floating], *, room: int = 0) -> Box:
    """Left, bottom, right and top in the window of places in the world, within the free viewport."""
    region, view = drive.main_region(), drive.viewport().spaces.active.region_3d
    found = [view3d_utils.location_3d_to_region_2d(region, view, Vector(one)) for one in points]
    places = np.array([(one.x + region.x, one.y + region.y) for one in found if one is not None])
    drive.expect(len(places), "it is behind the eye")
    low, high = places.min(axis=0) - room, places.max(axis=0) + room
    left, bottom = max(low[0], region.x + 1), max(low[1], region.y + 1)
    right = min(high[0], drive.sidebar().x - 1)
    return int(left), int(bottom), int(right), int(min(high[1], region.y + region.height - 60))


def corners(obj: bpy.types.Object) -> NDArray[np.float64]:
    """The corners of an object's box in the world."""
    return np.array([obj.matrix_world @ Vector(one) for one in obj.bound_box])


def coloured(picture: Picture, box: Box) -> float:
    """Share of the pixels of a box that have a colour."""
    part = _part(picture, box)
    most = part.max(axis=-1)
    return float(np.mean(most - part.min(axis=-1) > _CHROMA * most))


def alike(picture: Picture, box: Box, colour: tuple[float, ...]) -> int:
    """How many pixels of a box have a colour."""
    return int(np.sum(np.all(np.abs(_part(picture, box) - np.array(colour)) < _SAME, axis=-1)))


def cuts(picture: Picture, box: Box) -> list[tuple[int, int]]:
    """Where Blender has cut a text: three dots in a row behind a letter, and nothing above or below them.

    Between panels the viewport shines through, where wires may look like dots: no letter stands there.
    """
    left, bottom, right, top = box
    part = picture[bottom:top, left:right]
    # Texts are grey; what shines through between panels, the outline of an object, is not.
    light = np.where(np.ptp(part, axis=-1) < _TINT, part.max(axis=-1), 0.0)
    found: list[list[int]] = []  # left and right end, and row, of dots in a row
    for first, second in ((a, b) for a in range(3, 7) for b in range(a - 1, a + 2) if b > 2):
        span = first + second
        wide = light.shape[1] - span
        dots = np.all([light[:, k : k + wide] > _LIT for k in (0, first, span)], axis=0)
        for low, high in ((1, first), (first + 1, span)):
            dots &= np.min([light[:, k : k + wide] for k in range(low, high)], axis=0) < _DARK
        for y, x in zip(*(index.tolist() for index in np.nonzero(dots)), strict=True):
            around = light[max(y - 4, 0) : y + 9, x : x + span + 1]
            alone = len(around) == 13 and (around[:4] < _QUIET).all() and (around[6:] < _QUIET).all()
            if alone and (light[y + 3 : y + 7, max(x - _LETTER, _GUTTER) : x] > _LIT).any():
                _join(found, x, x + span, y)
    return [(left + x, bottom + y) for x, end, y in found if end - x < _THREE_DOTS]


def _join(found: list[list[int]], x: int, end: int, y: int) -> None:
    """Add dots to those that they overlap, or for themselves."""
    for one in found:
        if x <= one[1] and end >= one[0] and abs(y - one[2]) < 3:
            one[0], one[1] = min(x, one[0]), max(end, one[1])
            return
    found.append([x, end, y])


def _part(picture: Picture, box: Box) -> Picture:
    left, bottom, right, top = box
    drive.expect(right - left > 4 and top - bottom > 4, f"it is out of sight: {box}")
    return picture[bottom:top, left:right]
