"""Upright bores: what fits at a spot, measured on the solid itself."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from buckwright.relief.columns import Columns
from buckwright.shape.solid_height import solid_height
from buckwright.shape.vents.face_hole import FaceHole
from buckwright.shape.vents.leaning import NARROWER
from buckwright.shape.vents.vent import BoreSizes, Vent

__all__ = ["LONG_MM", "Fit", "fit", "rings", "vent_at"]

SAMPLE_MM = 0.35
"""Spacing of the samples around a bore; the wall is known to about a tenth of this on slopes."""
LONG_MM = 2.0
"""A narrow hole longer than the skin by this much is worth moving the vent for; house rule."""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """What fits at each of S spots: `good` where a vent is possible at all."""

    good: NDArray[np.bool_]
    face_z: NDArray[np.float64]
    cap_z: NDArray[np.float64]
    bore: NDArray[np.float64]
    bore_top: NDArray[np.float64]

    @property
    def narrow(self) -> NDArray[np.float64]:
        """Length of the narrow part, above the bore."""
        return self.face_z - self.bore_top


def vent_at(
    spot: NDArray[np.float64], found: Fit, k: int, face: FaceHole, pocket: int, moved_mm: float
) -> Vent:
    """The upright vent that fits at spot `k`."""
    top = (float(spot[0]), float(spot[1]), float(found.face_z[k]))
    bore, bore_top, cap = float(found.bore[k]), float(found.bore_top[k]), float(found.cap_z[k])
    return Vent(top, face, bore, bore_top, cap, pocket, moved_mm)


def rings(radius_mm: float, step_mm: float, through: Iterable[float] = ()) -> NDArray[np.float64]:
    """Points of a disc, centre first, on circles no more than `step_mm` apart; the rim is one of them."""
    stops = [0.0, *sorted(stop for stop in {*through, radius_mm} if 0 < stop <= radius_mm)]
    radii = [
        radius
        for inner, outer in pairwise(stops)
        for radius in np.linspace(inner, outer, int(np.ceil((outer - inner) / step_mm)) + 1)[1:]
    ]
    spots = [np.zeros((1, 2))]
    for radius in radii:
        count = max(8, int(np.ceil(2 * np.pi * radius / step_mm)))
        angle = 2 * np.pi * np.arange(count) / count
        spots.append(radius * np.column_stack([np.cos(angle), np.sin(angle)]))
    return np.concatenate(spots)


def fit(spots: NDArray[np.float64], columns: Columns, face: FaceHole, chosen: BoreSizes) -> Fit:
    """Measure the solid round every spot and choose the bore that leaves the shortest narrow hole."""
    half, wall = face.reach_mm, chosen.wall_mm
    widest = max(chosen.back_bore_mm / 2, half)
    radii = [share * chosen.back_bore_mm / 2 for share in NARROWER]
    # A ring of samples just where each rule ends: rings at even steps stop short of it by up to one step.
    edges = {half + wall, widest + wall, *radii, *(radius + wall for radius in radii)}
    disc = rings(widest + wall, SAMPLE_MM, through=edges)
    away = np.linalg.norm(disc, axis=1)
    opening = max(half, chosen.dimple_mm if face.opening == "dimple" else 0.0)
    near, open_ = away <= half + 0.5 * SAMPLE_MM, away <= opening + 0.5 * SAMPLE_MM
    top = columns.top(_around(spots, disc[open_]))[0].reshape(len(spots), np.count_nonzero(open_))
    face_z, cap = top[:, 0], top.max(1) + 0.5
    solid, asked = np.empty((len(spots), len(disc))), np.zeros(len(disc), np.bool_)

    def around(those: NDArray[np.int64], within: NDArray[np.bool_]) -> NDArray[np.float64]:
        new = within & ~asked
        solid[np.ix_(those, new)] = _solid(columns, spots[those], disc[new])
        asked[new] = True
        held: NDArray[np.float64] = solid[np.ix_(those, within)]
        return held

    # Most spots of a crowded place fail, so the wider rings are only asked where the narrower ones hold.
    good = np.flatnonzero(np.isfinite(face_z))
    good = good[np.all(around(good, near) >= top[good][:, near[open_]] - 1e-6, axis=1)]
    lowest = around(good, away <= half + wall + 1e-9).min(1)
    good = good[lowest >= face_z[good] - max(wall, chosen.skin_mm) - half - 1e-9]
    bore, bore_top = np.full(len(spots), 2 * half), np.zeros(len(spots))
    bore[good], bore_top[good] = _bores(around(good, away < np.inf), away, radii, half, chosen)
    holds = np.zeros(len(spots), np.bool_)
    holds[good] = True
    return Fit(holds, face_z, cap, bore, bore_top)


def _around(spots: NDArray[np.float64], disc: NDArray[np.float64]) -> NDArray[np.float64]:
    """The samples around every spot, in one row of points."""
    return (spots[:, None] + disc).reshape(-1, 2)


def _solid(columns: Columns, spots: NDArray[np.float64], disc: NDArray[np.float64]) -> NDArray[np.float64]:
    """Height of the solid at the samples (D, 2) around S spots, (S, D)."""
    return solid_height(columns, _around(spots, disc)).reshape(len(spots), len(disc))


def _bores(
    solid: NDArray[np.float64], away: NDArray[np.float64], radii: list[float], half: float, chosen: BoreSizes
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Width of the back-bore and the height that it reaches, from the solid (S, D) at samples so far away."""
    bore, bore_top = np.full(len(solid), 2 * half), np.zeros(len(solid))
    for radius in radii:
        if radius <= half:
            continue
        over = solid[:, away <= radius + 1e-9].min(1) - chosen.skin_mm
        rim = solid[:, away <= radius + chosen.wall_mm + 1e-9].min(1) - chosen.wall_mm
        reach = np.minimum(over, rim)
        # A narrower bore must gain a millimetre of reach to be worth it.
        better = (reach > chosen.channel_depth_mm + 0.5) & (reach > bore_top + 1.0)
        bore[better], bore_top[better] = 2 * radius, reach[better]
    return bore, bore_top
