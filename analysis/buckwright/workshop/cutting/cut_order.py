"""In which order a sheet is cut so that every cut runs through what is still in one piece.

Found from where the pieces lie, whatever laid them: each time the rectangle that is still whole is divided
along a line that crosses no piece. Pieces that lock into one another, like a pinwheel, leave a rest that only
a router or a jigsaw can part.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from buckwright.workshop.cutting.nesting import STEP_MM, Piece

__all__ = ["Cut", "Cutting", "cut_order"]

# Pieces are laid in steps but keep their true sides: what is nearer than two steps is the same.
_SAME_MM = 2.0 * STEP_MM


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut that runs through; measured on the stock sheet from its lower left corner, mm.

    Attributes
    ----------
    across : whether it runs along the depth, at a place on the width
    at_mm : where its near side lies: what the stop is set to
    start_mm, end_mm : from where to where it runs
    """

    across: bool
    at_mm: float
    start_mm: float
    end_mm: float


@dataclass(frozen=True, slots=True)
class Cutting:
    """How a sheet is cut.

    Attributes
    ----------
    cuts : in order
    locked : pieces that no cut parts
    """

    cuts: tuple[Cut, ...]
    locked: int


type _Box = tuple[float, float, float, float]  # low x, low y, high x, high y


def cut_order(pieces: Sequence[Piece], stock_mm: tuple[float, float], *, saw_gap_mm: float) -> Cutting:
    """Order the cuts of a sheet.

    Parameters
    ----------
    pieces : where the blanks lie, apart by the saw gap
    stock_mm : width and depth of the sheet
    saw_gap_mm : what a cut takes

    Returns
    -------
    Cutting
    """
    boxes = [(one.x, one.y, one.x + one.width_mm, one.y + one.depth_mm) for one in pieces]
    cuts: list[Cut] = []
    locked = sum(_divided(boxes, (0.0, 0.0, *stock_mm), saw_gap_mm, cuts))
    return Cutting(tuple(cuts), locked)


def _divided(pieces: list[_Box], room: _Box, gap: float, cuts: list[Cut]) -> Iterator[int]:
    """Cut a room, the rest after each cut first come, first served; yields pieces that lock."""
    if not pieces or (len(pieces) == 1 and _fills(pieces[0], room)):
        return
    found = _first_cut(pieces, room, gap)
    if found is None:
        yield len(pieces)
        return
    axis, at = found
    low, high = room[1 - axis], room[3 - axis]
    cuts.append(Cut(axis == 0, at, low, high))
    near = [one for one in pieces if one[2 + axis] <= at + _SAME_MM]
    far = [one for one in pieces if one[2 + axis] > at + _SAME_MM]
    beyond = min(at + gap, room[2 + axis])
    yield from _divided(near, _ended(room, axis, at), gap, cuts)
    yield from _divided(far, _begun(room, axis, beyond), gap, cuts)


def _first_cut(pieces: list[_Box], room: _Box, gap: float) -> tuple[int, float] | None:
    """Axis and place of the cut to make: the shorter way across the room first, at the lowest place."""
    axes = (0, 1) if room[3] - room[1] <= room[2] - room[0] else (1, 0)
    for axis in axes:
        places = {one[2 + axis] for one in pieces} | {one[axis] - gap for one in pieces}
        for at in sorted(places):
            # a strip of waste no wider than the saw falls to a cut that begins before it
            if not room[axis] - gap + _SAME_MM < at < room[2 + axis] - _SAME_MM:
                continue
            if all(one[2 + axis] <= at + _SAME_MM or one[axis] >= at + gap - _SAME_MM for one in pieces):
                return axis, at
    return None


def _fills(piece: _Box, room: _Box) -> bool:
    return all(abs(one - other) <= _SAME_MM for one, other in zip(piece, room))


def _ended(room: _Box, axis: int, at: float) -> _Box:
    return (room[0], room[1], at, room[3]) if axis == 0 else (room[0], room[1], room[2], at)


def _begun(room: _Box, axis: int, at: float) -> _Box:
    return (at, room[1], room[2], room[3]) if axis == 0 else (room[0], at, room[2], room[3])
