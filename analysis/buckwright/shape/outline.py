"""Outlines seen from above: one closed piece from a slice, and the footprint of the base around it."""

from typing import Literal

import numpy as np
from manifold3d import CrossSection, OpType
from numpy.typing import NDArray

from buckwright.errors import JobError, SolidError
from buckwright.shape.loft import SAGITTA_MM, grown

__all__ = [
    "FOOTPRINTS",
    "Footprint",
    "footprint",
    "joined_outline",
    "rounded_inside",
    "smallest_circle",
    "solid_outline",
    "without_holes",
]

type Footprint = Literal["outline", "rectangle", "circle"]

FOOTPRINTS: tuple[Footprint, ...] = ("outline", "rectangle", "circle")


def solid_outline(section: CrossSection, *, gap_mm: float = 0.0, crumb_mm2: float = 0.01) -> CrossSection:
    """One outline without holes around a slice or silhouette, simplified by 0.005 mm.

    Parameters
    ----------
    section : CrossSection, mm
        What the part covers at its foot; may have holes, crumbs and several pieces.
    gap_mm : float, >= 0
        Clefts and gaps narrower than this are closed before anything else is tried.
    crumb_mm2 : float, >= 0
        Pieces no larger than this are numerical crumbs of the slice and are dropped.

    Returns
    -------
    CrossSection : mm, one piece without holes

    Raises
    ------
    SolidError
        Nothing of the section is left.

    Notes
    -----
    Separate pieces are joined by `joined_outline`. The outline covers the section (less crumbs) to within the
    0.005 mm of the simplification.
    """
    pieces = [without_holes(part) for part in section.decompose()]
    kept = [part for part in pieces if part.area() > crumb_mm2]
    if not kept:
        raise SolidError("the part has no foot: its outline at the base is empty; sink it deeper")
    joined = CrossSection.batch_boolean(kept, OpType.Add)
    if gap_mm > 0:
        joined += grown(grown(joined, gap_mm / 2), -gap_mm / 2)
    return without_holes(joined_outline(joined)).simplify(SAGITTA_MM)


def joined_outline(section: CrossSection) -> CrossSection:
    """Join loose pieces: the smallest closing (grow, then shrink) that does it, else the convex hull.

    Parameters
    ----------
    section : CrossSection, mm

    Returns
    -------
    CrossSection : mm, one piece; `section` itself where it is one piece already

    Notes
    -----
    The closing distance doubles from 0.5 mm and stops at a quarter of the largest extent; beyond that the
    hull makes the simpler plate.
    """
    if len(section.decompose()) <= 1:
        return section
    x0, y0, x1, y1 = section.bounds()
    reach = 0.5
    while reach <= max(x1 - x0, y1 - y0) / 4:
        closed = section + grown(grown(section, reach), -reach)
        if len(closed.decompose()) == 1:
            return closed
        reach *= 2
    return section.hull()


def rounded_inside(outline: CrossSection, radius_mm: float) -> CrossSection:
    """Fill concave corners and clefts of an outline with arcs of at least `radius_mm`.

    Parameters
    ----------
    outline : CrossSection, mm
    radius_mm : float
        0 or less changes nothing.

    Returns
    -------
    CrossSection : mm, covers `outline`, no holes where `radius_mm` is over 0

    Notes
    -----
    Grown by up to that radius, the result keeps every one of its sides: no corner is swallowed, so walls
    lofted through such outlines keep their draft everywhere.
    """
    if radius_mm <= 0:
        return outline
    return without_holes(outline + grown(grown(outline, radius_mm), -radius_mm))


def footprint(
    outline: CrossSection, *, kind: Footprint, land_mm: float, corner_mm: float = 10.0
) -> CrossSection:
    """Outline of a base plate that leaves at least `land_mm` all round.

    Parameters
    ----------
    outline : CrossSection, mm
        What the plate must carry.
    kind : 'outline', 'rectangle' or 'circle'
        The outline grown by the land, the box around it with rounded corners, or the smallest circle.
    land_mm : float, >= 0
    corner_mm : float, >= 0
        Corner radius of the rectangle; limited to half of its shorter side. Where the rounding would
        cut into the land, the box is widened.

    Returns
    -------
    CrossSection : mm, one outline around `outline`

    Raises
    ------
    JobError
        Unknown kind, or a negative size.
    """
    if kind not in FOOTPRINTS:
        raise JobError(f"the footprint must be one of {', '.join(FOOTPRINTS)}, got {kind!r}")
    if not (land_mm >= 0 and corner_mm >= 0):
        raise JobError(f"land and corner radius must not be negative, got {land_mm:g} and {corner_mm:g} mm")
    ground = grown(outline, land_mm)
    if kind == "outline":
        return without_holes(ground)
    if kind == "circle":
        centre, radius = smallest_circle(np.concatenate(ground.to_polygons()))
        # Widened so that the sides of the polygon, not only its corners, stay outside the land.
        segments = 4 * int(np.ceil(np.pi / (4 * np.arccos(1 - SAGITTA_MM / max(radius, 1.0)))) + 3)
        return CrossSection.circle(radius / np.cos(np.pi / segments), segments).translate(tuple(centre))
    return _rounded_box(ground, corner_mm)


