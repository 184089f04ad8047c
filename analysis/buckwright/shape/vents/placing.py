"""Where the vents go and how they are bored: a narrow hole at the face, a wide back-bore from beneath.

Every figure is checked against the solid itself: no vent breaks out sideways, and the wall around a bore is
nowhere less than the setting.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import JobError
from buckwright.findings import counted, verb
from buckwright.relief.columns import Columns
from buckwright.shape.vents.apart import gap_mm, kept_apart
from buckwright.shape.vents.clearance import Surroundings, surroundings
from buckwright.shape.vents.face_hole import FaceHole
from buckwright.shape.vents.leaning import REACH_MM, leaning_bores, opens_once
from buckwright.shape.vents.upright import LONG_MM, Fit, fit, rings, vent_at
from buckwright.shape.vents.vent import FOOT, BoreSizes, Dropped, Vent, VentPlan

__all__ = ["NO_ROOM", "TOO_NEAR", "Serves", "plan_vents"]

type Serves = Callable[[NDArray[np.float64], int], NDArray[np.bool_]]
"""(places (S, 2), pocket) -> whether a vent at each would drain that pocket, (S,)."""

TOO_NEAR = "another vent is too close"
"""Why a vent was dropped when another is beside it."""
NO_ROOM = "too little solid around the bore"
"""Why a vent was dropped when neither an upright nor a leaning bore keeps its wall."""
_NOWHERE = "no surface there"
_NO_BEADS = np.zeros((0, 4))
_MOST_TRIES = 12
"""Leaning bores of one spot that are compared with the vents that are there; the next spot is better then."""


@dataclass(frozen=True, slots=True, eq=False)
class _Wanted:
    """A wanted spot, the pocket that it serves, and the height of the face there."""

    point: NDArray[np.float64]
    pocket: int
    height: float


@dataclass(frozen=True, slots=True, eq=False)
class _Work:
    """What all vents are fitted into, and those that are there already."""

    columns: Columns
    sizes: BoreSizes
    faces: tuple[FaceHole, ...]
    serves: Serves | None
    placed: list[Vent] = field(default_factory=list)
    _beads: list[NDArray[np.float64]] = field(default_factory=list)
    _known: dict[tuple[float, float, int], Surroundings] = field(default_factory=dict)

    def add(self, vent: Vent) -> None:
        """One more vent is there."""
        self.placed.append(vent)
        self._beads.append(vent.beads())

    def clear_of_legs(self, vent: Vent) -> bool:
        """Whether an upright vent keeps its wall to those that lean."""
        legs = [beads for other, beads in zip(self.placed, self._beads) if other.leg is not None]
        return gap_mm(vent.beads(), np.concatenate([_NO_BEADS, *legs])) >= self.sizes.wall_mm

    def opens(self, wanted: _Wanted) -> bool:
        """Whether a vent that is there opens into the pocket beside the spot: another would add nothing."""
        tops = np.array([vent.top_mm for vent in self.placed]).reshape(-1, 3)
        beside = np.hypot(*(tops[:, :2] - wanted.point[:2]).T) <= self.sizes.move_mm
        if self.serves is None or wanted.pocket < 0:
            return bool(beside.any())
        return bool(self.serves(tops[beside], wanted.pocket).any())

    def around(self, middle_xy: NDArray[np.float64]) -> Surroundings:
        """The solid and the bores round a place."""
        key = (float(middle_xy[0]), float(middle_xy[1]), len(self.placed))
        if key not in self._known:
            self._known.clear()
            beads = np.concatenate([_NO_BEADS, *self._beads])
            reach = REACH_MM + self.sizes.move_mm
            self._known[key] = surroundings(self.columns, middle_xy, beads, reach_mm=reach)
        return self._known[key]


def plan_vents(
    points: NDArray[np.float64],
    pockets: Sequence[int] | NDArray[np.integer],
    columns: Columns,
    *,
    face: FaceHole,
    bores: BoreSizes | None = None,
    rises_mm: NDArray[np.float64] | None = None,
    serves: Serves | None = None,
) -> VentPlan:
    """Fit a vent under every wanted point, or say why there is none.

    Parameters
    ----------
    points : (N, 3) float64, mm
        Wanted spots on the face, most important first; the height is taken from the solid.
    pockets : (N,) int
        The pocket that each serves; `FOOT` for the ring around the foot, `OPEN` for none.
    columns : Columns
        Of the closed buck, base included, standing on z = 0.
    face : FaceHole
        See `face_hole.face_hole`.
    bores : BoreSizes, optional
    rises_mm : (N,) float64, mm, optional
        How much higher each may sit where its own place has no room; `BoreSizes.rise_mm` if not given.
    serves : callable, optional
        Whether a vent that was moved still drains its pocket; anywhere within reach if not given.

    Returns
    -------
    VentPlan : the vents placed, and the points without one

    Raises
    ------
    JobError
        Points and pockets do not match.

    Notes
    -----
    The bore stops `skin_mm` below the lowest surface over it and `wall_mm` below the lowest surface within
    `wall_mm` beside it, whichever is lower. The narrow hole may break out of its wall only within one skin
    and half a width of the face, which a face sloping at up to 60 degrees satisfies. Where that fails, or the
    narrow hole would be longer than the printer can make, the vent moves to the nearest spot of its pocket's
    floor where it holds, leans (`leaning.leaning_bores`), gets a shorter slot, or sits higher up the
    pocket's flank. A hole that stays too long all the same becomes a dimple to drill; what fits nowhere is
    dropped. Of vents too close to each other the later one is bored narrower or leaning, or dropped.
    """
    chosen = bores or BoreSizes()
    wanted = np.asarray(points, dtype=np.float64).reshape(-1, 3)
    numbers = np.asarray(pockets, dtype=np.int64).reshape(-1)
    if len(wanted) != len(numbers):
        raise JobError(f"{len(wanted)} vent points but {len(numbers)} pocket numbers")
    rises = np.full(len(wanted), chosen.rise_mm) if rises_mm is None else np.asarray(rises_mm, np.float64)
    work = _Work(columns, chosen, _faces(face), serves)
    first = fit(wanted[:, :2], columns, face, chosen)
    dropped: list[Dropped] = []
    for i, (point, pocket) in enumerate(zip(wanted, numbers)):
        spot = _Wanted(point, int(pocket), float(first.face_z[i]))
        vent, why = _placed(work, spot, first, i, float(rises[i]))
        if vent is None:
            dropped.append((float(point[0]), float(point[1]), float(point[2]), int(pocket), why))
        else:
            work.add(vent)
    placed = tuple(work.placed)
    return VentPlan(placed, chosen, face, tuple(dropped), _notes(placed, dropped, face, chosen))


def _faces(face: FaceHole) -> tuple[FaceHole, ...]:
    """The opening, and a slot only as long as it takes to stay open, for places with little room."""
    short = 3.0 * face.width_mm  # house rule
    if face.opening != "slot" or short >= face.length_mm:
        return (face,)
    return face, replace(face, length_mm=short, area_mm2=short * face.width_mm)


def _placed(work: _Work, wanted: _Wanted, first: Fit, i: int, rise: float) -> tuple[Vent | None, str]:
    """The best vent for a spot, or why there is none."""
    if not np.isfinite(wanted.height):
        return None, _NOWHERE
    too_long: Vent | None = None
    whys: list[str] = []
    for vent, why in _tries(work, wanted, first, i, rise):
        whys.append(why)
        if vent is None:
            continue
        if vent.narrow_mm(work.sizes.channel_depth_mm) <= work.sizes.deepest_narrow_mm(vent.face):
            return vent, ""
        too_long = too_long or vent
    if too_long is not None:
        return _dimple(work, too_long), ""
    return None, TOO_NEAR if TOO_NEAR in whys else NO_ROOM


def _tries(
    work: _Work, wanted: _Wanted, first: Fit, i: int, rise: float
) -> Iterator[tuple[Vent | None, str]]:
    """Upright and leaning, with the whole and the shorter opening, low and higher up."""
    least = work.sizes.rise_mm
    for highest in (least, rise) if rise > least else (least,):
        for face in work.faces:
            fits = highest == least and face is work.faces[0]
            yield _upright(work, wanted, face, highest, (first, i) if fits else None)
            # Nobody can aim a drill from a dimple along a leaning bore.
            if wanted.pocket != FOOT and face.opening != "dimple":
                yield _leaning(work, wanted, face, highest), NO_ROOM


def _upright(
    work: _Work, wanted: _Wanted, face: FaceHole, rise: float, known: tuple[Fit, int] | None
) -> tuple[Vent | None, str]:
    """An upright vent at the spot or moved from it, clear of the others; and why not."""
    chosen, spot = work.sizes, wanted.point[:2]
    found, k = known or (fit(spot[None], work.columns, face, chosen), 0)
    if not (found.good[k] and found.narrow[k] <= chosen.skin_mm + LONG_MM):
        spots = spot + rings(chosen.move_mm, 0.5)
        found = fit(spots, work.columns, face, chosen)
        k = _best_spot(found, spots - spot, wanted, work, rise)
        spot = spots[k]
    if not found.good[k]:
        return None, NO_ROOM
    moved = float(np.linalg.norm(spot - wanted.point[:2]))
    vent = vent_at(spot, found, k, face, wanted.pocket, moved)
    apart = kept_apart(vent, work.placed, chosen.wall_mm)
    return apart if apart is not None and work.clear_of_legs(apart) else None, TOO_NEAR


def _best_spot(found: Fit, moves: NDArray[np.float64], wanted: _Wanted, work: _Work, rise: float) -> int:
    """Nearest spot on the pocket's floor that fits; a short narrow hole comes before a short move."""
    usable = found.good & _drains(moves + wanted.point[:2], found.face_z, wanted, work, rise)
    long = found.narrow > work.sizes.skin_mm + LONG_MM
    order = np.lexsort((np.linalg.norm(moves, axis=1), long, ~usable))
    # Nothing usable: fall back to the wanted spot itself, even with a long narrow hole.
    return int(order[0]) if usable[order[0]] else 0


