"""A heater whose zones differ: temperature of the sheet over the frame, and the time that suits all of it.

Heat that runs sideways through the sheet is left out: in a minute it gets a few millimetres far. The flux is
that which arrives, so what zones share because they shine on one another's ground is the map's own matter.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from buckwright.forming.heating.heated import Heated
from buckwright.forming.heating.settings import HeatingSettings
from buckwright.forming.heating.sheet_heating import heating_course, sheet_layer, sides_of
from buckwright.forming.heating.slab import KELVIN, run_slab
from buckwright.forming.sheets.table import SheetMaterial
from buckwright.frame_map import map_words

__all__ = ["Zoned", "heat_zones"]

_SHARES = 7
"""Fluxes at which the sheet is worked out; a monotone curve between them is off by less than 0.3 °C."""


@dataclass(frozen=True, slots=True, eq=False)
class Zoned:
    """How warm the sheet is under the zones when the heating time that suits the usual flux is over.

    Attributes
    ----------
    mean_c : rows of temperatures, the mean through the thickness, the first row in front
    after_s : seconds of heating
    coldest_c, hottest_c : of all zones, through the thickness
    earliest_s : the weakest zone can be formed, throughout
    latest_s : the strongest gets too hot
    heat_map : for the forecast, see `heat_map.rows_of`
    cut_off : whether a temperature was beyond what that map may say
    """

    mean_c: tuple[tuple[float, ...], ...]
    after_s: float
    coldest_c: float
    hottest_c: float
    earliest_s: float
    latest_s: float
    heat_map: str
    cut_off: bool

    @property
    def at_once(self) -> bool:
        """Whether there is a moment at which every zone can be formed."""
        return self.earliest_s <= self.latest_s and math.isfinite(self.earliest_s)

    def to_dict(self) -> dict[str, Any]:
        """The entry of the report; what never comes about is None."""
        ends = {"earliest_s": self.earliest_s, "latest_s": self.latest_s}
        return {
            "mean_c": [list(row) for row in self.mean_c[::-1]],
            "after_s": self.after_s,
            "coldest_c": self.coldest_c,
            "hottest_c": self.hottest_c,
            **{key: value if math.isfinite(value) else None for key, value in ends.items()},
            "heat_map": self.heat_map,
        }


def heat_zones(
    rows: list[list[float]],
    heated: Heated,
    material: SheetMaterial,
    thickness_mm: float,
    settings: HeatingSettings,
    *,
    rise_c: float,
    most_heat: tuple[float, float],
    tick: Callable[[], None] = lambda: None,
) -> Zoned:
    """Temperature under each zone.

    Parameters
    ----------
    rows : relative flux that arrives, the first row in front; 1 is that of the settings
    heated : how the sheet is heated by the usual flux; there must be a time for it
    material, thickness_mm, settings : as `heat_sheet`; the heater must be radiant
    rise_c : what a relative heat of the forecast is a share of
    most_heat : least and greatest of those
    tick : called between the parts; may raise to stop

    Returns
    -------
    Zoned
    """
    layer, shares = sheet_layer(material, thickness_mm), np.array(rows)
    low, high = float(shares.min()), float(shares.max())

    def profile(share: float) -> NDArray[np.float64]:
        tick()
        sides = sides_of(settings, _strength(settings, share))
        course = run_slab([layer], *sides, settings.room_c, heated.chosen_s)
        return np.asarray(course.temperature_c[-1])

    def moments(share: float) -> tuple[float, float]:
        tick()
        strength = _strength(settings, share)
        earliest, latest, _ = heating_course(material, thickness_mm, settings, strength).events_s
        return earliest, latest

    weak, strong = profile(low), profile(high)
    if high > low:
        tried = np.union1d(np.linspace(low, high, _SHARES), np.unique(shares)[:_SHARES])
        means = [float(np.trapezoid(one) / (len(one) - 1)) for one in map(profile, tried)]
        mean_c = np.asarray(PchipInterpolator(tried, means)(shares))
    else:
        mean_c = np.full(shares.shape, float(np.trapezoid(weak) / (len(weak) - 1)))
    heats = 1.0 + (mean_c - heated.mean_c) / rise_c
    kept = np.clip(heats, *most_heat)
    return Zoned(
        mean_c=tuple(tuple(float(value) for value in row) for row in mean_c),
        after_s=heated.chosen_s,
        coldest_c=float(weak.min()),
        hottest_c=float(strong.max()),
        earliest_s=moments(low)[0],
        latest_s=moments(high)[1],
        heat_map=map_words(kept.tolist(), digits=4),
        cut_off=bool((kept != heats).any()),
    )


def _strength(settings: HeatingSettings, share: float) -> float:
    """Strength of the heater that gives a share of its flux; a surface radiates with the fourth power."""
    _, usual = settings.strength
    if settings.heater == "radiant":
        return share * usual
    air = (settings.air_c + KELVIN) ** 4
    return float((air + share * ((usual + KELVIN) ** 4 - air)) ** 0.25) - KELVIN