def smallest_circle(points: NDArray[np.float64]) -> tuple[NDArray[np.float64], float]:
    """Smallest circle around points.

    Parameters
    ----------
    points : (N, 2) float64, mm, N >= 1

    Returns
    -------
    (2,) float64, float : centre and radius, mm

    Notes
    -----
    Incremental search on the convex hull (E. Welzl, "Smallest enclosing disks", LNCS 555, 1991), which is
    linear on average; the order is fixed, so the same points give the same circle.

    Examples
    --------
    >>> import numpy as np
    >>> centre, radius = smallest_circle(np.array([(0.0, 0.0), (6.0, 0.0), (6.0, 8.0), (0.0, 8.0)]))
    >>> [round(float(value), 6) for value in (*centre, radius)]
    [3.0, 4.0, 5.0]
    """
    hull = CrossSection.hull_points(np.ascontiguousarray(points, dtype=np.float64))
    flat = hull.area() <= 1e-9
    corners = np.unique(points, axis=0) if flat else np.concatenate(hull.to_polygons())
    corners = corners[np.random.default_rng(0).permutation(len(corners))]
    centre, radius = corners[0], 0.0
    for i in range(1, len(corners)):
        if _outside(corners[i], centre, radius):
            centre, radius = _circle_with(corners[:i], corners[i])
    return centre, radius


def _circle_with(points: NDArray[np.float64], on: NDArray[np.float64]) -> tuple[NDArray[np.float64], float]:
    centre, radius = on, 0.0
    for j in range(len(points)):
        if not _outside(points[j], centre, radius):
            continue
        centre, radius = (points[j] + on) / 2, float(np.linalg.norm(points[j] - on)) / 2
        for k in range(j):
            if _outside(points[k], centre, radius):
                centre = _circumcentre(on, points[j], points[k])
                radius = float(np.linalg.norm(on - centre))
    return centre, radius


def _outside(point: NDArray[np.float64], centre: NDArray[np.float64], radius: float) -> bool:
    return bool(np.linalg.norm(point - centre) > radius * (1 + 1e-12) + 1e-12)


def _circumcentre(
    a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]
) -> NDArray[np.float64]:
    sides = 2 * np.stack([b - a, c - a])
    squares = np.array([b @ b - a @ a, c @ c - a @ a])
    # Least squares also answers for three points on a line, which no circle passes through.
    centre: NDArray[np.float64] = np.linalg.lstsq(sides, squares, rcond=None)[0]
    return centre


def _rounded_box(ground: CrossSection, corner_mm: float) -> CrossSection:
    x0, y0, x1, y1 = ground.bounds()
    corner = min(corner_mm, (x1 - x0) / 2, (y1 - y0) / 2)
    for widen in (0.0, corner * (1 - np.sqrt(0.5))):
        size = (x1 - x0 + 2 * (widen - corner), y1 - y0 + 2 * (widen - corner))
        core = CrossSection.square((max(size[0], 1e-6), max(size[1], 1e-6)), True)
        box = grown(core, corner).translate(((x0 + x1) / 2, (y0 + y1) / 2))
        if (ground - box).area() <= 1e-6 * ground.area():
            break
    return box


def without_holes(section: CrossSection) -> CrossSection:
    """The section with every hole filled.

    Parameters
    ----------
    section : CrossSection, mm

    Returns
    -------
    CrossSection : mm; empty where `section` is empty

    Examples
    --------
    >>> frame = CrossSection.square((4.0, 4.0), True) - CrossSection.square((2.0, 2.0), True)
    >>> round(frame.area(), 6), round(without_holes(frame).area(), 6)
    (12.0, 16.0)
    """
    filled = [CrossSection([polygon]) for polygon in section.to_polygons() if _signed_area(polygon) > 0]
    return CrossSection.batch_boolean(filled, OpType.Add) if filled else CrossSection()


def _signed_area(polygon: NDArray[np.float64]) -> float:
    x, y = polygon.T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2
