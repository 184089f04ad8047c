"""What the fill hands on, in a form that can be kept: its solid as arrays until it is asked for."""

from dataclasses import dataclass, replace

from manifold3d import Manifold

from buckwright.shape.fill.draft_fill import Fill
from buckwright.shape.solid_arrays import Body, arrays_of

__all__ = ["KeptFill"]


@dataclass(frozen=True, slots=True, eq=False)
class KeptFill:
    """The fill.

    Attributes
    ----------
    figures : everything but the solid
    body : the filled sculpt, made from arrays
    """

    figures: Fill
    body: Body

    @classmethod
    def of(cls, fill: Fill) -> "KeptFill":
        """Take the solid of a fill apart."""
        return cls(replace(fill, solid=Manifold()), Body(arrays_of(fill.solid)))

    @property
    def mark(self) -> int:
        """Mark of the fill's faces in the body, -1 without fill."""
        return -1 if self.figures.mark < 0 else self.body.mark(self.figures.mark)
