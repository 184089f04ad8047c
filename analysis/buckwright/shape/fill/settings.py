"""Settings of the draft fill."""

from typing import Literal

import attrs

from buckwright.settings import choice, number, switch

__all__ = ["FillSettings"]


@attrs.frozen(kw_only=True)
class FillSettings:
    """Fill: how much solid is added under overhangs."""

    mode: Literal["full", "locked", "none"] = choice(
        "full",
        {
            "full": ("All", "Fill under every overhang and give tight walls their draft"),
            "locked": ("Locked Areas Only", "Fill only where the part could not be flexed off"),
            "none": ("None", "Add nothing"),
        },
        label="Fill",
        tip="How much solid is added under overhangs",
        front=True,
    )
    keep_tight: bool = switch(
        False,
        label="Keep Tight Faces",
        tip="Leave faces with some draft, but less than wanted, as they were sculpted",
    )
    tolerance_mm: float = number(
        0.02,
        low=0,
        high=1,
        unit="mm",
        label="Tolerance",
        tip="Edges that overhang by less than this are left alone",
    )
    cell_mm: float | None = number(
        None,
        low=0.05,
        high=10,
        unit="mm",
        label="Fill Grid",
        tip="Largest cell of the fill; smaller cells follow the sculpt closer and take longer",
        automatic="the sculpt's size over 350",
        start=0.5,
    )
