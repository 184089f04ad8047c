"""The cavity of a hollow buck: the solid's own height, taken in by a ball, less ribs and what must stay.

A buck rises from the platen without undercuts, so its inside is a height over the plane. That height is
eroded by a ball whose radius is the wall: every point of the cavity then keeps the wall from the surface in
all directions, not only upwards. The raster errs on the thick side: heights are the lowest around each pixel,
and the ball is larger by a pixel.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from manifold3d import CrossSection, JoinType, Manifold, OpType
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial.transform import Rotation

from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.shape.height_solid import closed_below
from buckwright.shape.hollow.holes import Hole
from buckwright.shape.solid import as_solid
from buckwright.shape.solid_height import solid_height

__all__ = ["BELOW_MM", "Cavity", "Kept", "plan_cavity", "rib_places"]

BELOW_MM = 1.0
"""How far the cavity starts below the platen; no other tool starts there, so that no two floors coincide."""
_LEAST_HIGH_MM = 5.0
"""A lower cavity is not worth its roof; house rule."""
_LEAST_MM3 = 200.0  # a smaller part of the cavity stays filled; house rule
_FINEST_MM, _MOST_PIXELS = 0.8, 400_000
_FLAT_MM = 0.02
"""How far the cavity's faces may move when their number is reduced, inwards of the extra pixel."""
_NOTCH_MM, _NOTCH_HIGH_MM = 6.0, 2.5  # as wide and high as a channel for air; house rule
_SEGMENTS = 32


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """What stays solid inside.

    Attributes
    ----------
    beads : for each vent and fixing its spheres (N, 4): x, y, z, radius, mm
    letters : outline of lettering on the underside, seen from above
    """

    beads: Sequence[NDArray[np.float64]]
    letters: CrossSection


@dataclass(frozen=True, slots=True, eq=False)
class Cavity:
    """What `plan_cavity` made.

    Attributes
    ----------
    solid : to subtract from the buck; it reaches below z = 0 where it is open
    spacing_mm : between ribs; 0 without
    grooves : how many grooves of its own let its air out
    pours, airs : holes through its floor, to pour through and to let the air out; none without a floor
    """

    solid: Manifold
    spacing_mm: float
    grooves: int = 0
    pours: tuple[Hole, ...] = ()
    airs: tuple[Hole, ...] = ()

    @property
    def volume_mm3(self) -> float:
        """What is left out of the buck, channels and bores counted with it."""
        return float(self.solid.trim_by_plane((0.0, 0.0, 1.0), 0.0).volume())


def plan_cavity(
    columns: Columns,
    kept: Kept,
    *,
    wall_mm: float,
    rib_mm: float,
    spacing_mm: float,
) -> Cavity | None:
    """Plan the cavity of a buck.

    Parameters
    ----------
    columns : of the undrilled buck, standing on z = 0
    kept : vents, fixings and letters, which keep a wall around them
    wall_mm : least thickness of the shell
    rib_mm, spacing_mm : thickness of the ribs and distance between their middles; 0 for no ribs

    Returns
    -------
    Cavity or None
        None where there is no room for one.

    Notes
    -----
    Ribs run both ways over the whole cavity and have a notch at the platen in the middle of each cell, so
    that no cell is shut off: what is under vacuum on the outside is so within. Time grows with the area over
    the pixel squared and with the wall over the pixel squared.
    """
    low, high = columns.mesh.bounds
    size = (high - low)[:2]
    pixel = max(_FINEST_MM, float(np.sqrt(size.prod() / _MOST_PIXELS)))
    height, origin = _eroded(columns, low, size, pixel, wall_mm)
    block = _block(height, origin, pixel)
    if block is None:
        return None
    solid = block
    if spacing_mm > 0.0:
        ribs, notches = _ribs(block, rib_mm, spacing_mm)
        if ribs:
            solid = block - Manifold.batch_boolean(ribs, OpType.Add)
            solid = solid + (block ^ Manifold.batch_boolean(notches, OpType.Add))
    stays = _pillars(kept, float(height.max()), wall_mm)
    if stays:
        solid = solid - Manifold.batch_boolean(stays, OpType.Add)
    whole = [part for part in solid.decompose() if part.volume() > _LEAST_MM3]
    return Cavity(Manifold.batch_boolean(whole, OpType.Add), spacing_mm) if whole else None


def rib_places(low: float, high: float, spacing_mm: float) -> NDArray[np.float64]:
    """Middles of ribs that divide a span into even cells no wider than the spacing.

    Parameters
    ----------
    low, high : ends of the span, mm
    spacing_mm : widest cell, > 0

    Returns
    -------
    (N,) float64, mm

    Examples
    --------
    >>> rib_places(0.0, 100.0, 30.0).tolist()
    [25.0, 50.0, 75.0]
    """
    count = int(np.ceil((high - low) / spacing_mm - 1e-9))
    return low + (high - low) * np.arange(1, count) / count


