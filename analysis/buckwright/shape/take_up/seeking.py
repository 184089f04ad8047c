"""Where take-up blocks stand: outside the wall at each web, tried out and kept where the web shrinks.

A low block does not stretch the sheet from afar; it makes the corner below the trim line rounder, so that
less sheet is left over there. Blocks close to the wall do that; far ones hold the web up like tent poles and
lengthen it, and so may tall ones. How wide and how tall is best hangs on the web, so a few arrangements are
tried and each web takes its own best. One that lets more of the web stand above the trim line is no gain.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection
from numpy.typing import NDArray

from buckwright.shape.base.blocks import Block

__all__ = ["Fold", "Room", "Sought", "Trial", "gains", "seek_blocks", "spots_of", "sum_of"]

_TRIED = (
    (0.0, 0.14, 0.0),
    (0.0, 0.08, 0.10),
    (0.0, 0.14, 0.10),
    (0.0, 0.14, 0.15),
    (0.0, 0.14, 0.22),
    (0.0, 0.08, 0.12),
    (0.0, 0.08, 0.15),
    (0.12, 0.20, 0.0),
)
"""Over the length of the web: distance of a block's middle from the wall, its radius, least depth of its top
below the trim line."""
_LEAST_RADIUS_MM = 1.5  # thinner ones break off a print: house rule
_OFFSETS_MM, _RADII_MM = (0.0, 15.0), (_LEAST_RADIUS_MM, 15.0)
_LEAST_HIGH_MM = 2.0  # a lower block is no block: house rule
_WORTH, _GROWTH = 0.9, 1.05
"""Of a web's length, and of its part above the trim line; one that stays longer gets no block (judgement)."""
_ROUNDS = 3
_INSIDE_MM = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Fold:
    """A fold that crosses the trim line.

    Attributes
    ----------
    x_mm, y_mm : its middle seen from above
    length_mm : from end to end
    over_mm : what of that is above the trim line
    """

    x_mm: float
    y_mm: float
    length_mm: float
    over_mm: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Room:
    """Where blocks may stand.

    Attributes
    ----------
    wall : outline of the base's wall at the trim line
    trim_mm : height of the trim line
    floor_mm : upper side of the flange
    top_mm : greatest height of a block over the platen
    draft_deg : of the blocks
    radius_mm : of the blocks; None: several are tried
    """

    wall: CrossSection
    trim_mm: float
    floor_mm: float
    top_mm: float
    draft_deg: float
    radius_mm: float | None = None

    @property
    def high_mm(self) -> float:
        """Height of the tallest block over the flange."""
        return self.top_mm - self.floor_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One arrangement that was tried.

    Attributes
    ----------
    offset_mm : of the blocks' middles from the wall, the median
    radius_mm, top_mm : of the blocks, the median
    blocks : how many
    length_mm : of all folds that crossed the trim line with them
    over_mm : what of that was above the trim line
    """

    offset_mm: float
    radius_mm: float
    top_mm: float
    blocks: int
    length_mm: float
    over_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """What the search found.

    Attributes
    ----------
    blocks : that are worth their place
    folds : that cross the trim line with them
    trials : what was tried, in order
    """

    blocks: tuple[Block, ...]
    folds: tuple[Fold, ...]
    trials: tuple[Trial, ...] = ()


def seek_blocks(
    webs: Sequence[Fold],
    before: Sequence[Fold],
    room: Room,
    try_out: Callable[[Sequence[Block]], Sequence[Fold]],
    told: Callable[[float], None],
    *,
    arrangements: Sequence[tuple[float, float, float]] = _TRIED,
) -> Sought:
    """Try arrangements of blocks, and keep for each web the one that shortens it most.

    Parameters
    ----------
    webs : that blocks are wanted for
    before : all folds that cross the trim line without blocks
    room : where blocks may stand
    try_out : blocks -> folds that cross the trim line with them
    told : called with the share that is done
    arrangements : what is tried, over the length of each web: distance of a block's middle from the wall, its
        radius, least depth of its top below the trim line

    Returns
    -------
    Sought : without blocks where none helps
    """
    spots = [spots_of(web, room.wall) for web in webs]
    alike = found = nothing = Sought(blocks=(), folds=tuple(before))
    if room.high_mm < _LEAST_HIGH_MM or not any(spots):
        return nothing
    trials: list[Trial] = []
    lengths, overs = _of_each(webs, before)
    least = lengths * _WORTH
    best: list[tuple[Block, ...]] = [()] * len(webs)
    for number, shares in enumerate(arrangements):
        told(number / (len(arrangements) + _ROUNDS))
        placed = [_placed(web, at, room, shares) for web, at in zip(webs, spots, strict=True)]
        folds = _try(placed, spots, try_out, trials)
        alike = _better(alike, placed, folds, before)
        left, over = _of_each(webs, folds)
        for i in np.flatnonzero((left < least) & (over <= _GROWTH * overs)):
            least[i], best[i] = left[i], placed[i]
    for number in range(_ROUNDS):
        told((len(arrangements) + number) / (len(arrangements) + _ROUNDS))
        if not any(best):
            break
        folds = _try(best, spots, try_out, trials)
        found = _better(found, best, folds, before)
        left, over = _of_each(webs, folds)
        idle = (left > _WORTH * lengths) | (over > _GROWTH * overs)
        if not any(none and blocks for none, blocks in zip(idle, best, strict=True)):
            break
        best = [() if none else blocks for none, blocks in zip(idle, best, strict=True)]
    # blocks side by side help one another: what each web liked best may be worse than all alike
    if sum_of(alike.folds, "length_mm") < _WORTH * sum_of(found.folds, "length_mm"):
        found = alike
    return Sought(blocks=found.blocks, folds=found.folds, trials=tuple(trials))


def gains(folds: Sequence[Fold], before: Sequence[Fold]) -> bool:
    """Whether folds are shorter than before, and what is above the trim line is not longer."""
    shorter = sum_of(folds, "length_mm") <= _WORTH * sum_of(before, "length_mm")
    return shorter and sum_of(folds, "over_mm") <= _GROWTH * sum_of(before, "over_mm")


def spots_of(web: Fold, wall: CrossSection) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Where blocks for a web stand at the wall, and which way is outward there.

    Parameters
    ----------
    web : see `Fold`
    wall : outline, mm

    Returns
    -------
    list of ((2,), (2,)) : one outside a corner; two for a web over the part, as between two towers, where it
        reaches the wall on both sides
    """
    middle = np.array([web.x_mm, web.y_mm])
    near, inside = _nearest(wall, middle)
    away = middle - near
    far = float(np.hypot(*away))
    if far < _INSIDE_MM:
        return []
    if not inside:
        return [(near, away / far)]
    across = -away / far
    other = _leaves(wall, middle, -across)
    return [(near, across)] if other is None else [(near, across), (other, -across)]


