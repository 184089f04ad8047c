"""Settings of the survey."""

import attrs

from buckwright.settings import number

__all__ = ["DraftSettings"]


@attrs.frozen(kw_only=True)
class DraftSettings:
    """Draft: how far walls must lean so that the part releases."""

    wanted_deg: float | None = number(
        None,
        low=0.1,
        high=44,
        unit="degrees",
        label="Wanted Draft",
        tip="Smallest angle between a wall and the pull that counts as free",
        automatic="the sheet, and more for texture",
        start=3.0,
        front=True,
    )
    texture_depth_mm: float = number(
        0.0,
        low=0,
        high=2,
        unit="mm",
        label="Texture Depth",
        tip="Depth of a grain on the surface, which asks for more draft",
    )
