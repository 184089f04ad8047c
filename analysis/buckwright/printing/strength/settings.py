"""Settings of what the print must bear."""

import attrs

from buckwright.atmosphere import ATMOSPHERE_PA
from buckwright.settings import number

__all__ = ["ATMOSPHERE_MPA", "StrengthSettings"]

ATMOSPHERE_MPA = 1e-6 * ATMOSPHERE_PA
"""No pump pulls more."""


@attrs.frozen(kw_only=True)
class StrengthSettings:
    """Strength: what the print must bear, pull after pull."""

    safety: float = number(
        3.0,  # judgement: prints part between layers, and creep when warm
        low=1,
        high=20,
        label="Safety",
        tip="So many times the stress that is reckoned must be borne",
    )
    rest_s: float = number(
        90.0,  # judgement: the next sheet is put in and heated meanwhile
        low=0,
        high=7200,
        unit="s",
        label="Between Pulls",
        tip="How long the buck stands free after a part was taken off",
    )
    preheat_c: float = number(
        45.0,  # from memory: bucks are warmed so that the sheet is not chilled
        low=0,
        high=150,
        unit="°C",
        label="Preheated",
        tip="Temperature of a buck that is warmed before the first pull, told beside the cold one",
    )
    most_bend_mm: float = number(
        0.1,  # judgement: what a thumb does not feel
        low=0.001,
        high=5,
        unit="mm",
        label="Most Bending",
        tip="How far the skin may bend in between two lines of infill",
    )
