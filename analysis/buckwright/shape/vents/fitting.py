"""Which vents a buck gets: at its pockets' deepest places, round its foot, or where placed by hand."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from buckwright.output.canvas.marks import VentMark
from buckwright.relief.columns import Columns
from buckwright.shape.vents.drilling import without_faulty_vents
from buckwright.shape.vents.face_hole import FaceHole, face_hole
from buckwright.shape.vents.placing import Serves, plan_vents
from buckwright.shape.vents.settings import VentSettings
from buckwright.shape.vents.vent import BORE_KINDS, FOOT, OPEN, BoreSizes, VentPlan

if TYPE_CHECKING:
    from buckwright.survey.pockets.find_pockets import Pocket, Pockets

__all__ = [
    "POCKET_STATES",
    "PocketState",
    "Pocketed",
    "Vented",
    "bore_sizes",
    "face_of",
    "fit_vents",
    "place_vents",
]

# How often the spacing in a pocket that evacuates too slowly is halved.
_MORE_ROUNDS = 2
# A vent drains what lies within half the least spacing that bores and walls leave: house rule.
_NEAR_MM = 6.0
# How far up a pocket's flank its vent may sit where the bottom has no room: what stays below it is at most
# half as deep as the pocket was. House rule.
_FLANK_SHARE = 0.5

type _Wanted = list[tuple[int, tuple[float, float, float]]]
type EvacuationTimes = Callable[[NDArray[np.float64], NDArray[np.float64], VentPlan], list[float]]
"""(volumes (P,) mm3, whole openings in each (P,), plan) -> seconds to evacuate each; inf without a vent."""
type PocketState = Literal["vented", "shared", "to drill", "bare"]
"""A pocket has a vent of its own, opens into a neighbour's, waits for a dimple to be drilled, or has none."""
POCKET_STATES: tuple[PocketState, ...] = ("vented", "shared", "to drill", "bare")


@dataclass(frozen=True, slots=True, eq=False)
class Pocketed:
    """What the vents have to drain.

    Attributes
    ----------
    pockets : as they were found
    points_at : spacing in mm, places (R, 2) of vents round the foot -> (pocket, place) of the vents that the
        spacing asks for besides
    evacuation_s : see `EvacuationTimes`
    """

    pockets: "Pockets"
    points_at: Callable[[float, NDArray[np.float64]], _Wanted]
    evacuation_s: EvacuationTimes

    def times(self, plan: VentPlan) -> list[float]:
        """Seconds to evacuate each pocket through the vents that open into it.

        Parameters
        ----------
        plan : vents, each with the pocket that it serves

        Returns
        -------
        list of float : inf for a pocket without a vent; through a dimple, once it is drilled
        """
        if not self.pockets.pockets:
            return []
        volumes = np.array([pocket.volume_mm3 for pocket in self.pockets.pockets])
        area = np.array([vent.face.area_mm2 for vent in plan.vents])
        whole = self.openings(plan).T @ area / plan.face.area_mm2
        return self.evacuation_s(volumes, whole, plan)

    def openings(self, plan: VentPlan) -> NDArray[np.bool_]:
        """Which vents open into which pockets, (V, P): those that each serves or lies in."""
        tops = np.array([vent.top_mm for vent in plan.vents], np.float64).reshape(-1, 3)
        serves = np.array([vent.pocket for vent in plan.vents], np.int64)
        number = np.arange(len(self.pockets.pockets))
        opens: NDArray[np.bool_] = (serves[:, None] == number) | (
            self.pockets.pocket_at(tops)[:, None] == number
        )
        return opens

    def holds(self, spots: NDArray[np.float64], pocket: int) -> NDArray[np.bool_]:
        """Whether each place (N, 2+) lies in a pocket."""
        inside: NDArray[np.bool_] = self.pockets.pocket_at(spots) == pocket
        return inside

    def states(self, plan: VentPlan) -> tuple[PocketState, ...]:
        """How each pocket is served, see `PocketState`."""
        opens = self.openings(plan)
        dimple = np.array([vent.face.opening == "dimple" for vent in plan.vents], np.bool_)
        own = np.array([vent.pocket for vent in plan.vents], np.int64)
        found: list[PocketState] = []
        for number in range(opens.shape[1]):
            through = opens[:, number] & ~dimple
            if np.any(through):
                mine = np.any((own[through] == number) | (own[through] == FOOT))
                found.append("vented" if mine else "shared")
            else:
                found.append("to drill" if opens[:, number].any() else "bare")
        return tuple(found)


