"""Settings of the hollow."""

from typing import Literal

import attrs

from buckwright.settings import choice, number

__all__ = ["HollowSettings"]


@attrs.frozen(kw_only=True)
class HollowSettings:
    """Hollow: what is left out of the inside of the buck."""

    kind: Literal["solid", "ribbed", "cast"] = choice(
        "solid",
        {
            "solid": ("Solid", "Nothing is left out; the printer's infill fills it"),
            "ribbed": ("Ribbed", "Open from beneath, with ribs so close that the shell bears the atmosphere"),
            "cast": (
                "To Be Cast",
                "A shell with a floor, a pour hole and air holes: turn it over and fill it, as with plaster",
            ),
        },
        label="Inside",
        tip="What the inside of the buck is like",
        front=True,
    )
    wall_mm: float = number(
        4.0,  # a laboratory prints PLA bucks with at least 3 mm (read); one more, as it is open beneath
        low=1.2,
        high=50,
        unit="mm",
        label="Wall",
        tip="Least thickness of the shell, everywhere; vents and fixings keep as much around them",
    )
    rib_mm: float = number(
        2.4,  # six lines of a 0.4 mm nozzle: common practice, no source
        low=0.8,
        high=20,
        unit="mm",
        label="Ribs",
        tip="Thickness of the ribs",
    )
    spacing_mm: float | None = number(
        None,
        low=8,
        high=300,
        unit="mm",
        label="Rib Spacing",
        tip="Distance between the middles of ribs, both ways",
        automatic="so close that the wall bears an atmosphere, at most 30 mm",
        start=25.0,
    )
    pour_mm: float = number(
        25.0,  # a funnel goes in: house rule
        low=3,
        high=200,
        unit="mm",
        label="Pour Hole",
        tip="Diameter of the hole in the floor of a shell to be cast; narrower where there is no room",
    )
