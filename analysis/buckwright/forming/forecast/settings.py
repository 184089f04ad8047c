"""Settings of the forecast."""

from typing import Literal

import attrs

from buckwright.errors import JobError
from buckwright.forming.forecast.heat_map import check_heat_map
from buckwright.forming.forecast.measured import points_of
from buckwright.settings import choice, number, pair, switch, text, whole

__all__ = ["ForecastSettings"]


@attrs.frozen(kw_only=True)
class ForecastSettings:
    """Forecast: how the sheet is expected to form."""

    quality: Literal["off", "preview", "fine"] = choice(
        "preview",
        {
            "off": ("Off", "No forecast"),
            "preview": ("Preview", "A quarter of the nodes and cells twice as long: some seconds"),
            "fine": ("Fine", "All nodes: half a minute or more"),
        },
        label="Forecast",
        tip="How finely the sheet over the finished buck is worked out",
        front=True,
    )
    nodes: int = whole(
        10_000,
        low=1_000,
        high=200_000,
        label="Nodes",
        tip="Nodes of the sheet at first in a fine forecast; where it matters more are added",
    )
    frame_mm: tuple[float, float] | None = pair(
        None,
        low=10,
        high=10_000,
        unit="mm",
        label="Frame",
        tip="Inside width and depth of the clamp frame",
        automatic="the machine's opening, else the buck's footprint and the gap",
        start=(280.0, 240.0),
        front=True,
        preset="machine",
        replaces=("gap_mm",),
    )
    gap_mm: float | None = number(
        None,
        low=1,
        high=1_000,
        unit="mm",
        label="Gap",
        tip="Room between the base and the frame where no frame is given",
        automatic="half the buck's height, at least 25 mm",
        start=25.0,
        front=True,
        replaces=("frame_mm",),
    )
    machine_height_mm: float | None = number(
        None,
        low=1,
        high=5_000,
        unit="mm",
        label="Machine Height",
        tip="Greatest height of a buck that the machine takes",
        automatic="the machine's, else no limit",
        start=150.0,
        preset="machine",
    )
    sag_mm: float = number(
        0.0,
        low=0,
        high=500,
        unit="mm",
        label="Sag",
        tip="How far the hot sheet hangs in its frame before it is formed",
    )
    # 10 to 20 °C and more, by how near the heater is: Takahashi & Bando 2020 (forecast/heat.py)
    rim_colder_c: float | None = number(
        None,
        low=0,
        high=30,
        unit="°C",
        label="Colder Rim",
        tip="How much colder the hot sheet is at its clamp than in the middle; 0 where it is evenly warm",
        automatic="20 °C, or what the heat map says",
        start=20.0,
        preset="machine",
    )
    heat_map: str = text(
        label="Heat Map",
        tip="Relative heat over the frame, 0.8 to 1.2, rows from back to front: 0.9 1 0.9; 1 1.1 1",
        preset="machine",
    )
    friction: float | None = number(
        None,
        low=0,
        high=2,
        label="Friction",
        tip="Coulomb friction of the hot sheet on the buck",
        automatic="the sheet sticks where it touches",
        start=0.3,
    )
    sticks_after: float | None = number(
        None,
        low=0.01,
        high=10,
        label="Sticks After",
        tip="Share of the frame's way after which a sliding sheet has chilled and sticks",
        automatic="never",
        start=0.5,
    )
    model: Literal["membrane", "geometric"] = choice(
        "membrane",
        {
            "membrane": (
                "Membrane",
                "Mechanics of a hot sheet: sag, order of contact, webs, trapped air",
            ),
            "geometric": ("Geometric", "The textbook's sheet of even thickness: quick and rough"),
        },
        label="Model",
        tip="Picture of the sheet that the forecast is made with",
    )
    law: str = choice(
        "neo-Hookean",
        {
            "neo-Hookean": ("Neo-Hookean", "Rubber with one modulus"),
            "Mooney-Rivlin": ("Mooney-Rivlin", "Rubber that stiffens: steadier in narrow slots"),
        },
        label="Law",
        tip="How the hot sheet resists being stretched",
    )
    sharpest_radius_mm: float | None = number(
        None,
        low=0.01,
        high=100,
        unit="mm",
        label="Sharpest Radius",
        tip="Radius that the sheet keeps in a corner",
        automatic="the vacuum (plenum_kpa) and the hot stiffness",
        start=0.75,
    )
    # house rule: with a good vacuum it leaves a radius of the sheet's thickness; no measured value was found
    hot_modulus_kpa: float = number(
        45.0,
        low=1,
        high=10_000,
        unit="kPa",
        label="Hot Stiffness",
        tip="Shear modulus of the hot sheet; with the vacuum it decides how sharp the corners get",
        preset="sheet",
    )
    measured: str = text(
        label="Measured",
        tip="Points measured on a part, in the buck's frame: brow 0.52 at 12 30 41, chin 0.61 at 0 -55 20",
    )
    place_vents: bool = switch(
        False,
        label="Place Vents",
        tip="Also put vents where the sheet is forecast to trap air, and check that they drain",
    )
    compare_gaps: bool = switch(
        False,
        label="Compare Gaps",
        tip="Forecast several gaps between buck and frame in a table",
    )

    def __attrs_post_init__(self) -> None:
        """Check heat map and measured points, and that the model knows what is asked."""
        check_heat_map(self.heat_map)
        points_of(self.measured)
        if self.model == "geometric" and (self.rim_colder_c or self.heat_map):
            raise JobError("the geometric model knows no heat: leave out rim_colder_c and heat_map")
        if self.model == "geometric" and (self.sag_mm or self.place_vents or self.friction is not None):
            raise JobError(
                "the geometric model does not support sag, vents or friction: "
                "leave out sag_mm, place_vents and friction, or use the membrane model"
            )
