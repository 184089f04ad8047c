"""Openings of a cavity: grooves that let its air out, or the holes through which it is cast full."""

from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, Manifold, OpType
from numpy.typing import NDArray

from buckwright.shape.hollow.cavity import BELOW_MM, Cavity
from buckwright.shape.hollow.holes import Hole
from buckwright.shape.loft import grown
from buckwright.shape.underside.channels import nearest_on
from buckwright.shape.underside.free_area import free_area

__all__ = ["Ground", "aired", "floored", "shut_off"]

_LOOK_MM = 0.5
_LEAST_MM2 = 1.0
"""Less than this is a sliver of the raster, not a cavity."""
_STEP_MM = 2.0
_PIXEL_MM = 0.5
_LEAST_POUR_MM, _AIR_MM = 8.0, 4.0
"""Plaster runs through no narrower hole; air holes that it does not close at once: house rules."""
_LEAST_AIR_MM = 1.5
"""A narrower hole closes up in printing: house rule."""
_SEGMENTS = 48


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What the underside of a buck looks like before it is hollowed.

    Attributes
    ----------
    outline : of what stands on the platen, mm
    grooves : what channels cover, reaching out beyond the outline at their exits
    keep_out : screw holes, magnets and letters with a wall around them
    platen_holes : (H, 2) float64, holes of the platen
    groove_mm : width and depth of a groove
    """

    outline: CrossSection
    grooves: CrossSection
    keep_out: CrossSection
    platen_holes: NDArray[np.float64]
    groove_mm: tuple[float, float]


def shut_off(cavity: Cavity, ground: Ground) -> list[CrossSection]:
    """Parts of a cavity that the platen closes: no channel leads from them out, or to a hole of the platen.

    Parameters
    ----------
    cavity : open beneath
    ground : the underside around it

    Returns
    -------
    list of CrossSection : each with the grooves that lead to it, on the platen
    """
    low = cavity.solid.slice(_LOOK_MM)
    shut = []
    for body in (low + grown(ground.grooves, 0.01)).decompose():
        inside = (body ^ low).area() > _LEAST_MM2
        out = (body - ground.outline).area() > _LEAST_MM2
        if inside and not out and not _over_a_hole(body, ground.platen_holes):
            shut.append(body)
    return shut


def aired(cavity: Cavity, ground: Ground) -> Cavity:
    """A cavity with a groove to the edge of the underside from each part that the platen would close.

    Parameters
    ----------
    cavity : open beneath
    ground : the underside around it

    Returns
    -------
    Cavity

    Notes
    -----
    A shut cavity holds its air while the sheet is drawn down: it presses the shell outwards, and once it has
    leaked away the shell alone bears the atmosphere. Each groove is the shortest straight one that keeps
    clear of fixings and letters, or the shortest at all where none does.
    """
    ways = [_way_out(body, ground) for body in shut_off(cavity, ground)]
    if not ways:
        return cavity
    outline = CrossSection.batch_boolean(ways, OpType.Add)
    groove = outline.extrude(ground.groove_mm[1] + BELOW_MM).translate((0.0, 0.0, -BELOW_MM))
    return Cavity(cavity.solid + groove, cavity.spacing_mm, grooves=len(ways))


def floored(cavity: Cavity, ground: Ground, *, wall_mm: float, pour_mm: float) -> Cavity | None:
    """A cavity with a floor, to be cast full: a hole to pour through, and holes that let the air out.

    Parameters
    ----------
    cavity : open beneath
    ground : the underside around it
    wall_mm : thickness of the floor, and of what stays around channels
    pour_mm : diameter of the pour hole; narrower where there is no room

    Returns
    -------
    Cavity or None
        None where no part of it has room for a pour hole; parts without one stay filled.

    Notes
    -----
    Cast with the underside up: the floor is then the ceiling, and the air leaves where it is highest. Each
    part of the ceiling between the walls of channels has an air hole, as far from the pour hole as it goes.
    """
    deep = ground.groove_mm[1]
    solid = cavity.solid.trim_by_plane((0.0, 0.0, 1.0), wall_mm)
    if not ground.grooves.is_empty():
        kept = grown(ground.grooves, wall_mm).extrude(deep + 2.0 * wall_mm).translate((0.0, 0.0, -wall_mm))
        solid = solid - kept
    bodies, pours, airs = [], [], []
    for body in solid.decompose():
        ceilings = body.slice(wall_mm + _LOOK_MM / 10.0).decompose()
        pour = _pour_hole(ceilings, pour_mm)
        if pour is None:
            continue
        bodies.append(body)
        pours.append(pour)
        airs += [hole for ceiling in ceilings for hole in _air_holes(ceiling, pour)]
    if not bodies:
        return None
    bores = [hole.outline().extrude(wall_mm + _LOOK_MM + BELOW_MM) for hole in (*pours, *airs)]
    through = Manifold.batch_boolean(bores, OpType.Add).translate((0.0, 0.0, -BELOW_MM))
    whole = Manifold.batch_boolean([*bodies, through], OpType.Add)
    return Cavity(whole, cavity.spacing_mm, pours=tuple(pours), airs=tuple(airs))


def _over_a_hole(body: CrossSection, holes: NDArray[np.float64]) -> bool:
    dot = CrossSection.circle(_LOOK_MM, 12)
    return any(not (body ^ dot.translate((float(x), float(y)))).is_empty() for x, y in holes)


def _way_out(body: CrossSection, ground: Ground) -> CrossSection:
    """A groove from a part of the cavity to beyond the nearest edge."""
    starts = _along(body)
    foot, far = nearest_on(starts, ground.outline)
    order = np.argsort(far, kind="stable")
    for n in order:
        way = _groove(starts[n], foot[n], ground.groove_mm[0])
        if (way ^ ground.keep_out).is_empty():
            return way
    return _groove(starts[order[0]], foot[order[0]], ground.groove_mm[0])


def _groove(start: NDArray[np.float64], end: NDArray[np.float64], width: float) -> CrossSection:
    """From inside the cavity to outside the buck."""
    along = end - start
    along = along / max(float(np.hypot(*along)), 1e-9) * width
    dot = CrossSection.circle(width / 2.0, _SEGMENTS)
    return CrossSection.batch_hull([dot.translate(tuple(place)) for place in (start - along, end + along)])


def _along(body: CrossSection) -> NDArray[np.float64]:
    """Points (N, 2) along the outline of a body, at most a step apart."""
    places = []
    for polygon in body.to_polygons():
        ring = np.asarray(polygon, np.float64)
        for one, other in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            count = max(int(np.ceil(np.hypot(*(other - one)) / _STEP_MM)), 1)
            places.append(one + (other - one) * (np.arange(count) / count)[:, None])
    return np.concatenate(places)


def _pour_hole(ceilings: list[CrossSection], wanted_mm: float) -> Hole | None:
    """Where there is most room."""
    best: Hole | None = None
    for ceiling in ceilings:
        ground = free_area(ceiling, pixel_mm=_PIXEL_MM)
        x, y, clear_mm = ground.peak(ground.clearance_mm())
        wide = min(2.0 * clear_mm, wanted_mm)
        if wide >= min(_LEAST_POUR_MM, wanted_mm) and (best is None or wide > best.diameter_mm):
            best = Hole(x, y, wide)
    return best


def _air_holes(ceiling: CrossSection, pour: Hole) -> list[Hole]:
    """The farthest place from the pour hole that has room."""
    ground = free_area(ceiling, pixel_mm=_PIXEL_MM)
    clear = ground.clearance_mm()
    far = np.hypot(*np.moveaxis(ground.centres() - (pour.x_mm, pour.y_mm), -1, 0))
    far = np.where(far > pour.diameter_mm / 2.0 + _AIR_MM, far, 0.0)
    for wide in (_AIR_MM, _LEAST_AIR_MM):
        free = np.where(clear >= wide / 2.0, far, 0.0)
        if free.any():
            x, y, _ = ground.peak(free)
            return [Hole(x, y, wide)]
    return []
