"""Leaning bores for places that have no room for an upright one: slanted ones first, then elbows."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from buckwright.relief.columns import Columns
from buckwright.shape.solid_height import solid_height
from buckwright.shape.vents.clearance import STEP_MM, Surroundings
from buckwright.shape.vents.face_hole import FaceHole
from buckwright.shape.vents.vent import BoreKind, BoreSizes, Leg

__all__ = ["NARROWER", "REACH_MM", "LeaningBore", "leaning_bores", "opens_once"]

NARROWER = (1.0, 0.75, 0.5)
"""Back-bores tried where the full one does not fit, as shares of it; house rule."""
REACH_MM = 20.0
"""Farthest that a bore runs sideways: house rule."""
_AZIMUTHS = 16
_TILT_SHARES = (1 / 3, 2 / 3, 1.0)
_MOUTH_MM = 1.0
"""Length, beyond half the width, over which a leaning hole may still be partly open to the face."""
_LEAST_LEG_MM = 1.0
"""Wide bore between the narrow hole and an elbow's knee."""


@dataclass(frozen=True, slots=True)
class LeaningBore:
    """A bore that fits: its leg, its diameter, and the height to which it is wide."""

    leg: Leg
    back_bore_mm: float
    bore_top_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class _Rays:
    """Axes from the face inwards.

    Attributes
    ----------
    points : (D, T, 3) at the distances `along` (T,)
    into, tilt_deg : (D, 3) unit vectors and (D,) their angles with the vertical
    room_mm : (D, T) distance to other bores
    narrow : (D, T) whether the narrow hole fits all the way from the face to here
    """

    points: NDArray[np.float64]
    along: NDArray[np.float64]
    into: NDArray[np.float64]
    tilt_deg: NDArray[np.float64]
    room_mm: NDArray[np.float64]
    narrow: NDArray[np.bool_]

    def chosen(self, some: NDArray[np.bool_]) -> "_Rays":
        """Only some of them."""
        return _Rays(
            self.points[some],
            self.along,
            self.into[some],
            self.tilt_deg[some],
            self.room_mm[some],
            self.narrow[some],
        )


def leaning_bores(
    face_mm: NDArray[np.float64], around: Surroundings, face: FaceHole, sizes: BoreSizes
) -> Iterator[LeaningBore]:
    """Bores that fit from a place on the face down to the channels, best first.

    Parameters
    ----------
    face_mm : (3,) place on the face, mm
    around : the solid round it
    face : the opening
    sizes : measures of the bores

    Yields
    ------
    LeaningBore : slanted ones before elbows; then the wider bore, the shorter narrow hole, the smaller tilt

    Notes
    -----
    From the face a leg leans inwards, narrow over a skin or more, then wide; at its knee an upright shaft
    takes over. A slanted bore's knee lies just over the channels, an elbow's where its leg is wide. The wide
    part keeps its wall everywhere. As with upright bores the narrow hole may break out of its wall only
    within one skin and half a width of the face.
    """
    if sizes.tilt_deg <= 0 or not np.isfinite(face_mm).all():
        return
    rays = _open_rays(_rays(face_mm, sizes), around, face, sizes)
    if not len(rays.into):
        return
    found: list[tuple[tuple[float, ...], LeaningBore]] = []
    for share in NARROWER:
        radius = share * sizes.back_bore_mm / 2
        if radius > face.width_mm / 2:
            found += _along(rays, around, face, sizes, radius)
    for _, bore in sorted(found, key=lambda entry: entry[0]):
        yield bore


def _rays(face_mm: NDArray[np.float64], sizes: BoreSizes) -> _Rays:
    azimuth = 2 * np.pi * np.arange(_AZIMUTHS) / _AZIMUTHS
    tilt = np.repeat(np.deg2rad(sizes.tilt_deg) * np.array(_TILT_SHARES), _AZIMUTHS)
    turn = np.tile(azimuth, len(_TILT_SHARES))
    into = np.column_stack([np.sin(tilt) * np.cos(turn), np.sin(tilt) * np.sin(turn), -np.cos(tilt)])
    longest = max(min(face_mm[2] / np.cos(tilt.max()), REACH_MM / np.sin(tilt.max())), STEP_MM)
    along = np.arange(0.0, longest + STEP_MM, STEP_MM)
    points = face_mm + along[None, :, None] * into[:, None, :]
    shape = points.shape[:2]
    return _Rays(points, along, into, np.rad2deg(tilt), np.zeros(shape), np.zeros(shape, np.bool_))


