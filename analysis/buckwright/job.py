"""`Job`: every setting of the main job, read from and written to TOML.

Each table of the file is one class here; a missing table or key takes the default shown. Ranges are
checked once, when a job is read or made.
"""

import difflib
import functools
import math
import tomllib
from pathlib import Path
from typing import Any, Literal, cast

import attrs
import cattrs
import tomli_w
from cattrs.errors import ClassValidationError, ForbiddenExtraKeysError
from cattrs.v import transform_error

from buckwright.errors import JobError

__all__ = [
    "BaseSettings",
    "DraftSettings",
    "FillSettings",
    "FitSettings",
    "Job",
    "JobText",
    "PullSettings",
    "SculptSettings",
    "SheetSettings",
    "VentSettings",
    "job_from",
    "read_job",
    "write_job",
]


def _check_between(low: float, high: float, unit: str, _owner: Any, attribute: Any, value: Any) -> None:
    if value is None:
        return
    if not isinstance(value, int | float) or isinstance(value, bool) or not low <= value <= high:
        wanted = f"between {low:g} and {high:g}{f' {unit}' if unit else ''}"
        raise JobError(f"{attribute.name} must be {wanted}, got {value!r}")


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
        raw = _as_plain(self)
        for table, values in tables.items():
            raw.setdefault(table, {}).update(values)
        return attrs.evolve(job_from(raw), folder=self.folder)


def _structure_sink(value: Any, _: Any) -> float | str:
    return value if value == "widest" else _number(value)


def _structure_direction(value: Any, _: Any) -> str | tuple[float, ...]:
    if isinstance(value, str):
        return value
    if not isinstance(value, list | tuple) or len(value) != 3:
        raise ValueError("must be a word or three numbers")
    return tuple(_number(v) for v in value)


def _structure_pair(value: Any, _: Any) -> tuple[float, ...] | None:
    if value is None:
        return None
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise ValueError("must be two numbers")
    return tuple(_number(v) for v in value)


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"must be a number, got {value!r}")
    return float(value)


def _whole(value: Any, _: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError(f"must be a whole number, got {value!r}")
    return value


def _exactly(kind: type) -> Any:
    def structure(value: Any, _: Any) -> Any:
        if not isinstance(value, kind):
            raise ValueError(
                f"must be {'true or false' if kind is bool else 'text in quotes'}, got {value!r}"
            )
        return value

    return structure


def _converter() -> cattrs.Converter:
    converter = cattrs.Converter(forbid_extra_keys=True)
    converter.register_structure_hook(float, lambda value, _: _number(value))
    converter.register_structure_hook(int, _whole)
    converter.register_structure_hook(bool, _exactly(bool))
    converter.register_structure_hook(str, _exactly(str))
    converter.register_structure_hook_func(lambda kind: kind == float | Literal["widest"], _structure_sink)
    converter.register_structure_hook_func(lambda kind: kind == tuple[float, float] | None, _structure_pair)
    converter.register_structure_hook_func(
        lambda kind: kind == str | tuple[float, float, float], _structure_direction
    )
    return converter


_CONVERTER = _converter()


def job_from(raw: dict[str, Any], *, where: str = "the job") -> Job:
    """Build a job from plain tables.

    Raises
    ------
    JobError
        With one line for each unknown table or key, wrong kind or value out of range.
    """
    for table, values in raw.items():
        if table == "folder" or not isinstance(values, dict):
            raise JobError(f"{where}: '{table}' is not a table of settings, write it as [{table}]")
    try:
        return _CONVERTER.structure(raw, Job)
    except ClassValidationError as error:
        lines = [_worded(line) for line in _messages(error)]
        raise JobError(f"{where} cannot be used:\n  " + "\n  ".join(lines)) from error


def _messages(error: ClassValidationError) -> list[str]:
    return [str(line) for line in transform_error(error, format_exception=_format)]


def _format(error: BaseException, _kind: Any) -> str:
    if isinstance(error, ForbiddenExtraKeysError):
        known = [field.name for field in attrs.fields(cast(Any, error.cl)) if field.name != "folder"]
        parts = []
        for key in sorted(error.extra_fields):
            close = difflib.get_close_matches(key, known, n=1)
            hint = f", did you mean '{close[0]}'?" if close else f"; known are {', '.join(known)}"
            parts.append(f"unknown setting '{key}'{hint}")
        return "; ".join(parts)
    if "not in literal" in str(error):
        value, _, choices = str(error).partition(" not in literal typing.Literal")
        return f"must be one of {choices.strip('[]')}; got {value!r}"
    return str(error)


def _worded(line: str) -> str:
    """`message @ $.sheet.thickness_mm` becomes `[sheet] thickness_mm: message`."""
    message, _, path = line.rpartition(" @ $")
    place = path.strip(".").split(".") if path else []
    if not place or place == [""]:
        return message or line
    key = f" {'.'.join(place[1:])}" if len(place) > 1 else ""
    return f"[{place[0]}]{key}: {message}"


def _as_plain(job: Job) -> dict[str, Any]:
    plain = attrs.asdict(job, filter=lambda attribute, _: attribute.name != "folder")
    return {
        table: {key: list(v) if isinstance(v, tuple) else v for key, v in values.items() if v is not None}
        for table, values in plain.items()
    }


def read_job(path: Path) -> Job:
    """Read a job file.

    Raises
    ------
    JobError
        The file is missing, is no TOML, or holds a setting that cannot be used.
    """
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8-sig"))  # some editors put a mark in front
    except FileNotFoundError as error:
        raise JobError(f"{path}: there is no such job file") from error
    except IsADirectoryError as error:
        raise JobError(f"{path} is a folder; name the job.toml in it") from error
    except (OSError, UnicodeDecodeError) as error:
        raise JobError(f"{path} cannot be read: {error}") from error
    except tomllib.TOMLDecodeError as error:
        raise JobError(f"{path} is not valid TOML: {error}") from error
    return attrs.evolve(job_from(raw, where=str(path)), folder=path.parent)


def write_job(job: Job) -> str:
    """Text of the job file, every setting spelled out except those that follow from others."""
    return tomli_w.dumps(_as_plain(job))
