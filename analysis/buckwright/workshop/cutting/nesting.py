"""How many equal blanks a stock sheet yields, and where they lie.

Edge to edge is solved exactly: the best of all ways to divide a rectangle by through cuts, found once for
each size that can arise. Free cutting also tries five such rectangles laid like a pinwheel, a good simple
layout for equal pieces; it may miss a better one.
"""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from buckwright.errors import InputError

__all__ = ["STEP_MM", "Layout", "Piece", "nest"]

STEP_MM = 0.01
"""Sizes are compared, and pieces laid, in steps of this: finer than anybody cuts."""
# So many places for cuts are tried along a side of a pinwheel: where pieces are many, little is left to gain.
_MOST_PLACES = 14
# A piece this small on such a sheet is no blank, and its layouts are beyond count.
_MOST_PIECES = 400

type _Place = tuple[int, int, bool]  # lower left corner in steps, and whether the piece is turned


@dataclass(frozen=True, slots=True)
class Piece:
    """One blank: lower left corner, width and depth on the stock sheet, mm."""

    x: float
    y: float
    width_mm: float
    depth_mm: float


@dataclass(frozen=True, slots=True)
class Layout:
    """Blanks on one stock sheet.

    Attributes
    ----------
    stock_mm : width and depth of the sheet
    pieces : the blanks
    through : whether every cut runs through
    """

    stock_mm: tuple[float, float]
    pieces: tuple[Piece, ...]
    through: bool

    @property
    def used_share(self) -> float:
        """Share of the sheet that becomes blanks."""
        used = sum(piece.width_mm * piece.depth_mm for piece in self.pieces)
        return used / (self.stock_mm[0] * self.stock_mm[1])


def nest(
    blank_mm: tuple[float, float],
    stock_mm: tuple[float, float],
    *,
    saw_gap_mm: float = 0.0,
    may_turn: bool = True,
    free: bool = False,
) -> Layout:
    """Lay equal blanks on a stock sheet.

    Parameters
    ----------
    blank_mm : width and depth of a blank, over 0
    stock_mm : width and depth of the sheet
    saw_gap_mm : what a cut takes, between blanks only: the edges of the stock are not trimmed
    may_turn : whether blanks may lie either way
    free : whether cuts may end inside the sheet

    Returns
    -------
    Layout : without pieces where the blank is larger than the sheet

    Raises
    ------
    InputError
        More than 400 blanks would go on one sheet.

    Examples
    --------
    >>> len(nest((300.0, 240.0), (1220.0, 610.0), saw_gap_mm=3.0).pieces)
    10
    """
    # a blank and its cut are one piece, and the sheet is longer by the cut that its last piece does not need
    room = tuple(_steps(side + saw_gap_mm) for side in stock_mm)
    pieces = tuple(_steps(side + saw_gap_mm) for side in blank_mm)
    if room[0] * room[1] > _MOST_PIECES * pieces[0] * pieces[1]:
        raise InputError(
            f"stock of {stock_mm[0]:g} x {stock_mm[1]:g} mm gives more than {_MOST_PIECES:,} blanks of "
            f"{blank_mm[0]:g} x {blank_mm[1]:g} mm; check its size"
        )
    ways = ((pieces[0], pieces[1], False), (pieces[1], pieces[0], True))
    kinds = ways if may_turn and pieces[0] != pieces[1] else ways[:1]
    division = _Division(kinds, (room[0], room[1]))
    places = division.places((0, 0), (room[0], room[1]))
    through = True
    if free and len(places) < room[0] * room[1] // (pieces[0] * pieces[1]):
        wheel = _pinwheel(division, (room[0], room[1]))
        if len(wheel) > len(places):
            places, through = wheel, False
    width, depth = blank_mm
    laid = tuple(
        Piece(x * STEP_MM, y * STEP_MM, *((depth, width) if turned else (width, depth)))
        for x, y, turned in sorted(places)
    )
    return Layout(stock_mm, laid, through)


def _steps(side_mm: float) -> int:
    return round(side_mm / STEP_MM)


