"""How the sculpt stands in its buck or mould: lifted by the base, or upside down in a cavity."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Stand"]


@dataclass(frozen=True, slots=True)
class Stand:
    """The way from the sculpt's pull frame, its foot on z = 0, to the frame of the buck.

    Attributes
    ----------
    lift_mm : height of the sculpt's foot over the platen; 0 where no base was made
    over : whether it is turned over about the x axis, as in a female mould
    """

    lift_mm: float = 0.0
    over: bool = False

    def place(self, point: tuple[float, ...]) -> tuple[float, float, float]:
        """A point of the sculpt in the frame of the buck."""
        x, y, z = (float(value) for value in point)
        return (x, -y, self.lift_mm - z) if self.over else (x, y, z + self.lift_mm)

    def places(self, points: "NDArray[np.float64]") -> "NDArray[np.float64]":
        """Points (N, 3) of the sculpt in the frame of the buck."""
        moved: NDArray[np.float64] = points * self._turn() + [0.0, 0.0, self.lift_mm]
        return moved

    def matrix(self) -> "NDArray[np.float64]":
        """The same as a matrix, (4, 4)."""
        import numpy as np

        matrix = np.diag([*self._turn(), 1.0])
        matrix[2, 3] = self.lift_mm
        return matrix

    def span(self, low_mm: float, high_mm: float) -> tuple[float, float]:
        """From where to where over the platen what lies between two heights of the sculpt."""
        if self.over:
            return self.lift_mm - high_mm, self.lift_mm - low_mm
        return low_mm + self.lift_mm, high_mm + self.lift_mm

    def _turn(self) -> tuple[float, float, float]:
        return (1.0, -1.0, -1.0) if self.over else (1.0, 1.0, 1.0)
