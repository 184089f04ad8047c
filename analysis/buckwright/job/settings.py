"""`Job`: every setting of the main job.

Each table of the file is one class here; a missing table or key takes the default shown. Ranges are
checked once, when a job is read or made.
"""

import functools
import math
from pathlib import Path
from typing import Any, Literal

import attrs

from buckwright.errors import JobError

__all__ = [
    "BaseSettings",
    "DraftSettings",
    "FillSettings",
    "FitSettings",
    "ForecastSettings",
    "Job",
    "JobText",
    "PullSettings",
    "SculptSettings",
    "SheetSettings",
    "VentSettings",
    "as_plain",
]


def _check_between(low: float, high: float, unit: str, _owner: Any, attribute: Any, value: Any) -> None:
    if value is None:
        return
    if not isinstance(value, int | float) or isinstance(value, bool) or not low <= value <= high:
        wanted = f"between {low:g} and {high:g}{f' {unit}' if unit else ''}"
        raise JobError(f"{attribute.name} must be {wanted}, got {value!r}")


type Point = tuple[float, float]
type Spot = tuple[float, float, float]
type Corner = tuple[float, float, float]
"""Like a spot, but its height may be left out and is 0 then."""

# No buck and no scene is larger; and a list this long is a mistake. House rules.
_FARTHEST_MM = 100_000.0
_MOST_PLACES = 5_000


def _between(low: float, high: float, unit: str = "") -> Any:
    """Validator: a finite number in a closed range, or None where that is allowed.

    A partial function, so that forms over the job can read the range from its `args`.
    """
    return functools.partial(_check_between, low, high, unit)


def _one_of(*names: str) -> Any:
    def check(_owner: Any, attribute: Any, value: Any) -> None:
        if value is not None and value not in names:
            raise JobError(f"{attribute.name} must be one of {', '.join(names)}; got {value!r}")

    return check


def _check_vector(name: str, vector: tuple[float, ...]) -> None:
    if not all(math.isfinite(value) for value in vector):
        raise JobError(f"{name} must be three finite numbers, got {list(vector)}")
    if not any(vector):
        raise JobError(f"{name} must not be the zero vector")


def _check_places(_owner: Any, attribute: Any, value: Any) -> None:
    """Validator: a list of places within reach, or None."""
    if value is None:
        return
    if len(value) > _MOST_PLACES:
        raise JobError(f"{attribute.name} names {len(value)} places; {_MOST_PLACES} are allowed")
    for n, place in enumerate(value, 1):
        if not all(abs(number) <= _FARTHEST_MM for number in place):  # nan is not either
            raise JobError(
                f"{attribute.name}: place {n} must be numbers between -{_FARTHEST_MM:g} and "
                f"{_FARTHEST_MM:g} mm, got {list(place)}"
            )


def _check_outline(owner: Any, attribute: Any, value: Any) -> None:
    """Validator: corners of a polygon that encloses something, or None."""
    _check_places(owner, attribute, value)
    if value is None:
        return
    corners = len(set(value))
    if corners < 3:
        raise JobError(f"{attribute.name} needs at least three different corners, got {corners}")


@attrs.frozen(kw_only=True)
class JobText:
    """Words for people: they are engraved, printed and stored, and change no geometry but the engraving."""

    name: str = ""
    number: str = ""
    story: str = ""


@attrs.frozen(kw_only=True)
class SculptSettings:
    """Where the sculpt is and how large it is meant to be."""

    file: str = ""
    unit: Literal["mm", "cm", "m", "in"] | None = attrs.field(
        default=None, validator=_one_of("mm", "cm", "m", "in")
    )
    width_mm: float | None = attrs.field(default=None, validator=_between(0.1, 10_000, "mm"))
    depth_mm: float | None = attrs.field(default=None, validator=_between(0.1, 10_000, "mm"))
    height_mm: float | None = attrs.field(default=None, validator=_between(0.1, 10_000, "mm"))


@attrs.frozen(kw_only=True)
class SheetSettings:
    """The sheet that will be formed."""

    material: str = "HIPS"
    thickness_mm: float = attrs.field(default=0.75, validator=_between(0.05, 10, "mm"))


