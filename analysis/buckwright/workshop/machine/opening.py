"""The machine's own opening, where a buck is formed in it."""

import math
from dataclasses import dataclass

from buckwright.workshop.machine.own import machine

__all__ = ["Opening", "machine_opening", "opening_of", "turned_like"]

_ALIKE = 1.01  # a base with sides so near to one another lies either way: house rule


@dataclass(frozen=True, slots=True)
class Opening:
    """A clear opening: width and depth in mm, and whether it is round."""

    size_mm: tuple[float, float]
    round_one: bool = False

    @property
    def forecast_mm(self) -> tuple[float, float]:
        """Width and depth of a frame for the forecast: of a round one the square of the same area."""
        if not self.round_one:
            return self.size_mm
        side = math.sqrt(math.pi) / 2.0 * self.size_mm[0]
        return side, side

    def takes(self, base_mm: tuple[float, float]) -> bool:
        """Whether a base passes with a millimetre on each side; a round one is asked for its corners."""
        room = self.forecast_mm if self.round_one else self.size_mm
        return all(side + 2.0 <= clear for side, clear in zip(base_mm, room))


def machine_opening(
    frame_mm: tuple[float, float] | None,
    base_mm: tuple[float, float],
    *,
    round_one: bool,
    asked: bool,
) -> Opening | None:
    """The machine's opening, turned to suit a base.

    Parameters
    ----------
    frame_mm : clear width and depth as the machine has it; None if it is not known
    base_mm : width and depth of the base
    round_one : whether it is round
    asked : whether frame or gap are given, or a reducing set is made: then the machine's own is not used

    Returns
    -------
    Opening, or None where it is not used or the base does not pass through it

    Examples
    --------
    >>> machine_opening((300.0, 200.0), (100.0, 150.0), round_one=False, asked=False).size_mm
    (200.0, 300.0)
    """
    if frame_mm is None or asked:
        return None
    width, depth = base_mm
    longer = (width > _ALIKE * depth) - (depth > _ALIKE * width)  # 1 along x, -1 along y, 0 alike
    turned = longer * (frame_mm[0] - frame_mm[1]) < 0.0
    opening = Opening(frame_mm[::-1] if turned else frame_mm, round_one)
    return opening if opening.takes(base_mm) else None


def opening_of(
    profile: str | None, base_mm: tuple[float, float], *, shape: str | None, asked: bool
) -> Opening | None:
    """The opening of a machine by its name.

    Parameters
    ----------
    profile : name of the machine; None for none
    base_mm, asked : as `machine_opening`
    shape : 'round', or else a rectangle

    Returns
    -------
    Opening, or None as `machine_opening`

    Raises
    ------
    JobError
        There is no such machine.
    """
    frame = None if profile is None else machine(profile).frame_mm
    return machine_opening(frame, base_mm, round_one=shape == "round", asked=asked)


def turned_like(size: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    """Width and depth, turned so that the longer side runs as the longer side of another size does."""
    return size[::-1] if (size[0] < size[1]) != (other[0] < other[1]) else size