def _drains(
    spots: NDArray[np.float64], heights: NDArray[np.float64], wanted: _Wanted, work: _Work, rise: float
) -> NDArray[np.bool_]:
    """Whether a vent at each spot is low enough and still in its pocket."""
    with np.errstate(invalid="ignore"):
        good = (heights <= wanted.height + rise) & (heights >= wanted.height - work.sizes.rise_mm)
    if work.serves is not None and wanted.pocket >= 0:
        at_home = np.linalg.norm(spots - wanted.point[:2], axis=1) < 1e-9
        good &= at_home | work.serves(spots, wanted.pocket)
    return good


def _leaning(work: _Work, wanted: _Wanted, face: FaceHole, rise: float) -> Vent | None:
    """A slanted or elbow vent at the spot or near it, clear of the others."""
    sizes = work.sizes
    if work.opens(wanted):
        return None
    if sizes.tilt_deg <= 0 or wanted.height < sizes.channel_depth_mm + sizes.skin_mm + 2 * sizes.wall_mm:
        return None
    moves = rings(sizes.move_mm, 1.0)
    spots = wanted.point[:2] + moves
    heights = work.columns.top(spots)[0]
    good = np.flatnonzero(_drains(spots, heights, wanted, work, rise))
    around = work.around(wanted.point[:2])
    for n in good[np.argsort(np.linalg.norm(moves[good], axis=1), kind="stable")]:
        top = np.array([*spots[n], heights[n]])
        cap = float(work.columns.top(spots[n] + rings(face.reach_mm, 0.35))[0].max()) + 0.5
        moved = float(np.linalg.norm(moves[n]))
        for bore in islice(leaning_bores(top, around, face, sizes), _MOST_TRIES):
            vent = Vent(
                (float(top[0]), float(top[1]), float(top[2])),
                face,
                bore.back_bore_mm,
                bore.bore_top_mm,
                cap,
                wanted.pocket,
                moved,
                bore.leg,
            )
            apart = gap_mm(vent.beads(), around.beads) >= sizes.wall_mm
            if apart and opens_once(top, bore.leg, face, work.columns):
                return vent
    return None


