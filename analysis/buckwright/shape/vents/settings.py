"""Settings of the vents."""

from typing import Literal

import attrs

from buckwright.settings import choice, number, places, switch

__all__ = ["PLENUM_KPA", "TARGET_SHARE", "VentSettings"]

PLENUM_KPA = 10.0
"""Absolute pressure under the platen where no machine is known: house rule."""
TARGET_SHARE = 0.2
"""Share of an atmosphere that may be left in a pocket: house rule."""


@attrs.frozen(kw_only=True)
class VentSettings:
    """Vents: where air leaves from under the sheet."""

    enabled: bool = switch(
        True,
        label="Vents",
        tip="Drill a vent into every pocket where the sheet would trap air",
        front=True,
    )
    min_pocket_mm: float | None = number(
        None,
        low=0.01,
        high=50,
        unit="mm",
        label="Minimum Pocket Depth",
        tip="Pockets that are shallower than this need no vent",
        automatic="0.4 of the sheet's thickness, at least 0.3 mm",
        start=0.3,
    )
    spacing_mm: float = number(
        25.0,
        low=2,
        high=500,
        unit="mm",
        label="Spacing",
        tip="Largest distance from any place of a pocket to its vent",
    )
    hole_mm: float | None = number(
        None,
        low=0.1,
        high=5,
        unit="mm",
        label="Hole",
        tip="Diameter of a vent where the sheet touches it",
        automatic="the sheet's thickness, within the material's range",
        start=0.75,
        preset="sheet",
    )
    printer_min_hole_mm: float = number(
        1.0,
        low=0,
        high=5,
        unit="mm",
        label="Smallest Printable Hole",
        tip="Smallest round hole that the printer leaves open",
        preset="machine",
    )
    when_small: Literal["slot", "dimple", "hole"] = choice(
        "slot",
        {
            "slot": ("Slot", "A slot that is long enough to stay open"),
            "dimple": ("Dimple", "A mark to drill after printing"),
            "hole": ("Hole", "The hole all the same"),
        },
        label="If Hole Is Too Small",
        tip="What is made where the hole is smaller than the printer can leave open",
    )
    skin_mm: float = number(
        3.0,
        low=0.4,
        high=30,
        unit="mm",
        label="Skin",
        tip="Depth of the fine hole before the wide bore begins",
    )
    narrow_most_mm: float | None = number(
        None,
        low=1,
        high=200,
        unit="mm",
        label="Longest Narrow Hole",
        tip="Depth to which the printer keeps a narrow hole open; deeper ones are widened, or left to drill",
        automatic="20 times the width of the hole (house rule)",
        start=10.0,
        preset="machine",
    )
    back_bore_mm: float = number(
        4.0,
        low=0.5,
        high=30,
        unit="mm",
        label="Back-Bore",
        tip="Diameter of the wide bore behind the fine hole",
    )
    wall_mm: float = number(
        1.6,
        low=0.4,
        high=20,
        unit="mm",
        label="Wall",
        tip="Smallest wall between a bore and the surface or another bore",
    )
    tilt_deg: float = number(
        45.0,  # house rule
        low=0,
        high=60,
        unit="degrees",
        label="Largest Tilt",
        tip="How far a bore may lean where an upright one has no room; 0 for upright bores only",
    )
    channel_width_mm: float = number(
        4.0,
        low=0.5,
        high=30,
        unit="mm",
        label="Channel Width",
        tip="Width of the air channels in the underside",
    )
    channel_depth_mm: float = number(
        2.5,
        low=0.5,
        high=30,
        unit="mm",
        label="Channel Depth",
        tip="Depth of the air channels in the underside",
    )
    foot_ring: bool = switch(
        True,
        label="Foot Ring",
        tip="Also drill vents along the foot of the sculpt, where the sheet closes last",
    )
    target_s: float = number(
        0.5,
        low=0.01,
        high=60,
        unit="s",
        label="Evacuation Time",
        tip="Time in which a pocket should be down to the wanted pressure",
        preset="machine",
    )
    target_share: float | None = number(
        None,
        low=0.01,
        high=0.95,
        label="Pressure Left",
        tip="Share of an atmosphere that may be left in a pocket by then",
        automatic="0.2, or a little over what the machine's vacuum reaches",
        start=TARGET_SHARE,
        preset="machine",
    )
    plenum_kpa: float | None = number(
        None,
        low=0,
        high=95,
        unit="kPa",
        label="Plenum Pressure",
        tip="Absolute pressure under the platen",
        automatic="what the machine's vacuum reaches, else 10 kPa",
        start=PLENUM_KPA,
        preset="machine",
    )
    at_mm: tuple[tuple[float, float, float], ...] | None = places(
        size=3,
        label="Places",
        tip="Drill vents just here, in the sculpt's own coordinates",
        automatic="the pockets",
        in_scene=True,
    )
    platen_holes_mm: tuple[tuple[float, float], ...] | None = places(
        size=2,
        label="Platen Holes",
        tip="Holes of the platen that the channels lead to, in the buck's frame",
        automatic="the edge of the base",
        in_scene=True,
    )

    @property
    def under_platen_kpa(self) -> float:
        """Absolute pressure under the platen, the usual one where none is set."""
        return PLENUM_KPA if self.plenum_kpa is None else self.plenum_kpa

    @property
    def left_share(self) -> float:
        """Share of an atmosphere that may be left in a pocket, the usual one where none is set."""
        return TARGET_SHARE if self.target_share is None else self.target_share
