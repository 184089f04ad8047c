"""Holes through the floor of a cavity."""

from dataclasses import dataclass
from typing import Any

from manifold3d import CrossSection

__all__ = ["Hole"]

_SEGMENTS = 48


@dataclass(frozen=True, slots=True)
class Hole:
    """An upright hole through the floor of a cavity: its middle and diameter, mm."""

    x_mm: float
    y_mm: float
    diameter_mm: float

    def outline(self) -> CrossSection:
        """The hole seen from above.

        Returns
        -------
        CrossSection : mm
        """
        circle = CrossSection.circle(self.diameter_mm / 2.0, _SEGMENTS)
        return circle.translate((self.x_mm, self.y_mm))

    def to_dict(self) -> dict[str, Any]:
        """Plain values for the report."""
        return {"centre_mm": [self.x_mm, self.y_mm], "diameter_mm": self.diameter_mm}
