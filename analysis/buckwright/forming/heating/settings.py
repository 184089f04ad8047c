"""Settings of heating the sheet, carrying it and cooling it."""

import attrs

from buckwright.settings import choice, number

__all__ = ["HeatingSettings"]

HEATERS = {
    "radiant": ("Radiant, Known Flux", "The sheet takes up a known flux from a radiant heater"),
    "plate": ("Radiant, Known Temperature", "A large heater of known temperature close to the sheet"),
    "oven": ("Oven", "The sheet hangs in hot air between walls of the same temperature"),
}
# Such that 1.6 mm PETG takes the 70 to 100 s that a solar-car team logged at half power (read).
FLUX_KW_M2 = 5.5
SIDES = {
    "one": ("One Side", "The heater faces one side; in an oven the sheet lies on a tray"),
    "both": ("Both Sides", "Both sides are heated alike"),
}
PRINTED_W_MK, PRINTED_KJ_M3K = 0.13, 2232.0
"""Printed PLA, for a buck of which nothing is said: 1240 kg/m3 times 1.8 kJ/kgK, from memory."""


@attrs.frozen(kw_only=True)
class HeatingSettings:
    """Heating: how the sheet is heated, carried to the buck and cooled there."""

    heater: str = choice("radiant", HEATERS, label="Heated By", tip="What heats the sheet", preset="machine")
    sides: str | None = choice(
        None,
        SIDES,
        label="Heated On",
        tip="How many sides face the heat",
        automatic="the machine's, else one side",
        preset="machine",
    )
    flux_kw_m2: float | None = number(
        None,
        low=0.1,
        high=100,
        unit="kW/m²",
        label="Flux",
        tip="Heat that each heated side takes up from a radiant heater, about half of what it draws",
        automatic="half of the machine's heater, else 5.5 kW/m²",
        start=FLUX_KW_M2,
        preset="machine",
    )
    heater_c: float = number(
        400.0,  # from memory: ceramic heaters run at 300 to 700
        low=100,
        high=1000,
        unit="°C",
        label="Heater",
        tip="Surface temperature of a heater of known temperature",
        preset="machine",
    )
    oven_c: float = number(
        175.0,  # 177 °C is what makers set most often (read)
        low=50,
        high=300,
        unit="°C",
        label="Oven",
        tip="Temperature of the air and the walls of the oven",
        preset="machine",
    )
    air_c: float = number(
        60.0,  # from memory
        low=-20,
        high=300,
        unit="°C",
        label="Air",
        tip="Temperature of air and surroundings beside the sheet under a radiant heater",
        preset="machine",
    )
    transfer_w_m2k: float = number(
        10.0,  # from memory: still air 5 to 10, an oven's fan 15 to 30; Incropera Ex. 5.3 cools with 10
        low=0,
        high=200,
        unit="W/m²K",
        label="To Air",
        tip="Heat that passes between sheet and air for each degree between them",
    )
    emissivity: float = number(
        0.9,  # from memory: plastics at the wavelengths of heaters
        low=0,
        high=1,
        label="Emissivity",
        tip="How well sheet and heater radiate; 1 is a black body",
    )
    room_c: float = number(
        20.0,
        low=-20,
        high=50,
        unit="°C",
        label="Room",
        tip="Temperature of the room, and of the sheet before it is heated",
        preset="machine",
    )
    carry_s: float = number(
        2.0,  # judgement
        low=0,
        high=120,
        unit="s",
        label="Carrying",
        tip="Time from the heater to contact with the buck",
        preset="machine",
    )
    buck_c: float = number(
        25.0,
        low=-20,
        high=200,
        unit="°C",
        label="Buck",
        tip="Temperature of the buck before the pull",
    )
    buck_w_mk: float | None = number(
        None,
        low=0.01,
        high=400,
        unit="W/mK",
        label="Buck Conductivity",
        tip="Heat conductivity of a buck that is no print: wood 0.15, plaster 0.5, aluminium 237",
        automatic="what the buck is printed of",
        start=PRINTED_W_MK,
    )
    buck_kj_m3k: float | None = number(
        None,
        low=50,
        high=5000,
        unit="kJ/m³K",
        label="Buck Heat Capacity",
        tip="Heat that a cubic metre of a buck that is no print takes up for each degree",
        automatic="what the buck is printed of",
        start=PRINTED_KJ_M3K,
    )

    @property
    def buck(self) -> tuple[float, float]:
        """Conductivity and heat capacity of the buck, W/mK and kJ/m3K; printed PLA where nothing is said."""
        conducts, holds = self.buck_w_mk, self.buck_kj_m3k
        return (
            PRINTED_W_MK if conducts is None else conducts,
            PRINTED_KJ_M3K if holds is None else holds,
        )

    @property
    def both_sides(self) -> bool:
        """Whether both sides are heated; one is where nothing is said."""
        return self.sides == "both"

    @property
    def strength(self) -> tuple[str, float]:
        """The setting that says how strong the heater is, and its value."""
        key = {"radiant": "flux_kw_m2", "plate": "heater_c", "oven": "oven_c"}[self.heater]
        value = getattr(self, key)
        return key, FLUX_KW_M2 if value is None else float(value)
