"""What is known of a forming machine: figures that a job may set, and whole profiles of machines."""

from typing import Literal

import attrs

from buckwright.errors import JobError
from buckwright.frame_map import map_rows
from buckwright.settings import choice, number, pair, text

__all__ = ["MOST_FLUX", "MachineFigures", "MachineProfile"]

MOST_FLUX = (0.2, 3.0)
"""Zones that differ by more than this from the mean form no sheet (judgement)."""

_NOT_KNOWN = "the machine's, else not known"
_MARKS = {
    "read": ("Read", "The source itself was read"),
    "measured": ("Measured", "Measured on this machine"),
    "from memory": ("From Memory", "Nobody looked it up"),
    "common practice, no source": ("Common Practice", "No source"),
}


@attrs.frozen(kw_only=True)
class MachineFigures:
    """Figures of a machine that no other table holds."""

    shape: Literal["rectangle", "round"] | None = choice(
        None,
        {
            "rectangle": ("Rectangle", "Platen and opening are rectangles"),
            "round": ("Round", "Platen and opening are round; the platen's width is its diameter"),
        },
        label="Shape",
        tip="Shape of platen and opening",
        automatic="the machine's, else a rectangle",
        preset="machine",
    )
    hole_pitch_mm: float | None = number(
        None,
        low=2,
        high=500,
        unit="mm",
        label="Hole Pitch",
        tip="Distance between holes of the platen, the same both ways",
        automatic=_NOT_KNOWN,
        start=12.7,
        preset="machine",
    )
    hole_mm: float | None = number(
        None,
        low=0.3,
        high=50,
        unit="mm",
        label="Hole",
        tip="Diameter of the platen's holes",
        automatic=_NOT_KNOWN,
        start=3.0,
        preset="machine",
    )
    sag_room_mm: float | None = number(
        None,
        low=0,
        high=2000,
        unit="mm",
        label="Sag Room",
        tip="Room under the sheet while it is heated",
        automatic=_NOT_KNOWN,
        start=80.0,
        preset="machine",
    )
    oven_mm: tuple[float, float] | None = pair(
        None,
        low=20,
        high=10_000,
        unit="mm",
        label="Oven Inside",
        tip="Inner width and depth of the oven",
        automatic=_NOT_KNOWN,
        start=(440.0, 360.0),
        preset="machine",
    )
    heater_kw_m2: float | None = number(
        None,
        low=0.5,
        high=200,
        unit="kW/m²",
        label="Heater Power",
        tip="Power that the heater draws over its area; the sheet takes up about half of it",
        automatic=_NOT_KNOWN,
        start=11.0,
        preset="machine",
    )
    heater_zones: str = text(
        label="Heater Zones",
        tip="Relative flux that arrives over the frame, rows from back to front: 0.8 1 0.8; 1 1.2 1",
        preset="machine",
    )
    vacuum: Literal["pump", "cleaner"] | None = choice(
        None,
        {
            "pump": ("Pump", "Flow hardly falls until its lowest pressure is near"),
            "cleaner": ("Cleaner", "A fan: flow falls evenly with suction"),
        },
        label="Vacuum",
        tip="What draws the air",
        automatic="the machine's, else a pump",
        preset="machine",
    )
    flow_l_min: float | None = number(
        None,
        low=0.1,
        high=100_000,
        unit="l/min",
        label="Flow",
        tip="Flow of pump or cleaner with nothing in its way",
        automatic=_NOT_KNOWN,
        start=80.0,
        preset="machine",
    )
    lowest_kpa: float | None = number(
        None,
        low=0,
        high=101,
        unit="kPa",
        label="Lowest Pressure",
        tip="Absolute pressure that pump or cleaner reaches with its inlet closed",
        automatic=_NOT_KNOWN,
        start=5.0,
        preset="machine",
    )
    box_l: float | None = number(
        None,
        low=0,
        high=1000,
        unit="l",
        label="Box",
        tip="Air in the box under the platen and in the hose",
        automatic=_NOT_KNOWN,
        start=3.0,
        preset="machine",
    )
    tank_l: float | None = number(
        None,
        low=0,
        high=10_000,
        unit="l",
        label="Tank",
        tip="Volume of the vacuum tank; 0 for none",
        automatic=_NOT_KNOWN,
        start=40.0,
        preset="machine",
    )
    tank_kpa: float | None = number(
        None,
        low=0,
        high=101,
        unit="kPa",
        label="Tank Pressure",
        tip="Absolute pressure in the tank when its valve is opened",
        automatic="the machine's, else a tenth of the air outside, or what the pump reaches if that is more",
        start=10.0,
        preset="machine",
    )

    thickness_bias: float | None = number(
        None,
        low=0.3,
        high=3,
        label="Thickness Bias",
        tip="How many times as thick as forecast this machine's parts come out, from the pull log",
        automatic=_NOT_KNOWN,
        start=1.0,
        preset="machine",
    )

    def __attrs_post_init__(self) -> None:
        """Refuse figures that contradict each other."""
        low, high = MOST_FLUX
        map_rows(self.heater_zones, name="heater_zones", figure="relative flux", low=low, high=high)
        if self.hole_mm is not None and self.hole_pitch_mm is not None and self.hole_mm >= self.hole_pitch_mm:
            raise JobError(
                f"holes of {self.hole_mm:g} mm every {self.hole_pitch_mm:g} mm run into each other: "
                "hole_pitch_mm is measured from middle to middle"
            )


