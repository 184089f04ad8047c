"""Settings of a group of bucks."""

import attrs

from buckwright.settings import number, text, whole

__all__ = ["GroupSettings"]


@attrs.frozen(kw_only=True)
class GroupSettings:
    """Group: several bucks formed in one pull."""

    copies: int = whole(
        1, low=1, high=200, label="Copies", tip="How many of this buck stand on the platen in one pull"
    )
    others: str = text(
        label="Other Bucks",
        tip="Jobs or finished bucks that stand in the same pull, with counts: tray.stl: 2; lid.stl",
        longest=2_000,
    )
    spacing_mm: float | None = number(
        None,
        low=0,
        high=2_000,
        unit="mm",
        label="Spacing",
        tip="Clear distance between two bucks",
        automatic="1.75 times the height of the tallest, at least 25 mm",
        start=50.0,
    )
    edge_mm: float | None = number(
        None,
        low=0,
        high=2_000,
        unit="mm",
        label="Edge",
        tip="Clear distance between bucks and clamp frame",
        automatic="the gap of one buck: half its height, at least 25 mm",
        start=25.0,
    )
