"""Which vents a buck gets: at its pockets' deepest places, round its foot, or where placed by hand."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from buckwright.output.canvas.marks import VentMark
from buckwright.relief.columns import Columns
from buckwright.shape.vents.face_hole import FaceHole, face_hole
from buckwright.shape.vents.placing import FOOT, OPEN, BoreSizes, VentPlan, plan_vents
from buckwright.shape.vents.settings import VentSettings

if TYPE_CHECKING:
    from buckwright.survey.pockets.find_pockets import Pockets

__all__ = ["Pocketed", "Vented", "bore_sizes", "face_of", "fit_vents", "place_vents"]

# How often the spacing in a pocket that evacuates too slowly is halved.
_MORE_ROUNDS = 2
# A vent drains what lies within half the least spacing that bores and walls leave: house rule.
_NEAR_MM = 6.0

type _Wanted = list[tuple[int, tuple[float, float, float]]]
type EvacuationTimes = Callable[[NDArray[np.float64], NDArray[np.int64], VentPlan], list[float]]
"""(volumes (P,) mm3, vents in each (P,), plan) -> seconds to evacuate each; inf without a vent."""


@dataclass(frozen=True, slots=True, eq=False)
class Pocketed:
    """What the vents have to drain.

    Attributes
    ----------
    pockets : as they were found
    points_at : spacing in mm -> (pocket, place) of the vents that a spacing asks for
    evacuation_s : see `EvacuationTimes`
    """

    pockets: "Pockets"
    points_at: Callable[[float], _Wanted]
    evacuation_s: EvacuationTimes

    def times(self, plan: VentPlan) -> list[float]:
        """Seconds to evacuate each pocket through its own vents.

        Parameters
        ----------
        plan : vents, each with the pocket that it serves

        Returns
        -------
        list of float : inf for a pocket without a vent
        """
        if not self.pockets.pockets:
            return []
        own = [vent.pocket for vent in plan.vents if vent.pocket >= 0]
        count = np.bincount(own, minlength=len(self.pockets.pockets))
        volumes = np.array([pocket.volume_mm3 for pocket in self.pockets.pockets])
        return self.evacuation_s(volumes, count, plan)


@dataclass(frozen=True, slots=True, eq=False)
class Vented:
    """The vents of a buck.

    Attributes
    ----------
    plan : vents that were fitted
    evacuation_s : time to evacuate each pocket to the target, inf where it has no vent
    columns : of the blank
    """

    plan: VentPlan
    evacuation_s: tuple[float, ...]
    columns: Columns

    def marks(self) -> tuple[VentMark, ...]:
        """The vents as pictures show them."""
        return tuple(
            VentMark(np.array(vent.top_mm), vent.face.width_mm, i + 1)
            for i, vent in enumerate(self.plan.vents)
        )

    @property
    def tops_mm(self) -> NDArray[np.float64]:
        """(V, 3) places of the vents on the surface."""
        return np.array([vent.top_mm for vent in self.plan.vents], np.float64).reshape(-1, 3)


def bore_sizes(vents: VentSettings) -> BoreSizes:
    """Measures of the bores.

    Parameters
    ----------
    vents : settings

    Returns
    -------
    BoreSizes : mm
    """
    return BoreSizes(
        skin_mm=vents.skin_mm,
        back_bore_mm=vents.back_bore_mm,
        wall_mm=vents.wall_mm,
        channel_depth_mm=vents.channel_depth_mm,
    )


def face_of(vents: VentSettings, *, sheet_mm: float, low_mm: float, high_mm: float) -> FaceHole:
    """The opening at the face: as given, else as wide as the sheet is thick within the material's range.

    Parameters
    ----------
    vents : settings
    sheet_mm : thickness of the sheet
    low_mm, high_mm : diameters that leave no mark on the material

    Returns
    -------
    FaceHole
    """
    given = vents.hole_mm
    return face_hole(
        sheet_mm=sheet_mm if given is None else given,
        low_mm=low_mm if given is None else given,
        high_mm=high_mm if given is None else given,
        printer_min_hole_mm=vents.printer_min_hole_mm,
        when_small=vents.when_small,
    )


def place_vents(
    spots: NDArray[np.float64],
    ring: NDArray[np.float64],
    columns: Columns,
    face: FaceHole,
    vents: VentSettings,
    pocketed: Pocketed,
) -> Vented:
    """Fit vents just where they are asked for, and round the foot.

    Parameters
    ----------
    spots : (N, 3) float64, mm, on the buck
    ring : (R, 2) float64, mm, places round the foot
    columns : of the blank
    face : the opening
    vents : settings
    pocketed : pockets and how fast they evacuate

    Returns
    -------
    Vented
    """
    plan = _planned(_with_pockets(spots, pocketed.pockets), ring, columns, face, bore_sizes(vents))
    return Vented(plan, tuple(pocketed.times(plan)), columns)


def fit_vents(
    ring: NDArray[np.float64],
    columns: Columns,
    face: FaceHole,
    vents: VentSettings,
    pocketed: Pocketed | None,
    touched_last: NDArray[np.float64] | None = None,
) -> Vented:
    """Fit vents at the deepest places of the pockets and round the foot.

    Parameters
    ----------
    ring : (R, 2) places round the foot
    columns : of the blank
    face : the opening
    vents : settings
    pocketed : pockets and how fast they evacuate; None without pockets
    touched_last : (N, 3) places where a forecast sheet arrives last; each gets a vent unless one is near

    Returns
    -------
    Vented

    Notes
    -----
    Where a pocket would evacuate too slowly the spacing of its vents is halved, at most twice.
    """
    bores, spacing = bore_sizes(vents), vents.spacing_mm
    more: _Wanted = []
    if touched_last is not None and pocketed is not None:
        more = _with_pockets(touched_last, pocketed.pockets)
    wanted = _joined([] if pocketed is None else pocketed.points_at(spacing), more)
    plan = _planned(wanted, ring, columns, face, bores)
    if pocketed is None:
        return Vented(plan, (), columns)
    times = pocketed.times(plan)
    for _ in range(_MORE_ROUNDS):
        slow = {i for i, seconds in enumerate(times) if seconds > vents.target_s}
        spacing /= 2.0
        if not slow:
            break
        finer = [point for point in _joined(pocketed.points_at(spacing), more) if point[0] in slow]
        if len(finer) == sum(point[0] in slow for point in wanted):
            break
        wanted = sorted(
            [point for point in wanted if point[0] not in slow] + finer, key=lambda point: point[0]
        )
        plan = _planned(wanted, ring, columns, face, bores)
        times = pocketed.times(plan)
    return Vented(plan, tuple(times), columns)


def _with_pockets(spots: NDArray[np.float64], pockets: "Pockets") -> _Wanted:
    """Places on the buck (N, 3), each with the pocket that it lies in."""
    inside = pockets.pocket_at(spots)
    return [
        (int(n) if n >= 0 else OPEN, (float(x), float(y), float(z))) for n, (x, y, z) in zip(inside, spots)
    ]


def _joined(found: _Wanted, more: _Wanted) -> _Wanted:
    """Both, but of the second only what is not near one of the first, or of its own."""
    joined = list(found)
    for number, place in more:
        if all(np.hypot(place[0] - x, place[1] - y) > _NEAR_MM for _, (x, y, _z) in joined):
            joined.append((number, place))
    return sorted(joined, key=lambda point: point[0] if point[0] >= 0 else len(joined))


def _planned(
    wanted: _Wanted, ring: NDArray[np.float64], columns: Columns, face: FaceHole, bores: BoreSizes
) -> VentPlan:
    points = np.array([point for _, point in wanted], np.float64).reshape(-1, 3)
    foot = np.column_stack([ring, np.zeros(len(ring))])
    serves = [pocket for pocket, _ in wanted] + [FOOT] * len(ring)
    return plan_vents(np.concatenate([points, foot]), serves, columns, face=face, bores=bores)