def _eroded(
    columns: Columns, low: NDArray[np.float64], size: NDArray[np.float64], pixel: float, wall: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Height of the cavity on a raster, and the place of its first point."""
    wide, deep = (int(np.ceil(side / pixel)) + 3 for side in size)
    origin = low[:2] - pixel
    x, y = origin[0] + np.arange(wide) * pixel, origin[1] + np.arange(deep) * pixel
    grid = np.stack(np.meshgrid(x, y), axis=-1)
    top = solid_height(columns, grid.reshape(-1, 2)).reshape(deep, wide)
    top = ndimage.minimum_filter(np.where(np.isfinite(top), top, 0.0), size=3)
    radius = wall + pixel
    reach = int(np.ceil(radius / pixel))
    steps = np.arange(-reach, reach + 1) * pixel
    away = np.hypot(*np.meshgrid(steps, steps))
    inside = away <= radius
    ball = np.sqrt(np.maximum(radius**2 - away**2, 0.0))
    return ndimage.grey_erosion(top, footprint=inside, structure=ball, mode="constant"), origin


def _block(height: NDArray[np.float64], origin: NDArray[np.float64], pixel: float) -> Manifold | None:
    """The solid under the raster, where it is high enough."""
    high = height >= _LEAST_HIGH_MM
    cells = high[:-1, :-1] | high[:-1, 1:] | high[1:, :-1] | high[1:, 1:]
    if not cells.any():
        return None
    rows, columns = height.shape
    index = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = (one[cells] for one in (index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]))
    corners = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    used, faces = np.unique(corners, return_inverse=True)
    plane = origin + np.column_stack([used % columns, used // columns]) * pixel
    z = np.where(height.ravel()[used] >= _LEAST_HIGH_MM, height.ravel()[used], -0.5 * BELOW_MM)
    mesh: Mesh = closed_below(plane, z, faces.reshape(-1, 3).astype(np.int32), -BELOW_MM)
    return as_solid(mesh).simplify(_FLAT_MM)


def _pillars(kept: Kept, tall: float, wall: float) -> list[Manifold]:
    """Solid around vents and fixings, and over the letters."""
    pillars = _around(kept, wall)
    if not kept.letters.is_empty():
        pad = kept.letters.hull().offset(wall, JoinType.Round, 2.0, _SEGMENTS)
        pillars.append(pad.extrude(tall + 2.0 * BELOW_MM).translate((0.0, 0.0, -BELOW_MM)))
    return pillars


def _around(kept: Kept, wall: float) -> list[Manifold]:
    """A stout rod around each vent and fixing, down to the platen."""
    rods = []
    for beads in kept.beads:
        radius = float(beads[:, 3].max()) + wall
        turns = _corners(beads[:, :3])
        for a, b in pairwise(turns):
            low, high = sorted((a, b), key=lambda end: float(end[2]))
            rods.append(_rod(low, high, radius))
        foot = beads[int(beads[:, 2].argmin())]
        rods.append(_rod(np.array([foot[0], foot[1], -2.0 * BELOW_MM]), foot, radius))
    return rods


def _rod(one: NDArray[np.float64], other: NDArray[np.float64], radius: float) -> Manifold:
    """A round rod with round ends; the hull of two balls comes out with folds at times."""
    along = other[:3] - one[:3]
    length = float(np.linalg.norm(along))
    outer = radius / np.cos(np.pi / _SEGMENTS)  # its flats keep the radius
    arc = np.linspace(0.0, np.pi / 2.0, _SEGMENTS // 4 + 1)
    cap = outer * np.column_stack([np.cos(arc), np.sin(arc)])
    cap[-1, 0] = 0.0
    outline = CrossSection([np.concatenate([cap[::-1] * (1.0, -1.0), cap + np.array([0.0, length])])])
    turn = Rotation.align_vectors(along / length, (0.0, 0.0, 1.0))[0] if length > 0.0 else Rotation.identity()
    return Manifold.revolve(outline, _SEGMENTS).transform(np.column_stack([turn.as_matrix(), one[:3]]))


def _corners(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """The ends of a broken line and the points at which it turns."""
    if len(points) < 3:
        return points
    steps = np.diff(points, axis=0)
    steps = steps / np.maximum(np.linalg.norm(steps, axis=1), 1e-12)[:, None]
    turns = np.flatnonzero(np.einsum("ij,ij->i", steps[1:], steps[:-1]) < 0.999) + 1
    return points[[0, *turns, len(points) - 1]]


def _ribs(block: Manifold, rib: float, spacing: float) -> tuple[list[Manifold], list[Manifold]]:
    """Ribs both ways, and a notch through each in the middle of each cell."""
    x0, y0, _, x1, y1, top = block.bounding_box()
    across, along = rib_places(x0, x1, spacing), rib_places(y0, y1, spacing)
    tall = top + 2.0 * BELOW_MM
    ribs = [_box((x, (y0 + y1) / 2.0), (rib, y1 - y0 + 2.0), tall) for x in across]
    ribs += [_box(((x0 + x1) / 2.0, y), (x1 - x0 + 2.0, rib), tall) for y in along]
    middles_x = (np.array([x0, *across]) + np.array([*across, x1])) / 2.0
    middles_y = (np.array([y0, *along]) + np.array([*along, y1])) / 2.0
    through, low = rib + 2.0, _NOTCH_HIGH_MM + BELOW_MM
    notches = [_box((x, y), (through, _NOTCH_MM), low) for x in across for y in middles_y]
    notches += [_box((x, y), (_NOTCH_MM, through), low) for x in middles_x for y in along]
    return ribs, notches


def _box(middle: tuple[float, float], size: tuple[float, float], tall: float) -> Manifold:
    body = Manifold.cube((size[0], size[1], tall), center=False)
    return body.translate((middle[0] - size[0] / 2.0, middle[1] - size[1] / 2.0, -BELOW_MM))