def _open_rays(rays: _Rays, around: Surroundings, face: FaceHole, sizes: BoreSizes) -> _Rays:
    """The rays along which at least the narrow hole finds its place, with how far it does."""
    along, wall, half = rays.along, sizes.wall_mm, face.reach_mm
    skin = max(wall, sizes.skin_mm) + half
    first = along < skin + 2 * STEP_MM
    start = rays.points[:, first]
    open_ = (along[first] < _MOUTH_MM + face.width_mm / 2)[None] | _hole_inside(rays, start, around, face)
    open_ &= around.room_mm(start) >= half + wall
    rays = rays.chosen(open_.all(1))
    room = around.room_mm(rays.points)
    bad = (along >= skin)[None] & ~around.inside(rays.points, half + wall)
    bad |= room < half + wall
    return replace(rays, room_mm=room, narrow=~np.logical_or.accumulate(bad, axis=1))


def _along(
    rays: _Rays, around: Surroundings, face: FaceHole, sizes: BoreSizes, radius: float
) -> list[tuple[tuple[float, ...], LeaningBore]]:
    """All bores of one radius that fit, each with its rank."""
    along, wall = rays.along, sizes.wall_mm
    wide = around.inside(rays.points, radius + wall) & (along >= sizes.skin_mm + radius)
    wide &= rays.room_mm >= radius + wall
    wide &= rays.points[..., 2] >= sizes.channel_depth_mm + radius + wall
    found: list[tuple[tuple[float, ...], LeaningBore]] = []
    for n in np.flatnonzero((wide & rays.narrow).any(1)):
        start = int(np.argmax(wide[n]))
        narrow = float(along[start]) - radius
        if not rays.narrow[n, start] or narrow > sizes.deepest_narrow_mm(face):
            continue
        stop = start + int(np.argmin(np.append(wide[n, start:], False)))
        found += _knees(rays, int(n), start, stop, narrow, radius, sizes)
    return found


def _knees(
    rays: _Rays, n: int, start: int, stop: int, narrow: float, radius: float, sizes: BoreSizes
) -> list[tuple[tuple[float, ...], LeaningBore]]:
    """Where a leg that is wide from node `start` up to `stop` may end: at the channels, early, half-way."""
    last, first = stop - 1, start + int(np.ceil(_LEAST_LEG_MM / STEP_MM))
    if last < first:
        return []
    # The next node would lie too near to the channels: the leg came down all the way.
    step = rays.points[n, 0, 2] - rays.points[n, 1, 2]
    lowest = sizes.channel_depth_mm + radius + sizes.wall_mm
    down = rays.points[n, last, 2] - lowest < step
    ends: list[tuple[BoreKind, int]] = [("slanted", last)] if down else []
    ends += [("elbow", knee) for knee in sorted({first, (first + last) // 2})]
    bore_top = float(rays.points[n, 0, 2] + narrow * rays.into[n, 2])
    made: list[tuple[tuple[float, ...], LeaningBore]] = []
    for kind, knee in ends:
        x, y, z = (float(value) for value in rays.points[n, knee])
        leg = Leg((x, y, z), narrow, kind)
        rank = (kind == "elbow", -radius, narrow, float(rays.tilt_deg[n]), float(rays.along[knee]))
        made.append((rank, LeaningBore(leg, 2 * radius, bore_top)))
    return made


def _hole_inside(
    rays: _Rays, points: NDArray[np.float64], around: Surroundings, face: FaceHole
) -> NDArray[np.bool_]:
    """Whether the hole's whole section at points (D, T, 3) lies in the solid; a slot lies across its ray."""
    across = np.column_stack([-rays.into[:, 1], rays.into[:, 0], np.zeros(len(rays.into))])
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    aside = face.reach_mm - face.width_mm / 2
    good = around.inside(points, face.width_mm / 2)
    for sign in (-1.0, 1.0) if aside > 0 else ():
        good &= around.inside(points + sign * aside * across[:, None, :], face.width_mm / 2)
    return good


def opens_once(face_mm: NDArray[np.float64], leg: Leg, face: FaceHole, columns: Columns) -> bool:
    """Whether a leaning hole that has gone under cover stays under cover: it has one mouth, not two.

    Parameters
    ----------
    face_mm : (3,) place on the face, mm
    leg : its leg
    face : the opening
    columns : of the solid

    Returns
    -------
    bool : sampled every 0.1 mm along the hole and every 0.15 mm across it
    """
    knee = np.array(leg.knee_mm)
    into = (knee - face_mm) / np.linalg.norm(knee - face_mm)
    lean = float(np.hypot(into[0], into[1]))
    across = np.array([-into[1], into[0], 0.0]) / lean
    aside = np.linspace(-face.reach_mm, face.reach_mm, int(np.ceil(face.reach_mm / 0.075)) + 1)
    along = np.arange(0.0, leg.narrow_mm, 0.1)
    points = face_mm + aside[:, None, None] * across + along[None, :, None] * into
    roof = solid_height(columns, points.reshape(-1, 3)).reshape(points.shape[:2])
    covered = roof > points[..., 2] + face.width_mm / 2 / lean
    return not np.any(np.logical_or.accumulate(covered, axis=1) & ~covered)
