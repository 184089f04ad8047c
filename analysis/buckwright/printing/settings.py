"""Settings of the print and of the printer."""

from typing import Literal

import attrs

from buckwright.printing.materials import PRINT_MATERIALS
from buckwright.settings import choice, number, pair, places, switch

__all__ = ["PrintSettings", "PrinterSettings"]


@attrs.frozen(kw_only=True)
class PrintSettings:
    """Print: what the buck is printed of, and how full."""

    material: str = choice(
        "PLA",
        {name: (one.title, one.tip) for name, one in PRINT_MATERIALS.items()},
        label="Printed Of",
        tip="What the buck is printed of",
        front=True,
        preset="machine",
    )
    shell_mm: float = number(
        2.0,  # 4 to 6 walls of a 0.4 mm nozzle: from memory; a laboratory asks for 3 mm of PLA (read)
        low=0.4,
        high=50,
        unit="mm",
        label="Shell",
        tip="Thickness of the closed skin around the infill: walls, top and bottom alike",
        preset="machine",
    )
    infill_share: float = number(
        0.3,  # 20 to 40 %: from memory
        low=0.05,
        high=1,
        label="Infill",
        tip="Share of the inside that is filled; 1 for a solid print",
        preset="machine",
    )
    infill_line_mm: float = number(
        0.45,  # a 0.4 mm nozzle: common practice, no source
        low=0.1,
        high=5,
        unit="mm",
        label="Infill Lines",
        tip="Width of the lines of infill, from which the spacing of the infill follows",
        preset="machine",
    )


@attrs.frozen(kw_only=True)
class PrinterSettings:
    """Printer: what goes on it at once, and how the pieces of a larger buck are joined."""

    bed_mm: tuple[float, float] | None = pair(
        None,
        low=40,
        high=3000,
        unit="mm",
        label="Bed",
        tip="Width and depth of the printer's bed; a buck that is larger is split",
        automatic="the buck is not split",
        start=(220.0, 220.0),
        front=True,
        preset="machine",
    )
    height_mm: float = number(
        250.0,  # the commonest class of machines, from memory
        low=40,
        high=3000,
        unit="mm",
        label="Height",
        tip="Greatest height that can be printed",
        preset="machine",
    )
    margin_mm: float = number(
        4.0,  # house rule: a brim and the clips of the bed
        low=0,
        high=50,
        unit="mm",
        label="Bed Margin",
        tip="Strip along the edges of the bed that stays free",
        preset="machine",
    )
    spacing_mm: float = number(
        6.0,  # house rule
        low=0.5,
        high=50,
        unit="mm",
        label="Spacing",
        tip="Gap between pieces that are printed together",
        preset="machine",
    )
    planes_mm: tuple[tuple[float, float, float, float], ...] | None = places(
        size=4,
        label="Split Planes",
        tip="Planes that split the buck: three numbers across each, and its distance from the buck's origin",
        automatic="as few as fit, away from vents and detail",
        in_scene=True,
    )
    joint: Literal["loose", "printed", "none"] = choice(
        "loose",
        {
            "loose": ("Loose Pins", "Holes on both sides, and pins as bodies of their own or cut from dowel"),
            "printed": ("Printed Pins", "Pins on one side, holes in the other"),
            "none": ("None", "Flat faces, only glued"),
        },
        label="Joint",
        tip="How the pieces are kept in register",
    )
    pin_mm: float = number(
        6.0,  # dowels are sold in 6 mm: common practice, no source
        low=2,
        high=30,
        unit="mm",
        label="Pin",
        tip="Width of the larger pin's hole; the second is narrower, so that the joint fits one way only",
    )
    clearance_mm: float = number(
        0.2,  # 0.15 to 0.25 mm a side: from memory
        low=0,
        high=2,
        unit="mm",
        label="Pin Clearance",
        tip="Gap between a pin and its hole, on each side",
        preset="machine",
    )
    glue_groove: bool = switch(
        True,
        label="Glue Groove",
        tip="A shallow groove along the edge of each joint takes up glue that would hold the faces apart",
    )
    joint_clear_mm: float = number(
        5.0,  # house rule
        low=0,
        high=50,
        unit="mm",
        label="Clear of Vents",
        tip="Least distance of a joint from vents and fixings",
    )
    flow_mm3_s: float = number(
        7.0,  # judgement: between 4 and 12 for a 0.4 mm nozzle, moves and changes of layer included
        low=0.1,
        high=200,
        unit="mm³/s",
        label="Flow",
        tip="Plastic laid down a second on the long run, for the rough time of printing",
        preset="machine",
    )
    filament_mm: float = number(
        1.75,
        low=1,
        high=5,
        unit="mm",
        label="Filament",
        tip="Diameter of the filament, for the length that is needed",
        preset="machine",
    )