@attrs.frozen(kw_only=True)
class PullSettings:
    """Which way the part leaves the buck: an axis, a vector, or a search in a cone."""

    direction: str | tuple[float, float, float] = "search"
    about: tuple[float, float, float] = (0.0, 0.0, 1.0)
    cone_deg: float = attrs.field(default=90.0, validator=_between(0, 180, "degrees"))
    directions: int = attrs.field(default=500, validator=_between(1, 20_000))

    def __attrs_post_init__(self) -> None:
        """Check the direction, which is a word or a vector."""
        axes = ("search", "x", "y", "z", "-x", "-y", "-z")
        if isinstance(self.direction, str):
            if self.direction not in axes:
                raise JobError(
                    f"direction must be one of {', '.join(axes)} or three numbers; got {self.direction!r}"
                )
        else:
            _check_vector("direction", self.direction)
        _check_vector("about", self.about)


@attrs.frozen(kw_only=True)
class DraftSettings:
    """Wanted draft; without a number it follows from the sheet and the texture."""

    wanted_deg: float | None = attrs.field(default=None, validator=_between(0.1, 44, "degrees"))
    texture_depth_mm: float = attrs.field(default=0.0, validator=_between(0, 2, "mm"))


@attrs.frozen(kw_only=True)
class FillSettings:
    """How much solid may be added under overhangs."""

    mode: Literal["full", "locked", "none"] = attrs.field(
        default="full", validator=_one_of("full", "locked", "none")
    )
    keep_tight: bool = False
    tolerance_mm: float = attrs.field(default=0.02, validator=_between(0, 1, "mm"))
    cell_mm: float | None = attrs.field(default=None, validator=_between(0.05, 10, "mm"))


@attrs.frozen(kw_only=True)
class FitSettings:
    """Which side of the formed sheet must hold its size, and the allowances for that."""

    controlled_side: Literal["inside", "outside"] = attrs.field(
        default="inside", validator=_one_of("inside", "outside")
    )
    shrinkage: float | None = attrs.field(default=None, validator=_between(0, 0.1))
    formed_thickness_mm: float | None = attrs.field(default=None, validator=_between(0.01, 10, "mm"))


@attrs.frozen(kw_only=True)
class BaseSettings:
    """What the sculpt stands on. Numbers that are left out follow from the sheet and the part's height."""

    sink_mm: float | Literal["widest"] = 0.0
    style: Literal["flange", "plinth"] = attrs.field(default="flange", validator=_one_of("flange", "plinth"))
    footprint: Literal["outline", "rectangle", "circle"] = attrs.field(
        default="outline", validator=_one_of("outline", "rectangle", "circle")
    )
    riser_mm: float | None = attrs.field(default=None, validator=_between(0, 200, "mm"))
    flange_mm: float | None = attrs.field(default=None, validator=_between(1, 200, "mm"))
    land_mm: float | None = attrs.field(default=None, validator=_between(0, 300, "mm"))
    fillet_mm: float | None = attrs.field(default=None, validator=_between(0, 50, "mm"))
    corner_mm: float = attrs.field(default=10.0, validator=_between(0, 500, "mm"))
    trim_step_mm: float = attrs.field(default=0.6, validator=_between(0, 5, "mm"))
    most_mm: tuple[float, float] | None = None
    fixing: Literal["screw", "magnet", "none"] = attrs.field(
        default="screw", validator=_one_of("screw", "magnet", "none")
    )
    fixings: int = attrs.field(default=2, validator=_between(0, 24))
    engrave: bool = True
    outline_mm: tuple[Corner, ...] | None = attrs.field(default=None, validator=_check_outline)

    def __attrs_post_init__(self) -> None:
        """Check the sink, which is a number or a word, and the two greatest lengths."""
        if self.sink_mm != "widest":
            _between(0, 5_000, "mm")(self, attrs.fields(BaseSettings).sink_mm, self.sink_mm)
        for length in self.most_mm or ():
            _between(10, 10_000, "mm")(self, attrs.fields(BaseSettings).most_mm, length)


@attrs.frozen(kw_only=True)
class VentSettings:
    """Where air leaves from under the sheet."""

    enabled: bool = True
    min_pocket_mm: float | None = attrs.field(default=None, validator=_between(0.01, 50, "mm"))
    spacing_mm: float = attrs.field(default=25.0, validator=_between(2, 500, "mm"))
    hole_mm: float | None = attrs.field(default=None, validator=_between(0.1, 5, "mm"))
    printer_min_hole_mm: float = attrs.field(default=1.0, validator=_between(0, 5, "mm"))
    when_small: Literal["slot", "dimple", "hole"] = attrs.field(
        default="slot", validator=_one_of("slot", "dimple", "hole")
    )
    skin_mm: float = attrs.field(default=3.0, validator=_between(0.4, 30, "mm"))
    back_bore_mm: float = attrs.field(default=4.0, validator=_between(0.5, 30, "mm"))
    wall_mm: float = attrs.field(default=1.6, validator=_between(0.4, 20, "mm"))
    channel_width_mm: float = attrs.field(default=4.0, validator=_between(0.5, 30, "mm"))
    channel_depth_mm: float = attrs.field(default=2.5, validator=_between(0.5, 30, "mm"))
    foot_ring: bool = True
    target_s: float = attrs.field(default=0.5, validator=_between(0.01, 60, "s"))
    target_share: float = attrs.field(default=0.2, validator=_between(0.01, 0.95))
    plenum_kpa: float = attrs.field(default=10.0, validator=_between(0, 95, "kPa"))
    at_mm: tuple[Spot, ...] | None = attrs.field(default=None, validator=_check_places)
    platen_holes_mm: tuple[Point, ...] | None = attrs.field(default=None, validator=_check_places)