def sum_of(folds: Sequence[Fold], figure: str) -> float:
    """A figure of all folds together, 'length_mm' or 'over_mm'."""
    return float(sum(getattr(fold, figure) for fold in folds))


def _of_each(webs: Sequence[Fold], folds: Sequence[Fold]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Length and what is above the trim line of the folds that are nearer to a web than to another."""
    places = np.array([[web.x_mm, web.y_mm] for web in webs])
    length, over = np.zeros(len(webs)), np.zeros(len(webs))
    for fold in folds:
        nearest = np.hypot(*(places - (fold.x_mm, fold.y_mm)).T).argmin()
        length[nearest] += fold.length_mm
        over[nearest] += fold.over_mm
    return length, over


def _placed(
    web: Fold,
    at: list[tuple[NDArray[np.float64], NDArray[np.float64]]],
    room: Room,
    shares: tuple[float, float, float],
) -> tuple[Block, ...]:
    away, wide, low = (share * web.length_mm for share in shares)
    places = [near + float(np.clip(away, *_OFFSETS_MM)) * outward for near, outward in at]
    top = max(min(room.top_mm, room.trim_mm - low), room.floor_mm + _LEAST_HIGH_MM)
    radius = room.radius_mm or float(np.clip(wide, *_RADII_MM))
    return tuple(
        Block(x_mm=float(x), y_mm=float(y), top_mm=top, radius_mm=radius, draft_deg=room.draft_deg)
        for x, y in places
    )


def _try(
    placed: Sequence[tuple[Block, ...]],
    spots: Sequence[list[tuple[NDArray[np.float64], NDArray[np.float64]]]],
    try_out: Callable[[Sequence[Block]], Sequence[Fold]],
    trials: list[Trial],
) -> tuple[Fold, ...]:
    blocks = [block for some in placed for block in some]
    folds = tuple(try_out(blocks))
    offsets = [
        float(np.hypot(block.x_mm - near[0], block.y_mm - near[1]))
        for some, at in zip(placed, spots, strict=True)
        for block, (near, _) in zip(some, at, strict=bool(some))
    ]
    trials.append(
        Trial(
            offset_mm=float(np.median(offsets)),
            radius_mm=float(np.median([block.radius_mm for block in blocks])),
            top_mm=float(np.median([block.top_mm for block in blocks])),
            blocks=len(blocks),
            length_mm=sum_of(folds, "length_mm"),
            over_mm=sum_of(folds, "over_mm"),
        )
    )
    return folds


def _better(
    found: Sought, placed: Sequence[tuple[Block, ...]], folds: tuple[Fold, ...], before: Sequence[Fold]
) -> Sought:
    """The shorter webs; of two alike, those that were there before."""
    shorter = sum_of(folds, "length_mm") < sum_of(found.folds, "length_mm")
    if not (shorter and gains(folds, before)):
        return found
    return Sought(blocks=tuple(block for some in placed for block in some), folds=folds)


def _edges(wall: CrossSection) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rings = [np.asarray(ring, np.float64) for ring in wall.to_polygons()]
    return np.concatenate(rings), np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])


def _nearest(wall: CrossSection, place: NDArray[np.float64]) -> tuple[NDArray[np.float64], bool]:
    """Nearest point of an outline, and whether the place lies inside of it."""
    a, b = _edges(wall)
    along = b - a
    share = np.einsum("ij,ij->i", place - a, along) / np.maximum(np.einsum("ij,ij->i", along, along), 1e-12)
    feet = a + np.clip(share, 0.0, 1.0)[:, None] * along
    inside = bool(len(_crossings(a, b, place, np.array([1.0, 0.0]))) % 2)
    return feet[np.hypot(*(feet - place).T).argmin()], inside


def _leaves(
    wall: CrossSection, place: NDArray[np.float64], way: NDArray[np.float64]
) -> NDArray[np.float64] | None:
    """Where a ray leaves an outline for good."""
    steps = _crossings(*_edges(wall), place, way)
    return place + steps.max() * way if len(steps) else None


def _crossings(
    a: NDArray[np.float64], b: NDArray[np.float64], place: NDArray[np.float64], way: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Distances at which a ray crosses edges."""
    normal = np.array([-way[1], way[0]])
    over, under = (a - place) @ normal, (b - place) @ normal
    cut = (over > 0.0) != (under > 0.0)
    share = over[cut] / (over[cut] - under[cut])
    steps = ((a[cut] + share[:, None] * (b[cut] - a[cut])) - place) @ way
    ahead: NDArray[np.float64] = steps[steps > 0.0]
    return ahead
