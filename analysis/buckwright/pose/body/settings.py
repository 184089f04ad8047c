"""Settings of the body that the part goes over."""

from typing import Literal

import attrs

from buckwright.settings import choice, number, text

__all__ = ["BodySettings"]


@attrs.frozen(kw_only=True)
class BodySettings:
    """Body: the head, limb, object or earlier layer that the part goes over or into."""

    file: str = text(
        label="File",
        tip="Mesh of the body, placed as it is in the sculpt's own axes; a path starts at the job file",
        names_file=True,
        in_scene=True,
    )
    unit: Literal["mm", "cm", "m", "in"] | None = choice(
        None,
        {
            "mm": ("Millimeters", "The file is in millimeters"),
            "cm": ("Centimeters", "The file is in centimeters"),
            "m": ("Meters", "The file is in meters"),
            "in": ("Inches", "The file is in inches"),
        },
        label="Unit",
        tip="Unit of the numbers in the body's file",
        automatic="the sculpt's, scaled as that is to a wanted size, but not to a measurement",
    )
    side: Literal["inside", "outside"] = choice(
        "inside",
        {
            "inside": ("Inside", "The body is inside the part, which goes over it"),
            "outside": ("Outside", "The body is around the part, which goes into it"),
        },
        label="Body Is",
        tip="On which side of the part the body lies",
    )
    padding_mm: float = number(
        0.0,
        low=0,
        high=100,
        unit="mm",
        label="Padding",
        tip="Thickness of foam or cloth between body and part",
        front=True,
    )
    clearance_mm: float = number(
        2.0,  # house rule
        low=0,
        high=200,
        unit="mm",
        label="Wanted Clearance",
        tip="Least room that is wanted between part and padding",
        front=True,
    )
    grow: Literal["off", "short", "all"] = choice(
        "off",
        {
            "off": ("Off", "Leave the shape as it is"),
            "short": ("Where Short", "Outwards where clearance is missing, fading out beside it"),
            "all": ("All Round", "Outwards everywhere, by the most that is missing anywhere"),
        },
        label="Grow to Clearance",
        tip="Move the surface outwards on the buck as far as clearance is missing; the sculpt itself stays",
    )
    foot: Literal["base", "widest"] = choice(
        "base",
        {
            "base": ("As the Base Says", "The depth of sinking decides"),
            "widest": ("Widest of Body", "At the height where the body is widest, so that the part goes on"),
        },
        label="Foot",
        tip="Where the part ends below",
    )
    trim: Literal["level", "body"] = choice(
        "level",
        {
            "level": ("Level", "The trim line is level"),
            "body": ("Follow Body", "The trim line rises over places where the body comes too near"),
        },
        label="Trim Line",
        tip="How the part is cut",
    )
    edge_mm: float = number(
        0.0,
        low=0,
        high=100,
        unit="mm",
        label="Edge Gap",
        tip="Least clearance of the edge where the trim line follows the body",
    )