def _dimple(work: _Work, vent: Vent) -> Vent:
    """A vent as a mark to drill after printing, over as much of its bore as there is room for."""
    width = vent.face.hole_mm or vent.face.width_mm
    note = f"drill {width:g} mm after printing"
    face = FaceHole("dimple", width, width, np.pi / 4 * width**2, note, width)
    spot = np.array(vent.top_mm[:2])
    found = fit(spot[None], work.columns, face, work.sizes)
    marked = vent_at(spot, found, 0, face, vent.pocket, vent.moved_mm)
    return replace(marked, back_bore_mm=vent.back_bore_mm, bore_top_mm=vent.bore_top_mm)


def _notes(
    placed: Sequence[Vent],
    dropped: list[Dropped],
    face: FaceHole,
    chosen: BoreSizes,
) -> tuple[str, ...]:
    notes = [face.note] if face.note and placed else []
    moved = [vent for vent in placed if vent.moved_mm > 0.05]
    if moved:
        far = max(vent.moved_mm for vent in moved)
        notes.append(f"{counted(len(moved), 'vent')} moved by up to {far:.1f} mm to keep their walls")
    for kind in ("slanted", "elbow"):
        count = sum(vent.kind == kind for vent in placed)
        if count:
            run = "slanted" if kind == "slanted" else "round an elbow"
            notes.append(f"{counted(count, 'vent')} {verb(count, 'run')} {run}: no room for an upright bore")
    longs = [vent.narrow_mm(chosen.channel_depth_mm) for vent in placed if vent.face.opening != "dimple"]
    longs = [length for length in longs if length > chosen.skin_mm + LONG_MM]
    if longs:
        stay = (
            f"{counted(len(longs), 'vent')} {verb(len(longs), 'stay')} narrow for up to {max(longs):.1f} mm"
        )
        notes.append(f"{stay}: there is no room for a longer back-bore")
    for why in sorted({entry[4] for entry in dropped}):
        count = sum(entry[4] == why for entry in dropped)
        notes.append(f"{counted(count, 'vent')} {'was' if count == 1 else 'were'} left out: {why}")
    return tuple(notes)
