"""Screw pilots or magnet pockets in the underside, far apart and clear of everything else."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from manifold3d import CrossSection, Manifold
from numpy.typing import NDArray
from scipy import ndimage, spatial

from buckwright.errors import JobError
from buckwright.shape.underside.free_area import free_area

__all__ = ["FIXINGS", "Fixing", "FixingPlan", "FixingRequest", "fixing_tools", "plan_fixings"]

type FixingKind = Literal["screw", "magnet", "none"]
type SolidHeight = Callable[[NDArray[np.float64]], NDArray[np.float64]]

FIXINGS: tuple[FixingKind, ...] = ("screw", "magnet", "none")

PILOT_MM = (3.0, 12.0)
"""Diameter and depth of a pilot for a 4 mm wood screw; common practice, no source."""
MAGNET_MM = (10.2, 3.2)
"""Pocket for a disc magnet 10 x 3 mm with 0.1 mm of play all round; common practice, no source."""
SHORTER = (1.0, 0.75, 0.5)
"""Depths of a pilot tried in turn, as shares of the wanted one; house rule."""
NEAR_MM = 20.0
"""Fixings closer than this hardly keep the buck from turning; house rule."""
SEGMENTS = 32
BELOW_MM = 1.9
"""How far the tools start below the platen; no other tool starts there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FixingRequest:
    """What holds the buck to its board.

    Attributes
    ----------
    fixing : 'screw', 'magnet' or 'none'
    fixing_count : how many are wanted
    diameter_mm, depth_mm : of the hole; None takes the usual size of the kind
    wall_mm : least solid beside it
    skin_mm : least solid above it, at least 2
    """

    fixing: FixingKind = "screw"
    fixing_count: int = 2
    diameter_mm: float | None = None
    depth_mm: float | None = None
    wall_mm: float = 2.0
    skin_mm: float = 2.0

    def __post_init__(self) -> None:
        """Refuse what cannot be made, in words."""
        if self.fixing not in FIXINGS:
            raise JobError(f"the fixing must be one of {', '.join(FIXINGS)}, got {self.fixing!r}")
        if not 0 <= self.fixing_count <= 24:
            raise JobError(f"the number of fixings must lie between 0 and 24, got {self.fixing_count}")
        for name, value in zip(("diameter_mm", "depth_mm"), self.size_mm):
            if not 0.5 <= value <= 60:
                raise JobError(f"fixings.{name} must lie between 0.5 and 60 mm, got {value:g}")
        if not (0.4 <= self.wall_mm <= 50 and 2.0 <= self.skin_mm <= 50):
            raise JobError("fixings need a wall of at least 0.4 mm and a skin of at least 2 mm")

    @property
    def size_mm(self) -> tuple[float, float]:
        """Diameter and depth with the usual sizes filled in."""
        usual = MAGNET_MM if self.fixing == "magnet" else PILOT_MM
        wide = usual[0] if self.diameter_mm is None else self.diameter_mm
        deep = usual[1] if self.depth_mm is None else self.depth_mm
        return float(wide), float(deep)


@dataclass(frozen=True, slots=True)
class Fixing:
    """One blind hole from beneath: axis (x, y), diameter and depth, mm."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    depth_mm: float

    def beads(self) -> NDArray[np.float64]:
        """Spheres along the axis that stand for the hole, (N, 4): x, y, z, radius, mm."""
        z = np.linspace(0.0, self.depth_mm, max(int(np.ceil(self.depth_mm / self.diameter_mm * 2.0)), 2))
        place = np.broadcast_to((self.x_mm, self.y_mm), (len(z), 2))
        return np.column_stack([place, z, np.full(len(z), self.diameter_mm / 2.0)])


@dataclass(frozen=True, slots=True, eq=False)
class FixingPlan:
    """Where the buck is held, and notes about what did not fit."""

    kind: FixingKind
    holes: tuple[Fixing, ...]
    notes: tuple[str, ...]

    @property
    def circles(self) -> NDArray[np.float64]:
        """x, y, radius of every hole, (K, 3), mm: what channels and lettering keep clear of."""
        rows = [(hole.x_mm, hole.y_mm, hole.diameter_mm / 2) for hole in self.holes]
        return np.array(rows, dtype=np.float64).reshape(-1, 3)

    def beads(self) -> NDArray[np.float64]:
        """Spheres along the axes that stand for the holes, (N, 4): x, y, z, radius, mm."""
        return np.concatenate([np.zeros((0, 4)), *(hole.beads() for hole in self.holes)])

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : kind, holes and notes
        """
        holes = [
            {
                "centre_mm": [round(hole.x_mm, 3), round(hole.y_mm, 3)],
                "diameter_mm": hole.diameter_mm,
                "depth_mm": round(hole.depth_mm, 3),
            }
            for hole in self.holes
        ]
        return {"kind": self.kind, "holes": holes, "notes": list(self.notes)}


