"""Settings of the base."""

from typing import Literal

import attrs

from buckwright.errors import JobError
from buckwright.settings import amount_or_word, choice, number, pair, places

__all__ = ["BaseSettings"]


@attrs.frozen(kw_only=True)
class BaseSettings:
    """Base: what the sculpt stands on. Measures left out follow from the sheet and the part's height."""

    sink_mm: float | str = amount_or_word(
        "auto",
        {
            "auto": (
                "Automatic",
                "Not at all on a flat foot, else down to the widest outline if that is better",
            ),
            "widest": ("Widest Outline", "Down to the height where the outline is widest"),
        },
        low=0,
        high=5_000,
        unit="mm",
        label="Sink",
        tip="How far the sculpt is sunk into the base; what lies below is cut off",
        front=True,
    )
    style: Literal["flange", "plinth"] = choice(
        "flange",
        {
            "flange": ("Flange", "A riser on a flat plate"),
            "plinth": ("Plinth", "One block with a land around the part"),
        },
        label="Style",
        tip="A riser on a flange plate, or one block with straight sides",
    )
    footprint: Literal["outline", "rectangle", "circle"] = choice(
        "outline",
        {
            "outline": ("Outline", "Follows the outline of the sculpt"),
            "rectangle": ("Rectangle", "A rectangle around the sculpt"),
            "circle": ("Circle", "A circle around the sculpt"),
        },
        label="Footprint",
        tip="Shape of the base seen from above",
        front=True,
    )
    riser_mm: float | None = number(
        None,
        low=0,
        high=200,
        unit="mm",
        label="Riser",
        tip="Height of the wall between the flange and the foot of the part; the trim line is its top",
        automatic="the sheet, the fillet and the part's height",
        start=12.0,
        front=True,
    )
    flange_mm: float | None = number(
        None,
        low=1,
        high=200,
        unit="mm",
        label="Flange",
        tip="Thickness of the flange plate",
        automatic="the sheet, the channels and the part's height",
        start=5.0,
    )
    land_mm: float | None = number(
        None,
        low=0,
        high=300,
        unit="mm",
        label="Land",
        tip="Width of the flat around the part: of the flange beyond the fillet, or of the plinth's top",
        automatic="the part's height",
        start=10.0,
    )
    fillet_mm: float | None = number(
        None,
        low=0,
        high=50,
        unit="mm",
        label="Fillet",
        tip="Radius where the riser meets the flange",
        automatic="the sheet's thickness plus 1.5 mm",
        start=2.25,
    )
    corner_mm: float = number(
        10.0,
        low=0,
        high=500,
        unit="mm",
        label="Corner",
        tip="Radius of the corners of a rectangular base, seen from above",
    )
    trim_step_mm: float = number(
        0.6,
        low=0,
        high=5,
        unit="mm",
        label="Trim Step",
        tip="Width of the ledge to cut along; 0 makes none",
    )
    platen_mm: tuple[float, float] | None = pair(
        None,
        low=10,
        high=10_000,
        unit="mm",
        label="Platen",
        tip="Clear width and depth of the platen; a base that is larger gets a warning",
        automatic="the machine's, else no limit",
        start=(200.0, 200.0),
        preset="machine",
    )
    outline_mm: tuple[tuple[float, float, float], ...] | None = places(
        size=3,
        least=2,
        label="Outline",
        tip="Corners of the base on the platen, in the sculpt's own coordinates",
        automatic="the footprint",
        start=((-60.0, -50.0, 0.0), (60.0, -50.0, 0.0), (0.0, 70.0, 0.0)),
        in_scene=True,
    )

    def __attrs_post_init__(self) -> None:
        """Refuse an outline that encloses nothing."""
        corners = len(set(self.outline_mm)) if self.outline_mm is not None else 3
        if corners < 3:
            raise JobError(f"outline_mm needs at least three different corners, got {corners}")