@dataclass(frozen=True, slots=True, eq=False)
class Vented:
    """The vents of a buck.

    Attributes
    ----------
    plan : vents that were fitted
    evacuation_s : time to evacuate each pocket to the target, inf where it has no vent
    columns : of the blank
    states : how each pocket is served
    """

    plan: VentPlan
    evacuation_s: tuple[float, ...]
    columns: Columns
    states: tuple[PocketState, ...] = ()

    def marks(self, *, foot: bool = True) -> tuple[VentMark, ...]:
        """The vents as pictures show them; without those round the foot where there is no flange to see."""
        return tuple(
            VentMark(np.array(vent.top_mm), vent.face.width_mm, i + 1)
            for i, vent in enumerate(self.plan.vents)
            if foot or vent.pocket != FOOT
        )

    def figures(self, pockets: "Sequence[Pocket]", *, trim_z_mm: float | None) -> dict[str, Any]:
        """The section `venting` of report.json.

        Parameters
        ----------
        pockets : those that `states` tells of
        trim_z_mm : height of the trim line; None if there is none

        Returns
        -------
        dict : pockets by how they are served, the deepest bare one, and the vents by bore and place
        """
        bare = [pocket for pocket, state in zip(pockets, self.states) if state == "bare"]
        deepest = max(bare, key=lambda pocket: pocket.depth_mm, default=None)
        vents = self.plan.vents
        return {
            "pockets": len(self.states),
            **{state.replace(" ", "_"): self.states.count(state) for state in POCKET_STATES},
            "deepest_bare": None
            if deepest is None
            else {"depth_mm": deepest.depth_mm, "at_mm": list(deepest.deepest_mm)},
            "vents": len(vents),
            "vents_to_drill": len(self.plan.to_drill),
            "bores": {kind: sum(vent.kind == kind for vent in vents) for kind in BORE_KINDS},
            "below_trim_line": None
            if trim_z_mm is None
            else sum(vent.top_mm[2] < trim_z_mm for vent in vents),
        }

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
        narrow_most_mm=vents.narrow_most_mm,
        tilt_deg=vents.tilt_deg,
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
    solid: Manifold | None = None,
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
    solid : the blank, on which the vents are tried; not tried if None

    Returns
    -------
    Vented
    """
    wanted = _with_pockets(spots, pocketed.pockets)
    plan = _planned(wanted, ring, columns, face, bore_sizes(vents), pocketed, solid)
    return Vented(plan, tuple(pocketed.times(plan)), columns, pocketed.states(plan))


def fit_vents(
    ring: NDArray[np.float64],
    columns: Columns,
    face: FaceHole,
    vents: VentSettings,
    pocketed: Pocketed | None,
    touched_last: NDArray[np.float64] | None = None,
    solid: Manifold | None = None,
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
    solid : the blank, on which the vents are tried; not tried if None

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
    wanted = _joined([] if pocketed is None else pocketed.points_at(spacing, ring), more)
    plan = _planned(wanted, ring, columns, face, bores, pocketed, solid)
    if pocketed is None:
        return Vented(plan, (), columns)
    times = pocketed.times(plan)
    for _ in range(_MORE_ROUNDS):
        slow = {i for i, seconds in enumerate(times) if seconds > vents.target_s}
        spacing /= 2.0
        if not slow:
            break
        finer = [point for point in _joined(pocketed.points_at(spacing, ring), more) if point[0] in slow]
        if len(finer) == sum(point[0] in slow for point in wanted):
            break
        wanted = sorted(
            [point for point in wanted if point[0] not in slow] + finer, key=lambda point: point[0]
        )
        plan = _planned(wanted, ring, columns, face, bores, pocketed, solid)
        times = pocketed.times(plan)
    return Vented(plan, tuple(times), columns, pocketed.states(plan))


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
    wanted: _Wanted,
    ring: NDArray[np.float64],
    columns: Columns,
    face: FaceHole,
    bores: BoreSizes,
    pocketed: Pocketed | None,
    solid: Manifold | None,
) -> VentPlan:
    points = np.array([point for _, point in wanted], np.float64).reshape(-1, 3)
    foot = np.column_stack([ring, np.zeros(len(ring))])
    numbers = [pocket for pocket, _ in wanted] + [FOOT] * len(ring)
    rises = np.full(len(numbers), bores.rise_mm)
    serves: Serves | None = None
    if pocketed is not None:
        depths = np.array([pocket.depth_mm for pocket in pocketed.pockets.pockets])
        inside = np.flatnonzero(np.array(numbers, np.int64) >= 0)
        rises[inside] = np.maximum(rises[inside], _FLANK_SHARE * depths[np.array(numbers)[inside]])
        serves = pocketed.holds
    plan = plan_vents(
        np.concatenate([points, foot]),
        numbers,
        columns,
        face=face,
        bores=bores,
        rises_mm=rises,
        serves=serves,
    )
    return plan if solid is None else without_faulty_vents(solid, plan)