type _Kinds = tuple[tuple[int, int, bool], ...]


def _sums(sides: tuple[int, ...], most: int) -> list[int]:
    """Every length up to `most` that whole pieces add up to, the least first."""
    reached = {0}
    for side in sides:
        longer = set(reached)
        for start in reached:
            longer.update(range(start + side, most + 1, side))
        reached = longer
    return sorted(reached - {0})


class _Division:
    """The best ways to divide rectangles up to a room by cuts that run through; remembers what it has found.

    Cuts only need to be tried where whole pieces add up to them, and up to the middle.
    """

    def __init__(self, kinds: _Kinds, room: tuple[int, int]) -> None:
        self._kinds = kinds
        self.columns = _sums(tuple(kind[0] for kind in kinds), room[0])
        self.rows = _sums(tuple(kind[1] for kind in kinds), room[1])
        self._known: dict[tuple[int, int], int] = {}

    def count(self, width: int, depth: int) -> int:
        """The most pieces of a rectangle."""
        # more room than the longest row of whole pieces is waste
        key = (_fitted(self.columns, width), _fitted(self.rows, depth))
        if key not in self._known:
            self._known[key] = self._best(*key)
        return self._known[key]

    def _best(self, width: int, depth: int) -> int:
        best = int(any(width >= w and depth >= d for w, d, _ in self._kinds))
        most = width * depth // (self._kinds[0][0] * self._kinds[0][1])
        if best >= most:
            return best
        for cut in self.columns[: bisect_right(self.columns, width // 2)]:
            best = max(best, self.count(cut, depth) + self.count(width - cut, depth))
            if best >= most:
                return best
        for cut in self.rows[: bisect_right(self.rows, depth // 2)]:
            best = max(best, self.count(width, cut) + self.count(width, depth - cut))
            if best >= most:
                return best
        return best

    def places(self, corner: tuple[int, int], room: tuple[int, int]) -> list[_Place]:
        """Where the pieces of the best division lie."""
        (x, y), (width, depth) = corner, room
        count = self.count(width, depth)
        if count == 0:
            return []
        if count == 1:
            turned = next(turned for w, d, turned in self._kinds if width >= w and depth >= d)
            return [(x, y, turned)]
        for cut in self.columns[: bisect_right(self.columns, width // 2)]:
            if self.count(cut, depth) + self.count(width - cut, depth) == count:
                first, rest = self.places(corner, (cut, depth)), ((x + cut, y), (width - cut, depth))
                return first + self.places(*rest)
        for cut in self.rows[: bisect_right(self.rows, depth // 2)]:
            if self.count(width, cut) + self.count(width, depth - cut) == count:
                first, rest = self.places(corner, (width, cut)), ((x, y + cut), (width, depth - cut))
                return first + self.places(*rest)
        raise AssertionError("a count without a division")


def _fitted(sums: list[int], room: int) -> int:
    at = bisect_right(sums, room)
    return sums[at - 1] if at else 0


def _pinwheel(division: _Division, room: tuple[int, int]) -> list[_Place]:
    """Four rectangles around a fifth, each divided by through cuts."""
    most, found = 0, None
    for wheel in _wheels(_thinned(division.columns), _thinned(division.rows), room):
        count = sum(division.count(w, d) for _, _, w, d in wheel)
        if count > most:
            most, found = count, wheel
    if found is None:
        return []
    return [place for x, y, w, d in found for place in division.places((x, y), (w, d))]


def _wheels(
    xs: list[int], ys: list[int], room: tuple[int, int]
) -> Iterator[tuple[tuple[int, int, int, int], ...]]:
    width, depth = room
    for left, right in combinations(xs, 2):
        for low, high in combinations(ys, 2):
            yield (
                (0, 0, left, high),
                (left, 0, width - left, low),
                (right, low, width - right, depth - low),
                (0, high, right, depth - high),
                (left, low, right - left, high - low),
            )


def _thinned(places: list[int]) -> list[int]:
    if len(places) <= _MOST_PLACES:
        return places
    return places[:: -(-len(places) // _MOST_PLACES)]
