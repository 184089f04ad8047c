"""How long to heat a sheet, how it sags, how soon it must be on the buck and when the part comes off.

The coldest place must reach the lowest temperature of the forming window before the hottest reaches the
highest. Range ends are taken on the safe side: the high end of the lowest, the low end of the highest.
Conductivity and density are those of the cold solid. Conduction in softened plastic differs by some 20 %
(from memory), and the flux of a heater is seldom known to 30 %: times are a place to begin, the cue decides.

Side of the error: the sheet stays as thick as it was, so cooling is given too long; contact with the buck is
perfect, so it is given too short where air stays between. Radiation is taken up at the surface, though thin
clear sheet lets some through: the spread between surface and core is given too large.
"""

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from buckwright.forming.heating.heated import Heated
from buckwright.forming.heating.settings import HeatingSettings
from buckwright.forming.heating.slab import Course, Face, Layer, between_plates, run_slab
from buckwright.forming.sheets.table import SheetMaterial

__all__ = [
    "after_heating_s",
    "contact_c",
    "heat_sheet",
    "heating_course",
    "in_room",
    "sheet_layer",
    "sides_of",
]

_LONGEST_S = 36_000.0  # what is not reached in ten hours is not reached
_LONGER = 1.5  # house rule
_SHEET_NODES = 41
_BUCK_M = 0.03  # heat of a part goes 10 mm deep at most
_BUCK_NODES, _BUCK_GROWTH = 61, 1.08
_STRONGEST = {"radiant": 100.0, "plate": 1000.0, "oven": 300.0}
"""By heater: the greatest strength that is tried."""

type _Profile = NDArray[np.float64]


def heat_sheet(
    material: SheetMaterial,
    thickness_mm: float,
    settings: HeatingSettings,
    tick: Callable[[], None] = lambda: None,
) -> Heated:
    """Work out heating, carrying and cooling of a sheet.

    Parameters
    ----------
    material, thickness_mm : the flat sheet
    settings : heater, room and buck
    tick : called between the parts; may raise to stop

    Returns
    -------
    Heated
    """
    layer = sheet_layer(material, thickness_mm)
    strength, given = settings.strength
    (earliest, latest), chosen, profile = _ready(layer, material, settings)
    tick()
    least, greatest = _possible(layer, material, settings)
    tick()
    works = math.isfinite(chosen)
    hold, cool = _after(layer, material, settings, profile) if works else (math.nan, math.nan)
    conducts, holds = settings.buck
    return Heated(
        strength=strength,
        given=given,
        least=least,
        greatest=greatest,
        earliest_s=earliest,
        latest_s=latest,
        chosen_s=chosen,
        hottest_c=float(profile.max()),
        coldest_c=float(profile.min()),
        mean_c=_mean(profile),
        sag_share=(material.sag_share.low, material.sag_share.high),
        hold_s=hold,
        cool_s=cool,
        contact_c=contact_c(layer, float(profile[-1]), _buck(settings), settings.buck_c),
        buck_w_mk=conducts,
        buck_kj_m3k=holds,
    )


def after_heating_s(
    material: SheetMaterial, thickness_mm: float, settings: HeatingSettings
) -> tuple[float, float]:
    """For how long the sheet stays warm enough in the air, and its time on the buck until it may come off.

    Parameters
    ----------
    material, thickness_mm, settings : as `heat_sheet`

    Returns
    -------
    float, float : seconds; nan where the sheet cannot be heated so, infinite where the buck is too warm

    Notes
    -----
    The same as `Heated.hold_s` and `Heated.cool_s`, without what else heating works out.
    """
    layer = sheet_layer(material, thickness_mm)
    _, chosen, profile = _ready(layer, material, settings)
    return _after(layer, material, settings, profile) if math.isfinite(chosen) else (math.nan, math.nan)


