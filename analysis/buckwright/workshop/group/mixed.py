"""Bucks of different sizes in one opening: laid like blanks on a stock sheet, with gaps for saw cuts."""

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from buckwright.errors import InputError
from buckwright.workshop.cutting.nesting import Piece
from buckwright.workshop.cutting.together import Demand, Named, nest_together
from buckwright.workshop.group.planning import Beside, GroupPlan, Place

__all__ = ["Wanted", "plan_mixed"]

_MOST_TRIED = 150
"""Numbers of bucks that are tried when not all fit; of more kinds the largest are left out first."""
_MOST_WIDTHS = 24
_ROOM = 1e-6

type Size = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Wanted:
    """Bucks of one kind: what they are, width and depth of a base in mm, how many."""

    name: str
    base_mm: Size
    copies: int


def plan_mixed(
    own: Wanted,
    others: Sequence[Wanted],
    *,
    spacing_mm: float,
    edge_mm: float,
    opening_mm: Size | None,
    round_one: bool = False,
) -> GroupPlan:
    """Lay bucks of different sizes in an opening.

    Parameters
    ----------
    own : the buck of this job
    others : of other jobs
    spacing_mm, edge_mm : clear distances between bucks and to the frame
    opening_mm : clear width and depth; None takes what they need
    round_one : whether the opening is round: the largest square in it counts

    Returns
    -------
    GroupPlan : what does not fit has no places; `most_of` then says how many of each do

    Notes
    -----
    A heuristic: bases are laid in rows, and where none of those fits, as rectangles that can be parted by
    lines running through (`nest_together`). It may miss a closer layout. Which numbers fit is asked from all
    of them downwards.
    """
    wanted = (own, *others)
    counts = tuple(one.copies for one in wanted)
    layouts = sorted(
        _layouts(wanted, counts, spacing_mm), key=lambda one: (one.size[0] * one.size[1], one.size)
    )
    needs = tuple(dict.fromkeys(_edged(one.size, edge_mm) for one in layouts))
    size = needs[0] if opening_mm is None else opening_mm
    room = _room(size, edge_mm, round_one=round_one and opening_mm is not None)
    chosen = _in_room(layouts, wanted, counts, spacing_mm, room)
    most = counts if chosen is not None else _most(wanted, counts, spacing_mm, room)
    places = _places(wanted, () if chosen is None else chosen.laid)
    return GroupPlan(
        copies=own.copies,
        most=most[0],
        base_mm=own.base_mm,
        spacing_mm=spacing_mm,
        edge_mm=edge_mm,
        opening_mm=size,
        opening_given=opening_mm is not None,
        round_opening=round_one and opening_mm is not None,
        needs_mm=needs,
        places=places[0],
        beside=tuple(
            Beside(one.name, one.base_mm, one.copies, fit, place)
            for one, fit, place in zip(others, most[1:], places[1:], strict=True)
        ),
    )


@dataclass(frozen=True, slots=True)
class _Layout:
    """Where bases lie, and width and depth around them."""

    laid: tuple[Named, ...]

    @property
    def size(self) -> Size:
        low, high = _ends(self.laid)
        return high[0] - low[0], high[1] - low[1]


def _ends(laid: Sequence[Named]) -> tuple[Size, Size]:
    """Lowest and highest corner of what bases cover."""
    pieces = [one.piece for one in laid]
    low = min(one.x for one in pieces), min(one.y for one in pieces)
    high = max(one.x + one.width_mm for one in pieces), max(one.y + one.depth_mm for one in pieces)
    return low, high


def _edged(size: Size, edge: float) -> Size:
    return size[0] + 2.0 * edge, size[1] + 2.0 * edge


def _room(opening: Size, edge: float, *, round_one: bool) -> Size:
    width, depth = (math.sqrt(0.5) * opening[0],) * 2 if round_one else opening
    return width - 2.0 * edge + _ROOM, depth - 2.0 * edge + _ROOM


def _in_room(
    layouts: Sequence[_Layout], wanted: Sequence[Wanted], counts: tuple[int, ...], spacing: float, room: Size
) -> _Layout | None:
    """The layout that leaves most sheet on its narrowest side; else any that the room itself gives."""

    def over(one: _Layout) -> float:
        return max(one.size[0] - room[0], one.size[1] - room[1])

    best = min(layouts, key=over)
    if over(best) <= 0.0:
        return best
    laid = _laid(wanted, counts, spacing, room)
    return None if laid is None else _Layout(laid)


