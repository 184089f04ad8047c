"""Settings of what is printed on the flat sheet."""

from typing import Literal

import attrs

from buckwright.settings import choice, number, pair, switch, text

__all__ = ["ArtworkSettings"]


@attrs.frozen(kw_only=True)
class ArtworkSettings:
    """Artwork: a picture on the part, printed on the flat sheet before forming."""

    file: str = text(
        label="Picture",
        tip="PNG or JPEG that is wanted on the part; a path starts at the job file",
        names_file=True,
    )
    by: Literal["pull", "uv"] = choice(
        "pull",
        {
            "pull": ("Down the Pull", "The picture lies on the part as it is seen down the pull"),
            "uv": (
                "UV Map",
                "The picture lies on the part by the texture coordinates of the sculpt: those of an OBJ, or "
                "in Blender its active UV map",
            ),
        },
        label="Picture Laid",
        tip="How the picture lies on the part",
    )
    grid: bool = switch(
        False,
        label="Test Grid",
        tip="Draw a grid to print on a flat sheet, and how it lands, to see how far a print moves",
    )
    grid_mm: float = number(
        10.0, low=2, high=100, unit="mm", label="Grid Spacing", tip="Distance between lines of the test grid"
    )
    register: bool = switch(
        False,
        label="Register Pips",
        tip="Set four pips on the base beside the sculpt, and print crosses where they lie in the flat sheet",
    )
    side: Literal["upper", "under"] = choice(
        "upper",
        {
            "upper": ("Upper", "The side away from the buck: the outside of the part"),
            "under": (
                "Under",
                "The side that lies on the buck, seen through a clear sheet: printed mirrored",
            ),
        },
        label="Printed Side",
        tip="Side of the sheet that is printed",
    )
    width_mm: float | None = number(
        None,
        low=1,
        high=5000,
        unit="mm",
        label="Picture Width",
        tip="Width of the picture on the finished part, seen down the pull",
        automatic="as large as covers the sculpt",
        start=100.0,
    )
    middle_mm: tuple[float, float] = pair(
        (0.0, 0.0),
        low=-5000,
        high=5000,
        unit="mm",
        label="Picture Middle",
        tip="Middle of the picture from the middle of the sculpt, to the right and to the back",
    )
    turn_deg: float = number(
        0.0,
        low=-360,
        high=360,
        unit="degrees",
        label="Picture Turn",
        tip="How far the picture is turned to the left, seen down the pull",
    )
    dots_per_inch: float = number(
        150.0, low=25, high=1200, label="Resolution", tip="Dots per inch of the picture to print"
    )