def _ready(
    layer: Layer, material: SheetMaterial, settings: HeatingSettings
) -> tuple[tuple[float, float], float, _Profile]:
    """Earliest and latest moment, the one to choose (nan if there is none), and the sheet then."""
    course = _heat(layer, material, settings, settings.strength[1])
    earliest, latest, normal = course.events_s
    if not (earliest <= latest and math.isfinite(earliest)):
        return (earliest, latest), math.nan, np.full(layer.nodes, math.nan)
    if not math.isfinite(normal):  # it settles in the window, below the normal temperature
        normal = _LONGER * earliest
    chosen = min(max(normal, earliest), latest)
    return (earliest, latest), chosen, course.at(chosen)


def sheet_layer(material: SheetMaterial, thickness_mm: float) -> Layer:
    """A sheet as a layer; crystals melt between the part's softening and the normal temperature.

    Parameters
    ----------
    material, thickness_mm : the flat sheet

    Returns
    -------
    Layer
    """
    density = material.density_kg_m3.value
    return Layer(
        thickness_m=1e-3 * thickness_mm,
        conductivity_w_mk=material.conductivity_w_mk.value,
        heat_j_m3k=density * material.heat_capacity_j_kgk.value,
        nodes=_SHEET_NODES,
        melting_j_m3=1e3 * density * material.melting_heat_kj_kg.value,
        melting_c=(
            min(material.softening_c.low, material.forming_lowest_c.low),
            material.forming_normal_c.middle,
        ),
    )


def sides_of(settings: HeatingSettings, strength: float) -> tuple[Face, Face]:
    """What both faces of the sheet meet in the heater.

    Parameters
    ----------
    settings : heater and room
    strength : of the heater, in place of the one that is set

    Returns
    -------
    Face, Face : the heated one first
    """
    if settings.heater == "oven":
        hot = in_room(settings, strength)
        return hot, hot if settings.both_sides else Face()
    cold = in_room(settings, settings.air_c)
    if settings.heater == "radiant":
        hot = in_room(settings, settings.air_c, flux_w_m2=1e3 * strength)
    else:
        hot = Face(
            transfer_w_m2k=settings.transfer_w_m2k,
            air_c=settings.air_c,
            emissivity=between_plates(settings.emissivity, settings.emissivity)
            if settings.emissivity
            else 0.0,
            walls_c=strength,
        )
    return hot, hot if settings.both_sides else cold


def contact_c(sheet: Layer, sheet_c: float, buck: Layer, buck_c: float) -> float:
    """Temperature of the face between two bodies just after they touch, by their effusivities.

    Exact while neither feels its far side (Incropera, section 5.7).

    Parameters
    ----------
    sheet, sheet_c : one body and its temperature
    buck, buck_c : the other

    Returns
    -------
    float : in °C
    """
    first, second = (math.sqrt(one.conductivity_w_mk * one.heat_j_m3k) for one in (sheet, buck))
    return (first * sheet_c + second * buck_c) / (first + second)


def _shared_c(sheet: Layer, sheet_c: float, buck: Layer, buck_c: float) -> float:
    """Temperature of the node that both share at the start, so that no heat is made up."""
    first = sheet.spacings()[-1] * float(sheet.capacity(np.array([sheet_c]))[0])
    second = buck.spacings()[0] * buck.heat_j_m3k
    return float((first * sheet_c + second * buck_c) / (first + second))


def in_room(settings: HeatingSettings, room_c: float, *, flux_w_m2: float = 0.0) -> Face:
    """What a face meets in the open: air and walls of one temperature.

    Parameters
    ----------
    settings : heat transfer and emissivity
    room_c : temperature of air and walls
    flux_w_m2 : taken up besides

    Returns
    -------
    Face
    """
    return Face(
        flux_w_m2=flux_w_m2,
        transfer_w_m2k=settings.transfer_w_m2k,
        air_c=room_c,
        emissivity=settings.emissivity,
        walls_c=room_c,
    )


def _mean(profile: _Profile) -> float:
    """Of a layer with equal spacings: the trapezium rule."""
    return float(np.trapezoid(profile) / (len(profile) - 1))


