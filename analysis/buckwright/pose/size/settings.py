"""Settings of the exact size."""

from typing import Literal

import attrs

from buckwright.settings import choice, number, places

__all__ = ["SizeSettings"]

_AXES = {
    "x": ("X", "The sculpt's X axis"),
    "y": ("Y", "The sculpt's Y axis"),
    "z": ("Z", "The sculpt's Z axis"),
}


@attrs.frozen(kw_only=True)
class SizeSettings:
    """Exact Size: a measurement that the inside of the part is scaled to, and a slice to try on."""

    measure: Literal["none", "width", "girth", "distance"] = choice(
        "none",
        {
            "none": ("None", "Nothing is measured"),
            "width": ("Width", "From side to side of a section"),
            "girth": ("Girth", "Around a section, as a tape lies around it"),
            "distance": ("Distance", "Between two points"),
        },
        label="Measure",
        tip="What is measured of the sculpt",
    )
    wanted_mm: float | None = number(
        None,
        low=1,
        high=10_000,
        unit="mm",
        label="Wanted",
        tip="What the measurement should be on the inside of the part; the sculpt is scaled evenly to it",
        automatic="the measurement as it is",
        start=150.0,
    )
    along: Literal["x", "y", "z"] = choice(
        "z", _AXES, label="Section Across", tip="Axis across which the section lies"
    )
    level_share: float = number(
        0.5,
        low=0.01,
        high=0.99,
        label="Section At",
        tip="Where the section lies, as a share of the sculpt's extent along that axis",
    )
    side: Literal["x", "y", "z"] = choice(
        "x",
        _AXES,
        label="Width Along",
        tip="Axis along which a width is measured, another than the section's",
    )
    between_mm: tuple[tuple[float, float, float], ...] | None = places(
        size=3,
        label="Between",
        tip="Two points in the sculpt's own axes, before it is scaled, between which a distance is measured",
        automatic="no points",
        in_scene=True,
    )
    slice: Literal["none", "paper", "ring"] = choice(
        "none",
        {
            "none": ("None", "No slice"),
            "paper": ("Paper", "The section as a drawing at 1:1"),
            "ring": ("Ring", "The drawing, and a band around the section to print and try on"),
        },
        label="Slice to Try On",
        tip="Whether the section is given as a drawing or a print, to be tried on before the buck is made",
    )
    slice_mm: float = number(
        8.0, low=1, high=100, unit="mm", label="Ring Height", tip="How high the ring to try on is"
    )
    wall_mm: float = number(
        2.4,
        low=0.4,
        high=20,
        unit="mm",
        label="Ring Wall",
        tip="How thick the ring to try on is, outside the section",
    )
