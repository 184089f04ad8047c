"""A solid cut by planes into the fewest pieces that go on the printer."""

from dataclasses import dataclass, field

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from buckwright.printing.pieces.axes import box_of
from buckwright.printing.pieces.fitting import box_after, turned
from buckwright.printing.pieces.places import STEP_MM, Detail, split_places
from buckwright.shape.solid import SLIVER_MM3

__all__ = ["LEAST_PIECE_MM3", "Cut", "Hindrances", "best_turn", "bodies_of", "cut_across", "split_solid"]

LEAST_PIECE_MM3 = 1000.0
"""A plane that cuts off less moves on, or is left out there: a crumb is neither printed nor glued well. House
rule."""
_FLAKE_MM3 = 1e-3
_GROOVE = 0.05
"""For each millimetre of channel that a plane cuts, beside 1 for the mean bending of the surface: judgement.
To cross a channel costs little, to run along it much: glue would fill it."""
# Each try costs another cut, and slivers that are left stay on the piece beside them: judgement.
_MOST_MOVES = 3
_TURN_DEG = 0.5
_LOOK_MM = 0.1
"""Spacing of the planes with which turns are compared; planes are then set as finely, see `places`."""
_SAME_MM = 0.01
"""Beads over one another count once for a turn about the vertical."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A plane across an axis, and how far it stays from the nearest vent or fixing (inf without any)."""

    axis: int
    at_mm: float
    clear_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Hindrances:
    """What planes keep away from.

    Attributes
    ----------
    beads : (N, 4) float64, centre and radius of spheres that stand for vents and fixings
    detail : bending of the surface
    clear_mm : wanted distance of planes from the spheres
    grooves : (G, 2) float64, places a millimetre apart that channels on the underside cover
    """

    beads: NDArray[np.float64]
    detail: Detail
    clear_mm: float
    grooves: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 2)))

    def along_channels(
        self, axis: int, places: NDArray[np.float64], box: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """What it costs that planes (P,) across a piece with box (2, 3) run along channels."""
        if axis == 2 or not len(self.grooves):
            return np.zeros(len(places))
        there = self.grooves[((self.grooves >= box[0, :2]) & (self.grooves <= box[1, :2])).all(axis=1)]
        edges = np.append(places - STEP_MM / 2.0, places[-1] + STEP_MM / 2.0)
        cost: NDArray[np.float64] = np.float64(_GROOVE) * np.histogram(there[:, axis], edges)[0]
        return cost

    def distance(
        self, axis: int, places: NDArray[np.float64], box: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Distance of planes (P,) across a piece with box (2, 3) from the nearest sphere in it."""
        beads = self.beads[_inside(self.beads[:, :3], box)]
        if not len(beads):
            return np.full(len(places), np.inf)
        gaps = np.abs(places[:, None] - beads[:, axis]) - beads[:, 3]
        nearest: NDArray[np.float64] = gaps.min(axis=1)
        return nearest


def best_turn(
    outline: NDArray[np.float64], beads: NDArray[np.float64], room_mm: tuple[float, float], *, clear_mm: float
) -> tuple[float, tuple[float, float]]:
    """The turn about the vertical, and the bed's way round, for the fewest pieces and the clearest planes.

    Parameters
    ----------
    outline : (N, 2) float64, corners of the convex outline, mm
    beads : (B, 4) float64, spheres that planes keep away from
    room_mm : width and depth of the bed that may be used
    clear_mm : wanted distance of planes from the spheres

    Returns
    -------
    degrees, (width, depth)
        As it stands, or along the smallest rectangle around the outline, where the planes can keep their
        distance so; else the turn, in steps of half a degree, with which they keep the most.
    """
    flat = np.round(beads / _SAME_MM) * _SAME_MM
    beads = np.unique(flat * (1.0, 1.0, 0.0, 1.0), axis=0)
    sides = np.diff(np.vstack([outline, outline[:1]]), axis=0)
    along = -np.degrees(np.arctan2(sides[:, 1], sides[:, 0]))
    tightest = float(along[int(np.argmin([np.prod(box_after(outline, float(angle))) for angle in along]))])
    ways = [
        (angle, room)
        for angle in (0.0, tightest, *np.arange(_TURN_DEG, 180.0, _TURN_DEG).tolist())
        for room in (room_mm, room_mm[::-1])
    ]

    def worth(way: tuple[float, tuple[float, float]]) -> tuple[int, float]:
        angle, room = way
        wide, deep = box_after(outline, angle)
        count = int(np.ceil(wide / room[0]) * np.ceil(deep / room[1]))
        clear = min(_clearest(outline, beads, angle, axis, room[axis]) for axis in (0, 1))
        return count, -min(clear, clear_mm)

    return min(ways, key=worth)


def _clearest(
    outline: NDArray[np.float64], beads: NDArray[np.float64], angle_deg: float, axis: int, most: float
) -> float:
    """How far planes across a turned axis can stay from all spheres, for the fewest parts."""
    ends, at = (turned(points, angle_deg)[:, axis] for points in (outline, beads[:, :2]))
    low, high = float(ends.min()), float(ends.max())
    parts = int(np.ceil((high - low) / most - 1e-9))
    clear = np.inf
    for n in range(1, parts):
        # each plane for itself: between the places that the other parts can reach
        places = np.arange(max(low + STEP_MM, high - (parts - n) * most), min(high, low + n * most), _LOOK_MM)
        if len(places) and len(at):
            clear = min(clear, float((np.abs(places[:, None] - at) - beads[:, 3]).min(axis=1).max()))
    return clear


def split_solid(
    solid: Manifold, room_mm: tuple[float, float, float], hindrances: Hindrances
) -> tuple[list[Manifold], list[Cut]]:
    """Cut a solid into boxes of at most the printer's room.

    Parameters
    ----------
    solid : mm, standing on the platen
    room_mm : width, depth and height that may be used
    hindrances : what the planes keep away from

    Returns
    -------
    pieces, cuts
        Each piece is one body. United they are the solid.

    Notes
    -----
    Level planes first, then planes across x, then, in each slab by itself, planes across y.
    """
    pieces, cuts = [solid], []
    for axis in (2, 0, 1):
        after: list[Manifold] = []
        for piece in pieces:
            parts, made = _split_along(piece, axis, room_mm[axis], hindrances)
            after.extend(parts)
            cuts.extend(made)
        pieces = after
    return [body for piece in pieces for body in bodies_of(piece)], cuts


def _split_along(
    piece: Manifold, axis: int, most: float, hindrances: Hindrances
) -> tuple[list[Manifold], list[Cut]]:
    box = box_of(piece)
    barred: list[float] = []

    def cost(places: NDArray[np.float64]) -> NDArray[np.float64]:
        inside = _inside(hindrances.detail.at, box)
        return hindrances.detail.along(axis, places, inside) + hindrances.along_channels(axis, places, box)

    def clear(places: NDArray[np.float64]) -> NDArray[np.float64]:
        far = hindrances.distance(axis, places, box)
        for at in barred:
            far[np.abs(places - at) < 3.0] = -np.inf
        return far

    tried: list[tuple[int, float, list[Cut], list[Manifold]]] = []
    for _ in range(_MOST_MOVES):
        at = split_places(
            float(box[0, axis]),
            float(box[1, axis]),
            most,
            cost=cost,
            clear_mm=clear,
            wanted_clear_mm=hindrances.clear_mm,
        )
        parts = cut_across(piece, axis, at)
        crumbs = [n for n, part in enumerate(parts) if at and _least_body(part) < LEAST_PIECE_MM3]
        far = hindrances.distance(axis, np.asarray(at), box)
        short = max(hindrances.clear_mm - float(far.min(initial=np.inf)), 0.0)
        cuts = [Cut(axis, place, float(gap)) for place, gap in zip(at, far, strict=True)]
        tried.append((len(crumbs), short, cuts, parts))
        if not crumbs:
            break
        barred.extend(at[min(n, len(at) - 1)] for n in crumbs)
    # slivers stay on the piece beside them, which then may be too large for the bed
    _, _, cuts, parts = min(tried, key=lambda one: one[:2])
    return parts, cuts


def cut_across(piece: Manifold, axis: int, at: list[float]) -> list[Manifold]:
    """Parts of a piece between rising places along an axis, the lowest first; empty ones are left out."""
    normal = (float(axis == 0), float(axis == 1), float(axis == 2))
    parts, rest = [], piece
    for place in at:
        rest, below = rest.split_by_plane(normal, place)
        parts.append(below)
    return [part for part in (*parts, rest) if not part.is_empty()]


def bodies_of(part: Manifold) -> list[Manifold]:
    """Its separate bodies, without the flakes of no thickness that a plane through a vertex leaves."""
    return [body for body in part.decompose() if body.volume() > _FLAKE_MM3]


def _least_body(part: Manifold) -> float:
    """Volume of the smallest body that is more than a crumb, mm3; crumbs move no plane."""
    volumes = [body.volume() for body in bodies_of(part)]
    return min((volume for volume in volumes if volume > SLIVER_MM3), default=0.0)


def _inside(points: NDArray[np.float64], box: NDArray[np.float64]) -> NDArray[np.bool_]:
    within: NDArray[np.bool_] = ((points >= box[0]) & (points <= box[1])).all(axis=1)
    return within
