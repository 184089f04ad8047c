"""Where the vents go and how they are bored: a narrow hole at the face, a wide back-bore from beneath.

Every figure is checked against the solid itself: no vent breaks out sideways, and the wall around a bore is
nowhere less than the setting.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from manifold3d import CrossSection
from numpy.typing import NDArray

from buckwright.errors import JobError
from buckwright.findings import counted, verb
from buckwright.relief.columns import Columns
from buckwright.shape.solid_height import solid_height
from buckwright.shape.vents.face_hole import FaceHole

__all__ = ["FOOT", "OPEN", "TOO_NEAR", "BoreSizes", "Vent", "VentPlan", "plan_vents", "ring_points"]

type Dropped = tuple[float, float, float, int, str]

TOO_NEAR = "another vent is too close"
"""Why a vent was dropped when another is beside it."""

FOOT = -1
"""Pocket number of a vent on the ring around the foot."""
OPEN = -2
"""Pocket number of a vent placed by hand outside all pockets."""

SAMPLE_MM = 0.35
"""Spacing of the samples around a bore; the wall is known to about a tenth of this on slopes."""
NARROWER = (1.0, 0.75, 0.5)
"""Back-bores tried where the full one does not fit, as shares of it; house rule."""
LONG_MM = 2.0
"""A narrow hole longer than the skin by this much is worth moving the vent for; house rule."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoreSizes:
    """Measures of the vents.

    Attributes
    ----------
    skin_mm : solid that the narrow hole goes through (3..6 mm by the handbooks, from memory)
    back_bore_mm : diameter of the wide bore (3..6 mm by the handbooks, from memory)
    wall_mm : least solid round a bore; four walls of a 0.4 mm nozzle, common practice, no source
    channel_depth_mm : depth of the channels beneath, where a bore shorter than that is pointless
    move_mm : how far a vent may move within its pocket, and `rise_mm`: how much higher it may get
    dimple_mm : depth of a drill dimple
    """

    skin_mm: float = 3.0
    back_bore_mm: float = 4.0
    wall_mm: float = 1.6
    channel_depth_mm: float = 2.5
    move_mm: float = 3.0
    rise_mm: float = 0.5
    dimple_mm: float = 0.6

    def __post_init__(self) -> None:
        """Refuse what cannot be bored, in words."""
        for field in fields(self):
            value = getattr(self, field.name)
            if not (np.isfinite(value) and 0 <= value <= 50):
                raise JobError(f"vents.{field.name} must lie between 0 and 50 mm, got {value:g}")
        if self.skin_mm < 0.4 or self.wall_mm < 0.4 or self.back_bore_mm <= 0:
            raise JobError("vents need a skin and a wall of at least 0.4 mm and a back-bore over 0 mm")
        if self.dimple_mm >= self.skin_mm:
            raise JobError(
                f"a dimple {self.dimple_mm:g} mm deep goes through the skin of {self.skin_mm:g} mm"
            )


@dataclass(frozen=True, slots=True)
class Vent:
    """One vent.

    Attributes
    ----------
    top_mm : (x, y, z) of the axis at the face
    face : the opening
    back_bore_mm : diameter of the bore; equal to the opening where it stays narrow all the way
    bore_top_mm : height to which the bore reaches; 0 without a bore
    cap_mm : height that clears the face all around the opening
    pocket : number of the pocket it serves, `FOOT` (-1) for the foot ring, `OPEN` (-2) for none
    moved_mm : distance from the wanted spot
    """

    top_mm: tuple[float, float, float]
    face: FaceHole
    back_bore_mm: float
    bore_top_mm: float
    cap_mm: float
    pocket: int
    moved_mm: float

    def to_dict(self) -> dict[str, Any]:
        """One entry of `vents` in report.json.

        Returns
        -------
        dict : rounded figures, the point as a list
        """
        return {
            "top_mm": [round(value, 4) for value in self.top_mm],
            "diameter_mm": self.face.width_mm,
            "opening": self.face.opening,
            "back_bore_mm": round(self.back_bore_mm, 3),
            "bore_top_mm": round(self.bore_top_mm, 3),
            "pocket": self.pocket,
            "moved_mm": round(self.moved_mm, 3),
        }


@dataclass(frozen=True, slots=True, eq=False)
class VentPlan:
    """All vents of a buck.

    Attributes
    ----------
    vents : in the order of the points given, less those that were dropped
    bores, face : as used
    dropped : (x, y, z, pocket, why) of points without a vent
    notes : plain words
    """

    vents: tuple[Vent, ...]
    bores: BoreSizes
    face: FaceHole
    dropped: tuple[Dropped, ...]
    notes: tuple[str, ...]

    @property
    def through(self) -> int:
        """How many go right through the solid as printed."""
        return 0 if self.face.opening == "dimple" else len(self.vents)

    @property
    def axes(self) -> NDArray[np.float64]:
        """Axes of the vents in the plane, (N, 2), mm."""
        return np.array([vent.top_mm[:2] for vent in self.vents], dtype=np.float64).reshape(-1, 2)

    @property
    def bores_mm(self) -> NDArray[np.float64]:
        """Greatest diameter of each vent below the face, (N,), mm."""
        return np.array([max(v.back_bore_mm, v.face.length_mm) for v in self.vents], dtype=np.float64)

    def to_dict(self) -> list[dict[str, Any]]:
        """The entry `vents` in report.json.

        Returns
        -------
        list of dict : one per vent
        """
        return [vent.to_dict() for vent in self.vents]


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
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