@attrs.frozen(kw_only=True)
class MachineProfile(MachineFigures):
    """A machine: its figures, under the names that the settings have, and where they come from."""

    title: str = text(label="Title", tip="One line")
    source: str = text(label="Source", tip="Where the figures come from")
    mark: str = choice("measured", _MARKS, label="Mark", tip="How far the source was checked")
    platen_mm: tuple[float, float] | None = pair(
        None,
        low=10,
        high=10_000,
        unit="mm",
        label="Platen",
        tip="Clear width and depth of the platen; the diameter, given twice, of a round one",
        automatic="not known",
    )
    frame_mm: tuple[float, float] | None = pair(
        None,
        low=10,
        high=10_000,
        unit="mm",
        label="Frame",
        tip="Clear width and depth of the clamp frame's opening",
        automatic="not known",
    )
    grip_mm: float | None = number(
        None, low=2, high=200, unit="mm", label="Grip", tip="Width of the clamp", automatic="not known"
    )
    machine_height_mm: float | None = number(
        None,
        low=1,
        high=5_000,
        unit="mm",
        label="Machine Height",
        tip="Greatest height of a buck",
        automatic="not known",
    )
    sides: Literal["one", "both"] | None = choice(
        None,
        {"one": ("One Side", "One face of the sheet"), "both": ("Both Sides", "Both faces")},
        label="Heated On",
        tip="How many sides of the sheet face the heater",
        automatic="not known",
    )

    rim_colder_c: float | None = number(
        None,
        low=0,
        high=30,
        unit="°C",
        label="Colder Rim",
        tip="How much colder the hot sheet is at its clamp than in the middle",
        automatic="not known",
    )
    owned: str = text(
        label="Own Frames",
        tip="Inside sizes in mm of clamp frames that are there already, such as 280 x 230, 300 x 200",
        longest=400,
    )
    heat_map: str = text(
        label="Heat Map", tip="Relative heat over the frame, rows from back to front: 0.9 1 0.9; 1 1.1 1"
    )

    def __attrs_post_init__(self) -> None:
        """Refuse figures that contradict each other."""
        super().__attrs_post_init__()
        if self.shape == "round" and any(
            sides is not None and sides[0] != sides[1] for sides in (self.platen_mm, self.frame_mm)
        ):
            raise JobError("a round platen or opening has one diameter: give it twice, as [140, 140]")
