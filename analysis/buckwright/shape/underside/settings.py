"""Settings of the underside."""

from typing import Literal

import attrs

from buckwright.settings import choice, switch, whole

__all__ = ["UndersideSettings"]


@attrs.frozen(kw_only=True)
class UndersideSettings:
    """Underside: what holds the buck, and its lettering."""

    fixing: Literal["screw", "magnet", "none"] = choice(
        "screw",
        {
            "screw": ("Screws", "Pilot holes for screws from beneath"),
            "magnet": ("Magnets", "Pockets for disc magnets"),
            "none": ("None", "Nothing"),
        },
        label="Fixing",
        tip="What holds the buck on its board or platen",
        preset="machine",
    )
    fixing_count: int = whole(
        2,
        low=0,
        high=24,
        label="Number of Fixings",
        tip="How many screws or magnets hold the buck",
        preset="machine",
    )
    engrave: bool = switch(True, label="Engrave", tip="Engrave name and number on the underside")
