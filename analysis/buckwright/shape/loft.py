"""A solid through a stack of level outlines, each inside the one below it."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from manifold3d import CrossSection, Error, JoinType, Manifold, Mesh64, triangulate
from numpy.typing import NDArray

from buckwright.errors import SolidError
from buckwright.shape.even_ring import spread_evenly

__all__ = ["grown", "loft"]

Polygons = list[NDArray[np.float64]]

SEAT_MM = 1e-3
"""How far a level is pushed out where it would touch the level above: numerical clearance only."""
SAGITTA_MM = 0.005
"""Chord error of rounded corners; less than a printer or a sheet can show."""
_SPARED = 0.6
"""Share of that by which a corner may stand out and still be left out."""


def grown(outline: CrossSection, distance_mm: float) -> CrossSection:
    """Offset an outline with round corners fine enough to stay within 0.01 mm of true arcs.

    Parameters
    ----------
    outline : CrossSection, mm
    distance_mm : float
        Outward when positive, inward when negative.

    Returns
    -------
    CrossSection : mm; `outline` itself for a distance of 0
    """
    if distance_mm == 0.0:
        return outline
    reach = max(abs(distance_mm), 4 * SAGITTA_MM)
    segments = 4 * int(np.ceil(np.pi / (4 * np.arccos(1 - SAGITTA_MM / reach))) + 3)
    moved = outline.offset(distance_mm, JoinType.Round, circular_segments=segments)
    return moved.simplify(_SPARED * min(SAGITTA_MM, abs(distance_mm)))


def loft(levels: Sequence[tuple[float, CrossSection]]) -> Manifold:
    """Solid through level outlines, top first, each inside (or equal to) the one below it.

    Parameters
    ----------
    levels : sequence of (z_mm, CrossSection)
        Heights strictly falling. An outline may have holes and several pieces; a lower one must cover the
        upper one. Equal outlines give an upright wall; where an outline merely touches the next, the lower
        one is pushed out by 0.001 mm.

    Returns
    -------
    Manifold
        Closed solid, flat at the first and the last level.

    Raises
    ------
    SolidError
        Fewer than two levels, an empty outline, heights that do not fall, or an outline that is not inside
        the one below.

    Notes
    -----
    The side between two levels is the constrained triangulation of the ring between their contours seen from
    above, lifted to the two heights: no vertex is added, so neighbours share every edge.

    Examples
    --------
    >>> square = CrossSection.square((10.0, 10.0), True)
    >>> round(loft([(5.0, square), (0.0, square)]).volume(), 6)
    500.0
    """
    _check_heights(levels)
    heights = [z for z, _ in levels]
    stack = [polygons.to_polygons() for polygons in _seated([outline for _, outline in levels])]
    counts = [sum(map(len, polygons)) for polygons in stack]
    starts = np.concatenate([[0], np.cumsum(counts)])
    points = np.concatenate(
        [np.column_stack([np.concatenate(p), np.full(n, z)]) for z, p, n in zip(heights, stack, counts)]
    )
    faces = [triangulate(stack[0]), triangulate(stack[-1])[:, ::-1] + starts[-2]]
    for i in range(len(stack) - 1):
        faces.append(_side(stack[i], stack[i + 1], int(starts[i]), int(starts[i + 1])))
    return _closed(points, np.concatenate(faces))


def _check_heights(levels: Sequence[tuple[float, CrossSection]]) -> None:
    if len(levels) < 2:
        raise SolidError(f"a loft needs at least two levels, got {len(levels)}")
    for (upper, outline), (lower, below) in pairwise(levels):
        if not lower < upper:
            raise SolidError(f"the levels of a loft must go down, got {lower:g} mm after {upper:g} mm")
        if outline.is_empty() or below.is_empty():
            raise SolidError(f"the outline at {upper:g} or {lower:g} mm is empty")


def _seated(outlines: list[CrossSection]) -> list[CrossSection]:
    """Give every level clearance around the one above it, or make the two equal."""
    seated = [outlines[0]]
    for outline in outlines[1:]:
        above = seated[-1]
        if (outline ^ above).area() < 0.999 * above.area():
            raise SolidError(
                "an outline of the loft leaves the one below it; each level must cover the one above"
            )
        if abs((outline - above).area()) + abs((above - outline).area()) < 1e-9 * above.area():
            seated.append(above)
            continue
        room = above.offset(SEAT_MM, JoinType.Miter)
        clear = abs((room - outline).area()) <= 1e-9 * above.area()
        seated.append(outline if clear else outline + room)
    return seated


def _side(upper: Polygons, lower: Polygons, first_upper: int, first_lower: int) -> NDArray[np.int64]:
    if len(upper) == len(lower) and all(np.array_equal(a, b) for a, b in zip(upper, lower)):
        return _upright(upper, first_upper, first_lower)
    contours = [*lower, *(polygon[::-1] for polygon in upper)]
    ring = np.asarray(triangulate(contours), dtype=np.int64)
    points = np.concatenate(contours)
    # Ear clipping may cut flat ears off one contour where the other is near; the wall beside them is then
    # steeper than either contour calls for.
    ring = spread_evenly(points, ring, np.arange(len(points)) >= sum(map(len, lower)))
    # The upper contours were passed in reverse order, each within its own run of numbers.
    backwards = [
        np.arange(start + len(p) - 1, start - 1, -1)
        for start, p in zip(first_upper + np.cumsum([0, *map(len, upper[:-1])]), upper)
    ]
    numbers = np.concatenate([first_lower + np.arange(sum(map(len, lower))), *backwards])
    faces: NDArray[np.int64] = numbers[ring]
    return faces


def _upright(polygons: Polygons, first_upper: int, first_lower: int) -> NDArray[np.int64]:
    faces = []
    start = 0
    for polygon in polygons:
        here = start + np.arange(len(polygon))
        after = np.roll(here, -1)
        faces.append(np.column_stack([here + first_lower, after + first_lower, after + first_upper]))
        faces.append(np.column_stack([here + first_lower, after + first_upper, here + first_upper]))
        start += len(polygon)
    return np.concatenate(faces)


def _closed(points: NDArray[np.float64], faces: NDArray[np.int64]) -> Manifold:
    solid = Manifold(Mesh64(vert_properties=points, tri_verts=np.ascontiguousarray(faces, dtype=np.uint64)))
    if solid.status() != Error.NoError:
        raise SolidError(f"the loft is not a closed solid: {solid.status().name}")
    return solid
