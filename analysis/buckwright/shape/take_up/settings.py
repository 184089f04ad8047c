"""Settings of the take-up blocks."""

import attrs

from buckwright.settings import number, places, switch

__all__ = ["TakeUpSettings"]


@attrs.frozen(kw_only=True)
class TakeUpSettings:
    """Take-Up Blocks: blocks on the flange that use up spare sheet, so that no web crosses the trim line."""

    enabled: bool = switch(
        False,
        label="Take-Up Blocks",
        tip="Try blocks outside the corners where webs cross the trim line; keep those that help",
        front=True,
    )
    radius_mm: float | None = number(
        None,
        low=0.5,
        high=100,
        unit="mm",
        label="Block Radius",
        tip="Radius of a block at its top",
        automatic="several are tried",
        start=4.0,
    )
    draft_deg: float = number(
        5.0,  # house rule: the sheet wraps a block all round and shrinks on it
        low=0.5,
        high=45,
        unit="degrees",
        label="Block Draft",
        tip="Draft of the wall of a block",
    )
    below_trim_mm: float = number(
        1.0,  # room for a knife along the trim line: house rule
        low=0,
        high=100,
        unit="mm",
        label="Below Trim Line",
        tip="How far the tops of blocks stay below the trim line",
    )
    at_mm: tuple[tuple[float, float, float, float], ...] | None = places(
        size=4,
        least=3,
        label="Blocks",
        tip="Tops of the blocks in the sculpt's own coordinates, and their radius; made as given",
        automatic="the webs of the forecast",
        in_scene=True,
    )
