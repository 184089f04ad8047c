"""What is written down of one pull."""

from itertools import pairwise
from typing import Any

import attrs

from buckwright.errors import JobError
from buckwright.settings import choice, number, table_from, text

__all__ = ["CONDITIONS", "FAULTS", "PullRecord", "Spot", "record_from"]

_LEFT = "not noted"


def _marks(label: str, tip: str) -> Any:
    return number(None, low=0, high=3, label=label, tip=f"{tip}, 0 to 3", automatic=_LEFT)


def _figure(label: str, tip: str, unit: str, low: float, high: float) -> Any:
    return number(None, low=low, high=high, unit=unit, label=label, tip=tip, automatic=_LEFT)


def _note(label: str, tip: str) -> Any:
    return text(label=label, tip=tip, longest=300)


@attrs.frozen
class Spot:
    """A named point of the part: thickness as measured, and as forecast where that was noted, mm."""

    name: str
    measured_mm: float
    forecast_mm: float | None


@attrs.frozen(kw_only=True)
class PullRecord:
    """One pull."""

    date: str = _note("Date", "Day and time of the pull")
    buck: str = _note("Buck", "Which print of the buck, or what was changed on it")
    material: str = _note("Material", "The sheet as the job names it")
    thickness_mm: float | None = _figure("Thickness", "Of the flat sheet as sold", "mm", 0.05, 20)
    measured_mm: float | None = _figure("Measured", "Of the flat sheet as measured", "mm", 0.05, 20)
    colour: str = _note("Colour", "Of the sheet")
    batch: str = _note("Batch", "Of the sheet")
    direction: str = _note("Direction", "How the extrusion lay to the buck")
    dried: str | None = choice(
        None,
        {"yes": ("Yes", "It was dried"), "no": ("No", "It was not")},
        label="Dried",
        tip="Whether the sheet was dried",
        automatic=_LEFT,
    )
    opening_mm: float | None = _figure(
        "Opening", "Smaller width of the frame's opening, where the job does not name it", "mm", 10, 5000
    )
    room_c: float | None = _figure("Room", "Temperature of the room", "°C", -20, 60)
    buck_c: float | None = _figure("Buck Temperature", "Before the pull", "°C", -20, 200)
    heater: str = _note("Heater", "Setting of each zone")
    power: float | None = _figure("Power", "Share of the heater's usual power", "", 0.05, 2)
    preheat_s: float | None = _figure("Preheat", "Of the heater before the sheet came", "s", 0, 36_000)
    ripple_s: float | None = _figure("First Ripple", "From the start of heating", "s", 0, 3600)
    flat_s: float | None = _figure("Flat", "From the start of heating", "s", 0, 3600)
    sag_s: float | None = _figure("Sag Begins", "From the start of heating", "s", 0.1, 3600)
    heat_s: float | None = _figure("Pull", "Seconds of heating until the pull", "s", 0.1, 3600)
    sag_mm: float | None = _figure("Sag", "At the pull", "mm", 0, 2000)
    carry_s: float | None = _figure("Carried", "From the heater to contact with the buck", "s", 0, 120)
    vacuum: str = _note("Vacuum", "What drew the air")
    vacuum_kpa: float | None = _figure("Gauge", "Absolute pressure while it held", "kPa", 0, 101.4)
    hold_s: float | None = _figure("Hold", "Vacuum kept on", "s", 0, 3600)
    stiff_s: float | None = _figure("Stiff", "From contact until the part held its shape", "s", 0.1, 3600)
    release: str = _note("Release", "How the part came off")
    fill: float | None = _marks("Fill", "3 crisp everywhere, 0 hardly formed")
    web: float | None = _marks("Webs", "0 none, 3 spoil the part")
    web_at: str = _note("Webs At", "Where they stand")
    chill: float | None = _marks("Chill Marks", "0 none, 3 spoil the part")
    trapped: float | None = _marks("Trapped Air", "0 none, 3 spoils the part")
    stuck: float | None = _marks("Stuck", "0 fell off, 3 had to be broken")
    thickness: str = _note("Thickness at Points", "Name, measured and forecast mm: brow 0.52/0.60, chin 0.61")
    photo: str = _note("Photo", "Name of the file")
    next: str = _note("Change Next", "One thing")

    def __attrs_post_init__(self) -> None:
        """Refuse thicknesses that cannot be read, and moments out of order."""
        _ = self.spots
        moments = [
            (key, getattr(self, key))
            for key in ("ripple_s", "flat_s", "sag_s", "heat_s")
            if getattr(self, key) is not None
        ]
        for (key, early), (following, late) in pairwise(moments):
            if early > late:
                raise JobError(f"{key} is {early:g} s and {following} {late:g} s: they come in that order")

    @property
    def spots(self) -> tuple[Spot, ...]:
        """Thickness at named points."""
        return tuple(_spot(entry) for entry in self.thickness.split(",") if entry.strip())

    @property
    def score(self) -> float | None:
        """Fill less the faults, none of which counts where it was not noted; None where fill was not."""
        if self.fill is None:
            return None
        return self.fill - sum(getattr(self, key) or 0.0 for key in FAULTS)

    def noted(self) -> dict[str, Any]:
        """What was written down, by key."""
        return {key: value for key, value in attrs.asdict(self).items() if value not in (None, "")}


FAULTS = ("web", "chill", "trapped", "stuck")
CONDITIONS = (
    *(
        "buck",
        "material",
        "thickness_mm",
        "colour",
        "direction",
        "dried",
        "opening_mm",
        "buck_c",
        "heater",
        "power",
    ),
    *("preheat_s", "heat_s", "carry_s", "vacuum", "vacuum_kpa", "hold_s", "release"),
)
"""What a maker can change from one pull to the next; what comes of it stands in the other fields."""


def record_from(values: dict[str, Any], *, title: str = "pull") -> PullRecord:
    """A record from plain values.

    Parameters
    ----------
    values : by key
    title : of the record, for messages

    Returns
    -------
    PullRecord

    Raises
    ------
    JobError
        A key that is not known or a value out of range; one line for each.
    """
    record, wrong = table_from(PullRecord, values, title=title)
    if wrong:
        raise JobError("\n".join(wrong))
    assert isinstance(record, PullRecord)
    return record


def _spot(entry: str) -> Spot:
    name, _, figures = entry.strip().rpartition(" ")
    measured, _, forecast = figures.partition("/")
    try:
        spot = Spot(name.strip(), float(measured), float(forecast) if forecast else None)
    except ValueError:
        spot = Spot("", 0.0, None)
    if not spot.name or not 0.0 < spot.measured_mm < 50.0 or not 0.0 < (spot.forecast_mm or 1.0) < 50.0:
        raise JobError(
            f"thickness: {entry.strip()!r} is no point; write its name and mm, as measured and as forecast, "
            "parted by commas: brow 0.52/0.60, chin 0.61"
        )
    return spot
