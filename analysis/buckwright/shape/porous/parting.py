"""Which part of a buck is printed porous: a prism from the platen to the surface, where that is flat enough.

The porous part reaches down to the platen or to the cavity, so that air that enters it gets out beneath.
"""

from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, Manifold, OpType
from numpy.typing import NDArray
from scipy import ndimage

from buckwright.relief.raster import Relief
from buckwright.shape.loft import grown

__all__ = ["Parted", "part_porous", "porous_outline"]

_LEAST_MM2 = 25.0
"""Smaller islands stay closed: house rule."""
_BEYOND_MM = 1.0
_CRUMB_MM3 = 1.0
_SMOOTH_PIXELS = 1.0
"""How far corners of pixels are cut off: the outline only has to stay inside."""


@dataclass(frozen=True, slots=True, eq=False)
class Parted:
    """A buck in two bodies that meet without a gap.

    Attributes
    ----------
    closed : what is printed as usual
    porous : what is printed without skin
    outline : of the porous part, seen along the pull
    open_mm2 : area of its upper side, seen along the pull
    """

    closed: Manifold
    porous: Manifold
    outline: CrossSection
    open_mm2: float


def porous_outline(
    relief: Relief,
    part: CrossSection,
    *,
    trim_mm: float,
    cavity: bool,
    wall_mm: float,
    steepest_deg: float,
) -> CrossSection:
    """Where the top is flat enough to be porous.

    Parameters
    ----------
    relief : the buck without vents, seen down the pull
    part : outline of the part at its foot, mm
    trim_mm : height of the trim line
    cavity : whether the part lies below it, in a female mould
    wall_mm : closed wall along the outline
    steepest_deg : steepest surface that is made porous

    Returns
    -------
    CrossSection : mm; may be empty

    Notes
    -----
    Slopes are taken over three pixels; steep places no wider than two pixels are closed over, and so is what
    is left of flat places that narrow. The outline runs along pixels and is drawn in by one of them.
    """
    height = np.where(np.isfinite(relief.height), relief.height, 0.0)
    down, across = np.gradient(height, relief.pixel_mm)
    flat = np.hypot(down, across) <= np.tan(np.radians(steepest_deg))
    flat &= (height < trim_mm) if cavity else (height > trim_mm)
    flat = ndimage.binary_opening(flat, iterations=1)
    inside = grown(part, -wall_mm)
    found = grown(_over_pixels(flat, relief), -_SMOOTH_PIXELS * relief.pixel_mm) ^ inside
    islands = [island for island in found.decompose() if island.area() > _LEAST_MM2]
    return CrossSection.batch_boolean(islands, OpType.Add) if islands else CrossSection()


def part_porous(solid: Manifold, outline: CrossSection) -> Parted | None:
    """Cut a buck along the prism over an outline.

    Parameters
    ----------
    solid : the finished buck, standing on z = 0
    outline : from `porous_outline`

    Returns
    -------
    Parted or None
        None where nothing of the buck lies in the prism.
    """
    if outline.is_empty():
        return None
    tall = float(solid.bounding_box()[5]) + 2.0 * _BEYOND_MM
    prism = outline.extrude(tall).translate((0.0, 0.0, -_BEYOND_MM))
    porous, closed = solid.split(prism)
    if porous.volume() < _CRUMB_MM3:
        return None
    return Parted(closed=closed, porous=porous, outline=outline, open_mm2=float(outline.area()))


def _over_pixels(mask: NDArray[np.bool_], relief: Relief) -> CrossSection:
    """The pixels of a mask as an outline: a rectangle for each run along a row."""
    padded = np.pad(mask, ((0, 0), (1, 1))).astype(np.int8)
    steps = np.diff(padded, axis=1)
    rows, begins = np.nonzero(steps == 1)
    ends = np.nonzero(steps == -1)[1]
    if not len(rows):
        return CrossSection()
    side, (x0, y0) = relief.pixel_mm, relief.origin
    overlap = 0.01 * side  # rows reach into one another, so that their union is one piece
    runs = [
        CrossSection.square(((e - b) * side, side + 2.0 * overlap)).translate(
            (x0 + b * side, y0 + r * side - overlap)
        )
        for r, b, e in zip(rows.tolist(), begins.tolist(), ends.tolist(), strict=True)
    ]
    return CrossSection.batch_boolean(runs, OpType.Add)
