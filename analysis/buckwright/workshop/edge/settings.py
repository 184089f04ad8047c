"""Settings of the edge."""

from typing import Literal

import attrs

from buckwright.settings import choice, number, pair, places, switch

__all__ = ["EdgeSettings"]


@attrs.frozen(kw_only=True)
class EdgeSettings:
    """Edge: how the part is cut and bound, and which holes go into it."""

    strip_mm: float = number(
        15.0,
        low=0,
        high=100,
        unit="mm",
        label="Paper Strip",
        tip="Height of the paper strip that goes round the wall; its lower edge is the trim line; 0 for none",
    )
    gauge: bool = switch(
        True, label="Height Gauge", tip="Draw a card that stands beside the sheet and marks the trim line"
    )
    openings: bool = switch(
        True,
        label="Cut Openings",
        tip="Draw a trim line round each opening through the part, with a strip and a gauge of its own",
    )
    opening_rise_mm: float | None = number(
        None,
        low=0.1,
        high=100,
        unit="mm",
        label="Opening's Edge",
        tip="Height of the trim line round an opening over its floor, clear of the flare of the sheet there",
        automatic="four sheets, at least 1 mm",
        start=3.0,
    )
    profile: Literal["off", "flat", "u"] = choice(
        "off",
        {
            "off": ("None", "No printed edge"),
            "flat": ("Flat", "A band that is glued on outside, along the edge"),
            "u": ("U Profile", "A channel that is pushed over the edge"),
        },
        label="Printed Edge",
        tip="A strip for a flexible filament that follows the edge",
    )
    profile_leg_mm: float = number(
        6.0,
        low=1,
        high=50,
        unit="mm",
        label="Edge Height",
        tip="How far the printed edge reaches up the wall",
    )
    profile_wall_mm: float = number(
        1.6,  # four lines of a 0.4 mm nozzle: house rule
        low=0.4,
        high=10,
        unit="mm",
        label="Edge Wall",
        tip="Thickness of the printed edge",
    )
    profile_room_mm: float = number(
        0.2,
        low=0,
        high=2,
        unit="mm",
        label="Edge Clearance",
        tip="Room between the sheet and each side of a U profile",
    )
    rivets_mm: tuple[tuple[float, float, float], ...] | None = places(
        size=3,
        label="Rivets",
        tip="Places of rivet holes, in the sculpt's own coordinates",
        automatic="no rivets",
        in_scene=True,
    )
    rivet_mm: float = number(
        3.2,  # the common blind rivet, 1/8 inch: common practice, no source
        low=0.5,
        high=30,
        unit="mm",
        label="Rivet Hole",
        tip="Diameter of the rivet holes",
    )
    slots_mm: tuple[tuple[float, float, float], ...] | None = places(
        size=3,
        label="Strap Slots",
        tip="Middles of strap slots, in the sculpt's own coordinates; they lie along the edge",
        automatic="no slots",
        in_scene=True,
    )
    slot_mm: tuple[float, float] = pair(
        (26.0, 4.0),  # webbing of 25 mm: common practice, no source
        low=1,
        high=200,
        unit="mm",
        label="Slot",
        tip="Length and width of a strap slot",
    )
    fans_mm: tuple[tuple[float, float, float], ...] | None = places(
        size=3,
        label="Fan Holes",
        tip="Middles of round openings for fans or lamp holders, in the sculpt's own coordinates",
        automatic="no fan holes",
        in_scene=True,
    )
    fan_mm: float = number(
        38.0,  # a fan of 40 mm: common practice, no source
        low=1,
        high=500,
        unit="mm",
        label="Fan Hole",
        tip="Diameter of the fan holes",
    )
    pip_mm: float = number(
        0.6,
        low=0,
        high=3,
        unit="mm",
        label="Pip",
        tip="Height of the pips on the buck that mark where to drill; 0 for none",
    )