def heating_course(
    material: SheetMaterial, thickness_mm: float, settings: HeatingSettings, strength: float
) -> Course:
    """Course of a sheet in a heater.

    Parameters
    ----------
    material, thickness_mm : the flat sheet
    settings : heater and room
    strength : of the heater, in place of the one that is set

    Returns
    -------
    Course : its events are the earliest, the latest and the best moment
    """
    return _heat(sheet_layer(material, thickness_mm), material, settings, strength)


def _heat(layer: Layer, material: SheetMaterial, settings: HeatingSettings, strength: float) -> Course:
    """Course in the heater; events: the coldest is warm enough, the hottest too hot, the mean normal."""
    return run_slab(
        [layer],
        *sides_of(settings, strength),
        settings.room_c,
        _LONGEST_S,
        questions=(
            lambda profile: float(profile.min()) - material.forming_lowest_c.high,
            lambda profile: float(profile.max()) - material.forming_highest_c.low,
            lambda profile: _mean(profile) - material.forming_normal_c.middle,
        ),
        stop=True,
    )


@lru_cache(maxsize=64)  # most of the work, and the same for all parts of one sheet on one machine
def _possible(layer: Layer, material: SheetMaterial, settings: HeatingSettings) -> tuple[float, float]:
    """Least and greatest strength of the heater with which the sheet can be formed.

    Below the least the coldest place never gets warm enough; above the greatest the hottest gets too hot
    first. Between them the coldest place is warm enough when the hottest is just at its limit.
    """
    limit = _STRONGEST[settings.heater]
    lowest, highest = material.forming_lowest_c.high, material.forming_highest_c.low

    def at_the_end(strength: float) -> float:
        sides = sides_of(settings, strength)
        end = run_slab([layer], *sides, settings.room_c, _LONGEST_S, between=False).temperature_c[-1]
        return float(end.min()) - lowest

    def at_the_limit(strength: float) -> float:
        course = run_slab(
            [layer],
            *sides_of(settings, strength),
            settings.room_c,
            _LONGEST_S,
            questions=(lambda profile: float(profile.max()) - highest,),
            stop=True,
            between=False,
        )
        return float(course.temperature_c[-1].min()) - lowest

    weak = 1e-3 if settings.heater == "radiant" else settings.room_c
    if at_the_end(limit) < 0.0:
        return math.nan, math.nan
    least = weak if at_the_end(weak) >= 0.0 else brentq(at_the_end, weak, limit, xtol=1e-4, rtol=1e-4)
    least *= 1.0 + 1e-3  # a hair inside
    if at_the_limit(least) < 0.0:
        return math.nan, math.nan
    if at_the_limit(limit) >= 0.0:
        return float(least), math.inf
    return float(least), float(brentq(at_the_limit, least, limit, xtol=1e-4, rtol=1e-4))


def _buck(settings: HeatingSettings) -> Layer:
    conducts, holds = settings.buck
    return Layer(
        thickness_m=_BUCK_M,
        conductivity_w_mk=conducts,
        heat_j_m3k=1e3 * holds,
        nodes=_BUCK_NODES,
        growth=_BUCK_GROWTH,
    )


def _after(
    layer: Layer, material: SheetMaterial, settings: HeatingSettings, profile: _Profile
) -> tuple[float, float]:
    """Time in the air until the sheet is too cold; time on the buck until the part may be taken off."""
    room = in_room(settings, settings.room_c)
    lowest = material.forming_lowest_c.high
    in_air = run_slab(
        [layer],
        room,
        room,
        profile,
        max(_LONGEST_S, settings.carry_s),
        questions=(lambda now: lowest - float(now.min()),),
    )
    carried = in_air.at(settings.carry_s)
    buck = _buck(settings)
    start = np.concatenate([carried, np.full(buck.nodes - 1, settings.buck_c)])
    start[layer.nodes - 1] = _shared_c(layer, float(carried[-1]), buck, settings.buck_c)
    on_buck = run_slab(
        [layer, buck],
        room,
        Face(),
        start,
        _LONGEST_S,
        questions=(lambda now: material.release_c.value - float(now[: layer.nodes].max()),),
        stop=True,
    )
    return in_air.events_s[0], on_buck.events_s[0]