@attrs.frozen(kw_only=True)
class ForecastSettings:
    """How the sheet is forecast; frame and radius follow from buck and sheet where they are left out."""

    quality: Literal["off", "preview", "fine"] = attrs.field(
        default="preview", validator=_one_of("off", "preview", "fine")
    )
    nodes: int = attrs.field(default=20_000, validator=_between(1_000, 200_000))
    frame_mm: Point | None = None
    gap_mm: float | None = attrs.field(default=None, validator=_between(1, 1_000, "mm"))
    tallest_mm: float | None = attrs.field(default=None, validator=_between(1, 5_000, "mm"))
    sag_mm: float = attrs.field(default=0.0, validator=_between(0, 500, "mm"))
    friction: float | None = attrs.field(default=None, validator=_between(0, 2))
    model: Literal["membrane", "geometric"] = attrs.field(
        default="membrane", validator=_one_of("membrane", "geometric")
    )
    law: Literal["neo-Hookean", "Mooney-Rivlin"] = attrs.field(
        default="neo-Hookean", validator=_one_of("neo-Hookean", "Mooney-Rivlin")
    )
    sharpest_radius_mm: float | None = attrs.field(default=None, validator=_between(0.01, 100, "mm"))
    place_vents: bool = False
    compare_gaps: bool = False

    def __attrs_post_init__(self) -> None:
        """Check the frame's two lengths, and that the model knows what is asked."""
        for length in self.frame_mm or ():
            _between(10, 10_000, "mm")(self, attrs.fields(ForecastSettings).frame_mm, length)
        if self.model == "geometric" and (self.sag_mm or self.place_vents or self.friction is not None):
            raise JobError(
                "the geometric model knows no sag, no vents and no friction: "
                "leave out sag_mm, place_vents and friction"
            )


@attrs.frozen(kw_only=True)
class Job:
    """All settings of one buck. `folder` is where relative paths start; it is not written."""

    job: JobText = attrs.field(factory=JobText)
    sculpt: SculptSettings = attrs.field(factory=SculptSettings)
    sheet: SheetSettings = attrs.field(factory=SheetSettings)
    pull: PullSettings = attrs.field(factory=PullSettings)
    draft: DraftSettings = attrs.field(factory=DraftSettings)
    fill: FillSettings = attrs.field(factory=FillSettings)
    fit: FitSettings = attrs.field(factory=FitSettings)
    base: BaseSettings = attrs.field(factory=BaseSettings)
    vents: VentSettings = attrs.field(factory=VentSettings)
    forecast: ForecastSettings = attrs.field(factory=ForecastSettings)
    folder: Path = attrs.field(factory=Path, eq=False)

    @property
    def sculpt_path(self) -> Path:
        """The sculpt's file, relative paths taken from the job's folder.

        Raises
        ------
        JobError
            The job names no file.
        """
        if not self.sculpt.file:
            raise JobError('the job names no sculpt: write file = "..." under [sculpt]')
        return self.folder / self.sculpt.file

    def evolved(self, **tables: dict[str, Any]) -> "Job":
        """A copy with some keys changed, `evolved(sheet={"thickness_mm": 1.0})`.

        Raises
        ------
        JobError
            A key or value that the table does not take.
        """
        from buckwright.job.files import job_from

        raw = as_plain(self)
        for table, values in tables.items():
            raw.setdefault(table, {}).update(values)
        return attrs.evolve(job_from(raw), folder=self.folder)


def as_plain(job: Job) -> dict[str, Any]:
    """A job as plain tables; settings that follow from others are left out."""
    plain = attrs.asdict(job, filter=lambda attribute, _: attribute.name != "folder")
    return {
        table: {key: _listed(value) for key, value in values.items() if value is not None}
        for table, values in plain.items()
    }


def _listed(value: Any) -> Any:
    return [_listed(entry) for entry in value] if isinstance(value, tuple) else value
