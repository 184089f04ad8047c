"""Settings of the forecast."""

from typing import Literal

import attrs

from buckwright.errors import JobError
from buckwright.settings import choice, number, pair, switch, whole

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
    friction: float | None = number(
        None,
        low=0,
        high=2,
        label="Friction",
        tip="Coulomb friction of the hot sheet on the buck",
        automatic="the sheet sticks where it touches",
        start=0.3,
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
        """Check that the model knows what is asked."""
        if self.model == "geometric" and (self.sag_mm or self.place_vents or self.friction is not None):
            raise JobError(
                "the geometric model does not support sag, vents or friction: "
                "leave out sag_mm, place_vents and friction, or use the membrane model"
            )
