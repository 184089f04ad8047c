"""Settings of the porous top."""

import attrs

from buckwright.settings import number, switch

__all__ = ["PorousSettings"]


@attrs.frozen(kw_only=True)
class PorousSettings:
    """Porous Top: a body of its own in the 3MF, printed without skin, so that air leaves everywhere."""

    enabled: bool = switch(
        False,
        label="Porous Top",
        tip="Make the top of the buck a body of its own in the 3MF, for sparse infill without skin",
        front=True,
    )
    wall_mm: float = number(
        3.0,  # six lines of a 0.45 mm nozzle: house rule
        low=0.8,
        high=100,
        unit="mm",
        label="Closed Wall",
        tip="Thickness of the closed wall around the porous part, seen along the pull",
    )
    steepest_deg: float = number(
        45.0,  # on steeper walls the outlines of layers overlap and leave no pores: geometry of a usual layer
        low=1,
        high=89,
        unit="degrees",
        label="Steepest",
        tip="Where the surface is steeper than this it stays closed",
    )
    infill_share: float = number(
        0.2,  # house rule; what the sheet does to it was not measured
        low=0.05,
        high=0.6,
        label="Porous Infill",
        tip="Share of the porous part that is filled",
    )