def plan_vents(
    points: NDArray[np.float64],
    pockets: Sequence[int] | NDArray[np.integer],
    columns: Columns,
    *,
    face: FaceHole,
    bores: BoreSizes | None = None,
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
    and half a width of the face, which a face sloping at up to 60 degrees satisfies. Where that fails, the
    vent moves to the nearest spot of its pocket's floor where it holds, or gets a narrower bore, or is
    dropped. Of vents too close to each other the later one is bored narrower, or dropped.
    """
    chosen = bores or BoreSizes()
    wanted = np.asarray(points, dtype=np.float64).reshape(-1, 3)
    numbers = np.asarray(pockets, dtype=np.int64).reshape(-1)
    if len(wanted) != len(numbers):
        raise JobError(f"{len(wanted)} vent points but {len(numbers)} pocket numbers")
    first = _fit(wanted[:, :2], columns, face, chosen)
    fitting = first.good & (first.narrow <= chosen.skin_mm + LONG_MM)
    placed: list[Vent] = []
    dropped: list[Dropped] = []
    for i, (point, pocket) in enumerate(zip(wanted, numbers)):
        spot, fit, k = point[:2], first, i
        if not fitting[i] and np.isfinite(first.face_z[i]):
            spots = point[:2] + _rings(chosen.move_mm, 0.5)
            fit = _fit(spots, columns, face, chosen)
            k = _best_spot(fit, spots - point[:2], float(first.face_z[i]), chosen)
            spot = spots[k]
        if not fit.good[k]:
            why = (
                "no surface there" if not np.isfinite(first.face_z[i]) else "too little solid around the bore"
            )
            dropped.append(_drop(point, int(pocket), why))
            continue
        vent = _vent(spot, fit, k, face, int(pocket), float(np.linalg.norm(spot - point[:2])))
        vent_or_none = _beside(vent, placed, chosen)
        if vent_or_none is None:
            dropped.append(_drop(point, int(pocket), TOO_NEAR))
        else:
            placed.append(vent_or_none)
    return VentPlan(tuple(placed), chosen, face, tuple(dropped), _notes(placed, dropped, face, chosen))


def ring_points(ring: CrossSection, *, spacing_mm: float = 25.0) -> NDArray[np.float64]:
    """Evenly spaced points along an outline.

    Parameters
    ----------
    ring : CrossSection, mm
    spacing_mm : float, 1..1000
        Greatest distance along the outline between neighbours; at least three points per contour. The default
        is common practice (20..40 mm along inside corners and foot), no source.

    Returns
    -------
    (N, 2) float64, mm

    Raises
    ------
    JobError
        Spacing out of range.

    Examples
    --------
    >>> from manifold3d import CrossSection
    >>> ring_points(CrossSection.square((50.0, 50.0), True)).shape
    (8, 2)
    """
    if not 1.0 <= spacing_mm <= 1000:
        raise JobError(f"the spacing of foot vents must lie between 1 and 1000 mm, got {spacing_mm:g}")
    spots = [np.zeros((0, 2))]
    for polygon in ring.to_polygons():
        closed = np.vstack([polygon, polygon[:1]])
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
        count = max(3, int(np.ceil(along[-1] / spacing_mm)))
        at = np.arange(count) * along[-1] / count
        spots.append(np.column_stack([np.interp(at, along, closed[:, axis]) for axis in (0, 1)]))
    return np.concatenate(spots)


def _rings(radius_mm: float, step_mm: float) -> NDArray[np.float64]:
    """Points of a disc, centre first, on circles no more than `step_mm` apart, the rim included."""
    spots = [np.zeros((1, 2))]
    for radius in np.linspace(0, radius_mm, int(np.ceil(radius_mm / step_mm)) + 1)[1:]:
        count = max(8, int(np.ceil(2 * np.pi * radius / step_mm)))
        angle = 2 * np.pi * np.arange(count) / count
        spots.append(radius * np.column_stack([np.cos(angle), np.sin(angle)]))
    return np.concatenate(spots)


def _fit(spots: NDArray[np.float64], columns: Columns, face: FaceHole, chosen: BoreSizes) -> _Fit:
    """Measure the solid round every spot and choose the bore that leaves the shortest narrow hole."""
    half, wall = face.reach_mm, chosen.wall_mm
    widest = max(chosen.back_bore_mm / 2, half)
    disc = _rings(widest + wall, SAMPLE_MM)
    away = np.linalg.norm(disc, axis=1)
    around = (spots[:, None] + disc).reshape(-1, 2)
    solid = solid_height(columns, around).reshape(len(spots), len(disc))
    top = columns.top(around)[0].reshape(len(spots), len(disc))
    near, beside = away <= half + 0.5 * SAMPLE_MM, away <= half + wall + 1e-9
    face_z = top[:, 0]
    with np.errstate(invalid="ignore"):
        whole = np.all(solid[:, near] >= top[:, near] - 1e-6, axis=1)
        walled = solid[:, beside].min(1) >= face_z - max(wall, chosen.skin_mm) - half - 1e-9
    good = np.isfinite(face_z) & whole & walled
    bore, bore_top = np.full(len(spots), 2 * half), np.zeros(len(spots))
    for share in NARROWER:
        radius = share * chosen.back_bore_mm / 2
        if radius <= half:
            continue
        over = solid[:, away <= radius + 1e-9].min(1) - chosen.skin_mm
        rim = solid[:, away <= radius + wall + 1e-9].min(1) - wall
        reach = np.minimum(over, rim)
        # A narrower bore must gain a millimetre of reach to be worth it.
        better = (reach > chosen.channel_depth_mm + 0.5) & (reach > bore_top + 1.0)
        bore[better], bore_top[better] = 2 * radius, reach[better]
    opening = max(half, chosen.dimple_mm if face.opening == "dimple" else 0.0)
    cap = top[:, away <= opening + 0.5 * SAMPLE_MM].max(1) + 0.5
    return _Fit(good, face_z, cap, bore, bore_top)


def _best_spot(fit: _Fit, moves: NDArray[np.float64], height: float, chosen: BoreSizes) -> int:
    """Nearest spot on the pocket's floor that fits; a short narrow hole comes before a short move."""
    usable = fit.good & (np.abs(fit.face_z - height) <= chosen.rise_mm)
    long = fit.narrow > chosen.skin_mm + LONG_MM
    order = np.lexsort((np.linalg.norm(moves, axis=1), long, ~usable))
    # Nothing usable: fall back to the wanted spot itself, even with a long narrow hole.
    return int(order[0]) if usable[order[0]] else 0


def _vent(spot: NDArray[np.float64], fit: _Fit, k: int, face: FaceHole, pocket: int, moved_mm: float) -> Vent:
    top = (float(spot[0]), float(spot[1]), float(fit.face_z[k]))
    return Vent(top, face, float(fit.bore[k]), float(fit.bore_top[k]), float(fit.cap_z[k]), pocket, moved_mm)


def _drop(point: NDArray[np.float64], pocket: int, why: str) -> Dropped:
    return float(point[0]), float(point[1]), float(point[2]), pocket, why


def _beside(vent: Vent, placed: list[Vent], chosen: BoreSizes) -> Vent | None:
    """Keep a wall to the vents that are there already: a narrower bore, or None."""
    room = np.inf
    for other in placed:
        apart = float(np.hypot(vent.top_mm[0] - other.top_mm[0], vent.top_mm[1] - other.top_mm[1]))
        room = min(room, apart - max(other.back_bore_mm / 2, other.face.reach_mm) - chosen.wall_mm)
    if room >= max(vent.back_bore_mm / 2, vent.face.reach_mm):
        return vent
    if room < vent.face.reach_mm:
        return None
    width, reach = (
        (2 * room, vent.bore_top_mm) if room > vent.face.reach_mm + 0.25 else (vent.face.length_mm, 0.0)
    )
    return Vent(vent.top_mm, vent.face, width, reach, vent.cap_mm, vent.pocket, vent.moved_mm)


def _notes(
    placed: list[Vent],
    dropped: list[Dropped],
    face: FaceHole,
    chosen: BoreSizes,
) -> tuple[str, ...]:
    notes = [face.note] if face.note and placed else []
    moved = [vent for vent in placed if vent.moved_mm > 0.05]
    if moved:
        far = max(vent.moved_mm for vent in moved)
        notes.append(f"{counted(len(moved), 'vent')} moved by up to {far:.1f} mm to keep their walls")
    long = [
        v
        for v in placed
        if v.top_mm[2] - max(v.bore_top_mm, chosen.channel_depth_mm) > chosen.skin_mm + LONG_MM
    ]
    if long:
        worst = max(v.top_mm[2] - max(v.bore_top_mm, chosen.channel_depth_mm) for v in long)
        stay = f"{counted(len(long), 'vent')} {verb(len(long), 'stay')} narrow for up to {worst:.1f} mm"
        notes.append(f"{stay}: there is no room for a longer back-bore")
    for why in sorted({entry[4] for entry in dropped}):
        count = sum(entry[4] == why for entry in dropped)
        notes.append(f"{counted(count, 'vent')} {'was' if count == 1 else 'were'} left out: {why}")
    return tuple(notes)
