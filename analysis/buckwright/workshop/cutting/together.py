"""Blanks of several jobs on common stock sheets, every cut running through.

A heuristic: blanks are laid one by one where they leave the least, in several orders and with several rules
for dividing what is left, and the best of all is kept. Sheets that hold one size only are taken from the
exact division where that saves any. It may miss a better one; how far it can be off is told by the area.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from buckwright.errors import InputError
from buckwright.workshop.cutting.nesting import Piece, nest

__all__ = ["Demand", "Named", "SheetOf", "Together", "nest_together"]

_MANY = 300  # of more, full sheets of one size are not laid blank by blank: seconds of work


@dataclass(frozen=True, slots=True)
class Demand:
    """Blanks of one size: what they are for, width and depth in mm, how many."""

    name: str
    blank_mm: tuple[float, float]
    count: int


@dataclass(frozen=True, slots=True)
class Named:
    """A blank on a sheet, and what it is for."""

    name: str
    piece: Piece


@dataclass(frozen=True, slots=True)
class SheetOf:
    """Equal stock sheets: what lies on each, and how many there are."""

    pieces: tuple[Named, ...]
    count: int


@dataclass(frozen=True, slots=True)
class Together:
    """Blanks of several jobs on common sheets.

    Attributes
    ----------
    sheets : different sheets, those that are most needed first
    least : no layout can do with fewer, by area
    """

    sheets: tuple[SheetOf, ...]
    least: int

    @property
    def count(self) -> int:
        """Stock sheets in all."""
        return sum(sheet.count for sheet in self.sheets)


def nest_together(
    demands: Sequence[Demand],
    stock_mm: tuple[float, float],
    *,
    saw_gap_mm: float = 0.0,
    may_turn: bool = True,
) -> Together:
    """Lay blanks of several sizes on as few stock sheets as are found.

    Parameters
    ----------
    demands : sizes and counts; each size must go on the stock
    stock_mm : width and depth of a sheet
    saw_gap_mm : what a cut takes, between blanks only
    may_turn : whether blanks may lie either way

    Returns
    -------
    Together

    Raises
    ------
    InputError
        A blank does not go on the stock.

    Examples
    --------
    >>> demands = [Demand("a", (300.0, 240.0), 8), Demand("b", (300.0, 120.0), 4)]
    >>> nest_together(demands, (1220.0, 610.0), saw_gap_mm=3.0).count
    1
    """
    _check(demands, stock_mm, may_turn=may_turn)
    room = (stock_mm[0] + saw_gap_mm, stock_mm[1] + saw_gap_mm)
    pieces = [one for one in demands for _ in range(one.count)]
    needed = sum(
        (one.blank_mm[0] + saw_gap_mm) * (one.blank_mm[1] + saw_gap_mm) * one.count for one in demands
    )
    least = max(1, math.ceil(needed / (room[0] * room[1]) - 1e-9))
    best: list[list[Named]] | None = None
    for whole in (True,) if len(pieces) > _MANY else (False, True):
        full, rest = _full_sheets(demands, stock_mm, saw_gap_mm, may_turn) if whole else ([], pieces)
        for order in _ORDERS:
            ordered = sorted(rest, key=order, reverse=True)
            for lengthwise in (False, True):
                laid = full + _laid(ordered, room, saw_gap_mm, may_turn=may_turn, lengthwise=lengthwise)
                if best is None or _rank(laid) < _rank(best):
                    best = laid
                if len(best) == least:
                    return Together(_grouped(best), least)
    assert best is not None
    return Together(_grouped(best), least)


def _check(demands: Sequence[Demand], stock_mm: tuple[float, float], *, may_turn: bool) -> None:
    for one in demands:
        ways = (one.blank_mm, one.blank_mm[::-1]) if may_turn else (one.blank_mm,)
        if not any(way[0] <= stock_mm[0] and way[1] <= stock_mm[1] for way in ways):
            raise InputError(
                f"the blank of {one.blank_mm[0]:g} x {one.blank_mm[1]:g} mm ({one.name}) does not go on "
                f"stock of {stock_mm[0]:g} x {stock_mm[1]:g} mm"
            )


_ORDERS: tuple[Callable[[Demand], tuple[float, ...]], ...] = (
    lambda one: (one.blank_mm[0] * one.blank_mm[1], max(one.blank_mm)),
    lambda one: (max(one.blank_mm), min(one.blank_mm)),
    lambda one: (min(one.blank_mm), max(one.blank_mm)),
    lambda one: (sum(one.blank_mm), max(one.blank_mm)),
)


def _rank(laid: list[list[Named]]) -> tuple[int, float]:
    """Fewest sheets; then the emptiest last one, whose rest is of most use."""
    used = [sum(one.piece.width_mm * one.piece.depth_mm for one in sheet) for sheet in laid]
    return len(laid), min(used)


def _full_sheets(
    demands: Sequence[Demand], stock_mm: tuple[float, float], gap: float, may_turn: bool
) -> tuple[list[list[Named]], list[Demand]]:
    """Sheets of one size by the exact division, and the blanks that are left."""
    sheets: list[list[Named]] = []
    rest: list[Demand] = []
    for one in demands:
        pieces = nest(one.blank_mm, stock_mm, saw_gap_mm=gap, may_turn=may_turn).pieces
        whole, left = divmod(one.count, len(pieces))
        sheets += [[Named(one.name, piece) for piece in pieces]] * whole
        rest += [one] * left
    return sheets, rest


type _Free = tuple[float, float, float, float]  # lower left corner, width, depth


def _laid(
    ordered: list[Demand], room: tuple[float, float], gap: float, *, may_turn: bool, lengthwise: bool
) -> list[list[Named]]:
    """One blank after the other into the free rectangle where the least of a side is left."""
    sheets: list[list[Named]] = []
    free: list[list[_Free]] = []
    for one in ordered:
        place = _best_place(one, free, gap, may_turn=may_turn)
        if place is None:
            sheets.append([])
            free.append([(0.0, 0.0, *room)])
            place = _best_place(one, free, gap, may_turn=may_turn)
            assert place is not None
        sheet, which, (width, depth) = place
        x, y, wide, deep = free[sheet].pop(which)
        sheets[sheet].append(Named(one.name, Piece(x, y, width - gap, depth - gap)))
        free[sheet] += _rests(x, y, wide, deep, width, depth, lengthwise=lengthwise)
    return sheets


def _ways(one: Demand, gap: float, may_turn: bool) -> Iterator[tuple[float, float]]:
    width, depth = one.blank_mm
    yield width + gap, depth + gap
    if may_turn and width != depth:
        yield depth + gap, width + gap


def _best_place(
    one: Demand, free: list[list[_Free]], gap: float, *, may_turn: bool
) -> tuple[int, int, tuple[float, float]] | None:
    best, found = math.inf, None
    for width, depth in _ways(one, gap, may_turn):
        for sheet, rests in enumerate(free):
            for which, (_, _, wide, deep) in enumerate(rests):
                left = min(wide - width, deep - depth)
                if -1e-9 <= left < best:
                    best, found = left, (sheet, which, (width, depth))
            if found is not None and found[0] == sheet:
                break  # earlier sheets are filled first
    return found


def _rests(
    x: float, y: float, wide: float, deep: float, width: float, depth: float, *, lengthwise: bool
) -> list[_Free]:
    """What a blank in the corner of a rectangle leaves, divided by one cut that runs through."""
    right, above = wide - width, deep - depth
    if (right < above) == lengthwise:
        rests = [(x + width, y, right, deep), (x, y + depth, width, above)]
    else:
        rests = [(x + width, y, right, depth), (x, y + depth, wide, above)]
    return [one for one in rests if one[2] > 1e-9 and one[3] > 1e-9]


def _grouped(laid: list[list[Named]]) -> tuple[SheetOf, ...]:
    """Equal sheets once, with their count."""
    groups: dict[tuple[Named, ...], SheetOf] = {}
    for sheet in laid:
        key = tuple(sheet)
        known = groups.get(key, SheetOf(key, 0))
        groups[key] = replace(known, count=known.count + 1)
    return tuple(sorted(groups.values(), key=lambda one: -one.count))