def plan_fixings(
    underside: CrossSection,
    solid_height: SolidHeight,
    *,
    settings: FixingRequest | None = None,
    keep_out: CrossSection | None = None,
    pixel_mm: float = 1.0,
) -> FixingPlan:
    """Choose places for the fixings, as far apart as the ground allows.

    Parameters
    ----------
    underside : CrossSection, mm
        What stands on the platen.
    solid_height : callable, (N, 2) -> (N,) mm
        Height to which the solid rises unbroken (`solid_height.solid_height`); -inf where there is none.
    settings : FixingRequest, optional
    keep_out : CrossSection, mm, optional
        Vents and channels; the fixings keep `wall_mm` clear of them.
    pixel_mm : float, > 0
        Raster of the search; every place chosen is then checked again by samples 0.35 mm apart.

    Returns
    -------
    FixingPlan
        With fewer or shallower holes than wanted where no more fit, and notes that say so.

    Notes
    -----
    Allowed ground by distance transform and by a running minimum of `solid_height`; the first hole is one end
    of the widest pair on its hull, each further one is farthest from those before.
    """
    chosen = settings or FixingRequest()
    if chosen.fixing == "none" or not chosen.fixing_count:
        return FixingPlan("none", (), ())
    wide, deep = chosen.size_mm
    reach = wide / 2 + chosen.wall_mm
    ground = free_area(underside, keep_out=keep_out, pixel_mm=pixel_mm)
    spots = ground.centres()
    heights = np.full(ground.free.shape, -np.inf)
    heights[ground.free] = solid_height(spots[ground.free])
    over = ndimage.minimum_filter(heights, footprint=_disc(reach, pixel_mm), mode="constant", cval=-np.inf)
    clear = ground.free & (ground.clearance_mm() >= reach)
    best: list[NDArray[np.float64]] = []
    depth = deep
    for share in SHORTER if chosen.fixing == "screw" else (1.0,):
        allowed = spots[clear & (over >= share * deep + chosen.skin_mm)]
        found = _far_apart(
            allowed,
            chosen.fixing_count,
            wide + chosen.wall_mm,
            reach,
            solid_height,
            share * deep + chosen.skin_mm,
        )
        if len(found) > len(best):
            best, depth = found, share * deep
        if len(best) == chosen.fixing_count:
            break
    holes = tuple(Fixing(float(x), float(y), wide, depth) for x, y in best)
    return FixingPlan(chosen.fixing, holes, _notes(holes, chosen, deep))


def fixing_tools(plan: FixingPlan) -> list[Manifold]:
    """One cylinder per fixing, to subtract.

    Parameters
    ----------
    plan : from `plan_fixings`

    Returns
    -------
    list of Manifold : mm
    """
    tools = []
    for hole in plan.holes:
        radius, height = hole.diameter_mm / 2, hole.depth_mm + BELOW_MM
        bore = Manifold.cylinder(height, radius, circular_segments=SEGMENTS)
        tools.append(bore.translate((hole.x_mm, hole.y_mm, -BELOW_MM)))
    return tools


def _disc(reach_mm: float, pixel_mm: float) -> NDArray[np.bool_]:
    cells = int(np.ceil(reach_mm / pixel_mm + np.sqrt(0.5)))
    step = np.arange(-cells, cells + 1) * pixel_mm
    disc: NDArray[np.bool_] = np.hypot(*np.meshgrid(step, step)) <= reach_mm + pixel_mm * np.sqrt(0.5)
    return disc


def _far_apart(
    allowed: NDArray[np.float64],
    count: int,
    apart_mm: float,
    reach_mm: float,
    solid_height: SolidHeight,
    least_z: float,
) -> list[NDArray[np.float64]]:
    """Up to `count` of the allowed places, each confirmed by fine samples of `solid_height`."""
    found: list[NDArray[np.float64]] = []
    left = allowed
    while len(left) and len(found) < count:
        pick = _widest_end(left) if not found else _farthest(left, found)
        if found and np.linalg.norm(np.array(found) - pick, axis=1).min() < apart_mm:
            break
        if np.all(solid_height(pick + _samples(reach_mm)) >= least_z - 1e-6):
            found.append(pick)
        left = left[np.linalg.norm(left - pick, axis=1) > 1e-9]
    return found


def _widest_end(spots: NDArray[np.float64]) -> NDArray[np.float64]:
    """One end of the widest pair of places."""
    flat = len(spots) < 3 or np.linalg.matrix_rank(spots - spots[0]) < 2
    hull = spots if flat else spots[spatial.ConvexHull(spots).vertices]
    far = spatial.distance.cdist(hull, hull)
    end: NDArray[np.float64] = hull[np.unravel_index(far.argmax(), far.shape)[0]]
    return end


def _farthest(spots: NDArray[np.float64], found: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    end: NDArray[np.float64] = spots[spatial.distance.cdist(spots, np.array(found)).min(1).argmax()]
    return end


def _samples(reach_mm: float) -> NDArray[np.float64]:
    step = np.linspace(-reach_mm, reach_mm, int(np.ceil(2 * reach_mm / 0.35)) + 1)
    grid = np.stack(np.meshgrid(step, step), -1).reshape(-1, 2)
    angle = np.linspace(0, 2 * np.pi, 48, False)
    rim = reach_mm * np.column_stack([np.cos(angle), np.sin(angle)])
    return np.concatenate([grid[np.linalg.norm(grid, axis=1) <= reach_mm], rim])


def _notes(holes: tuple[Fixing, ...], chosen: FixingRequest, deep: float) -> tuple[str, ...]:
    name = "screw holes" if chosen.fixing == "screw" else "magnet pockets"
    notes = []
    if len(holes) < chosen.fixing_count:
        notes.append(
            f"only {len(holes)} of {chosen.fixing_count} {name} fit: "
            "hold the buck with tape or screws through the flange, or make the riser higher"
        )
    if holes and holes[0].depth_mm < deep - 1e-9:
        notes.append(
            f"{name} are {holes[0].depth_mm:.1f} mm deep instead of {deep:g} mm: the buck is no higher there"
        )
    if len(holes) > 1:
        spots = np.array([(hole.x_mm, hole.y_mm) for hole in holes])
        widest = spatial.distance.pdist(spots).max()
        if widest < NEAR_MM:
            notes.append(f"{name} lie only {widest:.0f} mm apart and will hardly keep the buck from turning")
    return tuple(notes)
