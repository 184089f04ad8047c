"""What a vent is: the opening at the face, the bore behind it, and the plan of all vents of a buck."""

from dataclasses import dataclass, fields
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from buckwright.errors import JobError
from buckwright.shape.vents.face_hole import FaceHole

__all__ = ["BORE_KINDS", "FOOT", "OPEN", "BoreKind", "BoreSizes", "Dropped", "Leg", "Vent", "VentPlan"]

type Dropped = tuple[float, float, float, int, str]
"""x, y, z, pocket and why, of a place without a vent."""
type BoreKind = Literal["straight", "slanted", "elbow"]
BORE_KINDS: tuple[BoreKind, ...] = ("straight", "slanted", "elbow")

FOOT = -1
"""Pocket number of a vent on the ring around the foot."""
OPEN = -2
"""Pocket number of a vent placed by hand outside all pockets."""

_WIDTHS_DEEP = 20.0
"""Depth over its width to which a narrow hole stays open in printing: house rule."""
_BEAD_MM = 0.4
"""Spacing of the spheres that stand for a bore where two are kept apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoreSizes:
    """Measures of the vents.

    Attributes
    ----------
    skin_mm : solid that the narrow hole goes through (3..6 mm by the handbooks, from memory)
    back_bore_mm : diameter of the wide bore (3..6 mm by the handbooks, from memory)
    wall_mm : least solid round a bore; four walls of a 0.4 mm nozzle, common practice, no source
    channel_depth_mm : depth of the channels beneath, where a bore shorter than that is pointless
    narrow_most_mm : longest narrow hole that is left to the printer; None for 20 widths of it, at least the
        skin and 2 mm (house rule)
    tilt_deg : how far a bore may lean where an upright one has no room, 0..60; 0 for upright bores only
    move_mm : how far a vent may move within its pocket, and `rise_mm`: how much higher it may get
    dimple_mm : depth of a drill dimple
    """

    skin_mm: float = 3.0
    back_bore_mm: float = 4.0
    wall_mm: float = 1.6
    channel_depth_mm: float = 2.5
    narrow_most_mm: float | None = None
    tilt_deg: float = 45.0
    move_mm: float = 3.0
    rise_mm: float = 0.5
    dimple_mm: float = 0.6

    def __post_init__(self) -> None:
        """Refuse what cannot be bored, in words."""
        lengths = [field.name for field in fields(self) if field.name.endswith("_mm")]
        for name in lengths:
            value = getattr(self, name)
            most = 200 if name == "narrow_most_mm" else 50
            if value is not None and not (np.isfinite(value) and 0 <= value <= most):
                raise JobError(f"vents.{name} must lie between 0 and {most} mm, got {value:g}")
        if not 0 <= self.tilt_deg <= 60:
            raise JobError(f"vents.tilt_deg must lie between 0 and 60 degrees, got {self.tilt_deg:g}")
        if self.skin_mm < 0.4 or self.wall_mm < 0.4 or self.back_bore_mm <= 0:
            raise JobError("vents need a skin and a wall of at least 0.4 mm and a back-bore over 0 mm")
        if self.dimple_mm >= self.skin_mm:
            raise JobError(
                f"a dimple {self.dimple_mm:g} mm deep goes through the skin of {self.skin_mm:g} mm"
            )

    def deepest_narrow_mm(self, face: FaceHole) -> float:
        """Length of the narrow hole from which on it is not left to the printer."""
        if self.narrow_most_mm is not None:
            return self.narrow_most_mm
        return max(_WIDTHS_DEEP * face.width_mm, self.skin_mm + 2.0)


@dataclass(frozen=True, slots=True)
class Leg:
    """The leaning part of a bore, from the face to an upright shaft.

    Attributes
    ----------
    knee_mm : (x, y, z) where the axes of leg and shaft meet
    narrow_mm : length of the narrow hole along the axis
    kind : 'slanted' where the leg reaches down to the channels, 'elbow' where it ends higher
    """

    knee_mm: tuple[float, float, float]
    narrow_mm: float
    kind: BoreKind


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
    leg : None for a bore that is upright all the way
    """

    top_mm: tuple[float, float, float]
    face: FaceHole
    back_bore_mm: float
    bore_top_mm: float
    cap_mm: float
    pocket: int
    moved_mm: float
    leg: Leg | None = None

    @property
    def kind(self) -> BoreKind:
        """How the bore runs."""
        return "straight" if self.leg is None else self.leg.kind

    @property
    def foot_mm(self) -> tuple[float, float]:
        """(x, y) of the axis at the underside."""
        place = self.top_mm if self.leg is None else self.leg.knee_mm
        return place[0], place[1]

    @property
    def bored(self) -> bool:
        """Whether there is a bore wider than the hole."""
        return self.bore_top_mm > 0

    def narrow_mm(self, channel_depth_mm: float) -> float:
        """Length of the narrow hole, down to the bore or to the channel."""
        if self.leg is not None:
            return self.leg.narrow_mm
        return self.top_mm[2] - max(self.bore_top_mm, channel_depth_mm)

    def beads(self) -> NDArray[np.float64]:
        """Spheres along the axis that stand for the bore, (N, 4): x, y, z, radius, mm."""
        top, foot = np.array(self.top_mm), np.array([*self.foot_mm, 0.0])
        wide, half = max(self.back_bore_mm / 2, self.face.reach_mm), self.face.reach_mm
        if self.leg is None:
            return _beads([top, [*foot[:2], min(self.bore_top_mm, top[2])], foot], [half, wide])
        knee = np.array(self.leg.knee_mm)
        into = (knee - top) / np.linalg.norm(knee - top)
        return _beads([top, top + self.leg.narrow_mm * into, knee, foot], [half, wide, wide])

    def to_dict(self) -> dict[str, Any]:
        """One entry of `vents` in report.json.

        Returns
        -------
        dict : rounded figures, the point as a list
        """
        return {
            "top_mm": [round(value, 4) for value in self.top_mm],
            "foot_mm": [round(value, 4) for value in self.foot_mm],
            "diameter_mm": self.face.width_mm,
            "opening": self.face.opening,
            "bore": self.kind,
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
    bores, face : as used; single vents may have a shorter slot, or a dimple
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
        return len(self.vents) - len(self.to_drill)

    @property
    def to_drill(self) -> tuple[Vent, ...]:
        """The vents that are only marked, to be drilled after printing."""
        return tuple(vent for vent in self.vents if vent.face.opening == "dimple")

    @property
    def foot_count(self) -> int:
        """How many stand round the foot, in what the base and the fill add to a sculpt."""
        return sum(vent.pocket == FOOT for vent in self.vents)

    @property
    def axes(self) -> NDArray[np.float64]:
        """Where the vents open at the face, seen down the pull, (N, 2), mm."""
        return np.array([vent.top_mm[:2] for vent in self.vents], dtype=np.float64).reshape(-1, 2)

    @property
    def feet(self) -> NDArray[np.float64]:
        """Where the bores open at the underside, (N, 2), mm."""
        return np.array([vent.foot_mm for vent in self.vents], dtype=np.float64).reshape(-1, 2)

    @property
    def bores_mm(self) -> NDArray[np.float64]:
        """Greatest diameter of each vent below the face, (N,), mm."""
        return np.array([max(v.back_bore_mm, v.face.length_mm) for v in self.vents], dtype=np.float64)

    def under_legs(self, points_xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Height of the lowest leaning bore over each point, (N,) mm; inf where none is."""
        lowest = np.full(len(points_xy), np.inf)
        legs = [vent.beads() for vent in self.vents if vent.leg is not None]
        if not legs:
            return lowest
        beads = np.concatenate(legs)
        under = cKDTree(points_xy[:, :2]).query_ball_point(beads[:, :2], beads[:, 3])
        bead = np.repeat(np.arange(len(beads)), [len(found) for found in under])
        point = np.concatenate([np.asarray(found, np.int64) for found in under])
        away = np.linalg.norm(points_xy[point, :2] - beads[bead, :2], axis=1)
        half = np.sqrt(np.maximum(beads[bead, 3] ** 2 - away**2, 0.0))
        np.minimum.at(lowest, point, beads[bead, 2] - half)
        return lowest

    def to_dict(self) -> list[dict[str, Any]]:
        """The entry `vents` in report.json.

        Returns
        -------
        list of dict : one per vent
        """
        return [vent.to_dict() for vent in self.vents]


def _beads(corners: list[Any], radii: list[float]) -> NDArray[np.float64]:
    parts = []
    for start, end, radius in zip(corners[:-1], corners[1:], radii):
        count = max(2, int(np.ceil(np.linalg.norm(np.subtract(end, start)) / _BEAD_MM)) + 1)
        parts.append(np.column_stack([np.linspace(start, end, count), np.full(count, radius)]))
    return np.concatenate(parts)