def _laid(
    wanted: Sequence[Wanted], counts: Sequence[int], spacing: float, room: Size
) -> tuple[Named, ...] | None:
    """All of them in a room, or None."""
    if min(room) <= 0.0:
        return None
    kinds = enumerate(zip(wanted, counts, strict=True))
    demands = [Demand(str(n), one.base_mm, count) for n, (one, count) in kinds if count]
    area = sum((one.blank_mm[0] + spacing) * (one.blank_mm[1] + spacing) * one.count for one in demands)
    if not demands or area > (room[0] + spacing) * (room[1] + spacing):
        return None if demands else ()
    try:
        found = nest_together(demands, room, saw_gap_mm=spacing)
    except InputError:  # one of them is larger than the room
        return None
    return found.sheets[0].pieces if found.count == 1 else None


def _most(wanted: Sequence[Wanted], counts: tuple[int, ...], spacing: float, room: Size) -> tuple[int, ...]:
    """The largest numbers that fit; of equals, the one with most of this job's own."""
    for fewer in _fewer(wanted, counts):
        layouts = list(_layouts(wanted, fewer, spacing)) if any(fewer) else []
        if not layouts or _in_room(layouts, wanted, fewer, spacing, room) is not None:
            return fewer
    return (0,) * len(counts)


def _fewer(wanted: Sequence[Wanted], counts: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    if math.prod(count + 1 for count in counts) <= _MOST_TRIED:
        every = itertools.product(*(range(count + 1) for count in counts))
        yield from sorted(every, key=lambda one: (-sum(one), tuple(-count for count in one)))
        return
    left = list(counts)
    while any(left):
        yield tuple(left)
        largest = max((n for n in range(len(left)) if left[n]), key=lambda n: math.prod(wanted[n].base_mm))
        left[largest] -= 1


def _layouts(wanted: Sequence[Wanted], counts: tuple[int, ...], spacing: float) -> Iterator[_Layout]:
    """Layouts in rows for every width that some of the bases side by side need, and the same turned."""
    for lie in _LIES:
        sizes = [(n, lie(one.base_mm)) for n, one in enumerate(wanted) for _ in range(counts[n])]
        sizes.sort(key=lambda one: (-one[1][1], -one[1][0], one[0]))
        wides = [size[0] for _, size in sizes]
        widths = {sum(wides[:n]) + (n - 1) * spacing for n in range(1, len(wides) + 1)} - {0.0}
        for width in sorted(widths)[:: max(len(widths) // _MOST_WIDTHS, 1)]:
            laid = _in_rows(sizes, max(width, *wides), spacing)
            yield _Layout(laid)
            yield _Layout(tuple(_turned(one) for one in laid))


_LIES: tuple[Callable[[Size], Size], ...] = (
    lambda size: size,
    lambda size: size[::-1],
    lambda size: (max(size), min(size)),
    lambda size: (min(size), max(size)),
)


def _in_rows(sizes: Sequence[tuple[int, Size]], width: float, spacing: float) -> tuple[Named, ...]:
    """Rows of at most this width, each in the middle of it."""
    rows: list[list[tuple[int, Size]]] = []
    left = 0.0
    for one in sizes:
        wide = one[1][0]
        if not rows or wide > left + _ROOM:
            rows.append([])
            left = width
        rows[-1].append(one)
        left -= wide + spacing
    laid, y = [], 0.0
    for row in rows:
        x = (width - sum(size[0] for _, size in row) - (len(row) - 1) * spacing) / 2.0
        for n, (wide, deep) in row:
            laid.append(Named(str(n), Piece(x, y, wide, deep)))
            x += wide + spacing
        y += max(size[1] for _, size in row) + spacing
    return tuple(laid)


def _turned(one: Named) -> Named:
    piece = one.piece
    return Named(one.name, Piece(piece.y, piece.x, piece.depth_mm, piece.width_mm))


def _places(wanted: Sequence[Wanted], laid: Sequence[Named]) -> list[tuple[Place, ...]]:
    """Middles of all bases, from the middle of what they cover together."""
    found: list[list[Place]] = [[] for _ in wanted]
    if laid:
        low, high = _ends(laid)
        middle = (low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0
        for one in laid:
            width, depth = wanted[int(one.name)].base_mm
            turned = abs(one.piece.width_mm - width) > abs(one.piece.width_mm - depth)
            x = one.piece.x + one.piece.width_mm / 2.0 - middle[0]
            y = one.piece.y + one.piece.depth_mm / 2.0 - middle[1]
            found[int(one.name)].append(Place(x, y, turned))
    return [tuple(places) for places in found]
