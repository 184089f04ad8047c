"""Settings of the job's words, the sculpt, the pull and the fit."""

from typing import Literal

import attrs

from buckwright.settings import choice, direction, number, text, vector, whole

__all__ = ["AXES", "FitSettings", "JobSettings", "PullSettings", "SculptSettings"]

AXES = {
    "search": ("Search", "Try many directions and take the one that loses and costs least"),
    "x": ("+X", "Along the sculpt's X axis"),
    "y": ("+Y", "Along the sculpt's Y axis"),
    "z": ("+Z", "Along the sculpt's Z axis"),
    "-x": ("-X", "Against the sculpt's X axis"),
    "-y": ("-Y", "Against the sculpt's Y axis"),
    "-z": ("-Z", "Against the sculpt's Z axis"),
}
# A size to start from when one is first set by hand: house rule.
_START_MM = 150.0


@attrs.frozen(kw_only=True)
class JobSettings:
    """Job Details: words that are engraved, printed and stored."""

    name: str = text(
        label="Name",
        tip="Name of the job, engraved on the underside and written in the report",
        front=True,
        longest=120,
    )
    number: str = text(label="Number", tip="Number of the job, engraved on the underside", longest=60)
    story: str = text(label="Story", tip="What the part is for; written in the report only")
    use: Literal["other", "worn", "face", "lamp", "food", "clear"] = choice(
        "other",
        {
            "other": ("Other", "Nothing that needs a caution of its own"),
            "worn": ("Worn", "Worn on the body"),
            "face": ("Face or Head", "Covers the face or the head"),
            "lamp": ("Lamp", "Stands around or near a lamp"),
            "food": ("Food or Skin", "Touches food, or soap and the like are cast in it"),
            "clear": ("Clear", "Is looked through: a canopy, a window, a lens"),
        },
        label="Use",
        tip="What the part is for: the job sheet then has the cautions and steps that fit",
    )


@attrs.frozen(kw_only=True)
class SculptSettings:
    """Sculpt Size: the file, its unit, and how large it is meant to be."""

    file: str = text(label="File", tip="File that holds the sculpt, beside the job file", names_file=True)
    unit: Literal["mm", "cm", "m", "in"] | None = choice(
        None,
        {
            "mm": ("Millimeters", "The file is in millimeters"),
            "cm": ("Centimeters", "The file is in centimeters"),
            "m": ("Meters", "The file is in meters"),
            "in": ("Inches", "The file is in inches"),
        },
        label="Unit",
        tip="Unit of the numbers in the file",
        automatic="the unit that the file states, else millimeters",
        front=True,
    )
    width_mm: float | None = number(
        None,
        low=0.1,
        high=10_000,
        unit="mm",
        label="Width",
        tip="Scale the sculpt to this size along its X axis",
        automatic="the size of the sculpt as it is",
        start=_START_MM,
        replaces=("depth_mm", "height_mm"),
    )
    depth_mm: float | None = number(
        None,
        low=0.1,
        high=10_000,
        unit="mm",
        label="Depth",
        tip="Scale the sculpt to this size along its Y axis",
        automatic="the size of the sculpt as it is",
        start=_START_MM,
        replaces=("width_mm", "height_mm"),
    )
    height_mm: float | None = number(
        None,
        low=0.1,
        high=10_000,
        unit="mm",
        label="Height",
        tip="Scale the sculpt to this size along its Z axis",
        automatic="the size of the sculpt as it is",
        start=_START_MM,
        front=True,
        replaces=("width_mm", "depth_mm"),
    )
    height_factor: float = number(
        1.0,
        low=0.05,
        high=50,
        label="Height Factor",
        tip="Heights along the sculpt's Z axis are multiplied by this first: relief maps are exaggerated",
    )
    mirror: Literal["none", "x", "y", "z"] = choice(
        "none",
        {
            "none": ("None", "The sculpt as it is"),
            "x": ("Across X", "Left and right of the sculpt's X axis change places"),
            "y": ("Across Y", "Front and back of the sculpt's Y axis change places"),
            "z": ("Across Z", "Top and bottom of the sculpt's Z axis change places, pulled along X or Y"),
        },
        label="Mirror",
        tip="Make the buck of the sculpt's mirror image, for the other one of a pair; lettering reads right",
    )


@attrs.frozen(kw_only=True)
class PullSettings:
    """Pull: which way the formed part leaves the buck."""

    direction: str | tuple[float, float, float] = direction(
        "search",
        AXES,
        label="Direction",
        tip="Which way the formed part leaves the buck, in the sculpt's own axes",
        front=True,
    )
    about: tuple[float, float, float] = vector(
        (0.0, 0.0, 1.0), label="Search About", tip="Middle of the search, as a direction in the sculpt's axes"
    )
    cone_deg: float = number(
        180.0,
        low=0,
        high=180,
        unit="degrees",
        label="Search Within",
        tip="Largest angle between a tried direction and the middle of the search",
    )
    directions: int = whole(
        500, low=1, high=20_000, label="Directions", tip="How many directions the search tries"
    )
    setup: int = whole(
        1,
        low=1,
        high=5,
        label="Setup",
        tip="Which of the setups that were found is taken, by its number; 1 is the best",
        front=True,
    )


@attrs.frozen(kw_only=True)
class FitSettings:
    """Fit: which side of the formed sheet holds its size, and the allowances for that."""

    controlled_side: Literal["mould", "inside", "outside"] = choice(
        "mould",
        {
            "mould": (
                "Mould Side",
                "The side that lies on the mould has the size of the sculpt: the crisp one",
            ),
            "inside": (
                "Inside",
                "The inside of the part has the size of the sculpt; a female cavity is larger",
            ),
            "outside": (
                "Outside",
                "The outside of the part has the size of the sculpt; a male buck is smaller",
            ),
        },
        label="Controlled Side",
        tip="Side of the formed sheet that has the size of the sculpt",
    )
    shrinkage: float | None = number(
        None,
        low=0,
        high=0.1,
        label="Shrinkage",
        tip="Share by which the part shrinks as it cools, for example 0.005 for 0.5 %",
        automatic="the middle of the sheet's range",
        start=0.005,
        preset="sheet",
    )
    formed_thickness_mm: float | None = number(
        None,
        low=0.01,
        high=10,
        unit="mm",
        label="Formed Thickness",
        tip="Mean thickness of the formed part, by which the buck or cavity is offset for the other side",
        automatic="the sheet's thickness over the ratio of formed to flat area",
        start=0.5,
        preset="sheet",
    )
