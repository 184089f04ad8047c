"""Which colour stands for which value: the colour maps of the library, their ranges, ramps and ticks.

The same colours as in the pictures (the library's `output/canvas/palette.py`; drafts on matplotlib's cividis,
Nuñez, Anderton, Renslow 2018, doi 10.1371/journal.pone.0199239: even in lightness, safe for the common
colour-vision deficiencies). Dark is always the side that needs care. This module must not import Blender.
"""

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from ..bridge.library import STATE_COLOURS, ColorMap, color_maps

__all__ = [
    "CLEARANCE",
    "DRAFT",
    "FORMED",
    "NOT_JUDGED",
    "QUANTITIES",
    "STATE",
    "STATE_WORDS",
    "THICKNESS",
    "TRAPPED",
    "colours",
    "form_shade",
    "identifier_of",
    "limits",
    "quantities",
    "ramp",
    "state_colour",
    "ticks",
]

STATE_WORDS = ("Free", "Tight", "Trapped")
TRAPPED = 2
NOT_JUDGED = 3
"""First state that gets no colour of its own: base or dropped at the door."""
_SHALLOWEST = 0.80
"""Part of cividis that depths use: its lightest fifth would read like `free` in grey."""
_NODES = np.array([0, 21, 23, 28, 34, 52, 84, 126, 148, 179, 205, 232, 242, 251, 255]) / 255.0
_CIVIDIS = np.array([
    (0.0, 0.135, 0.305), (0.0, 0.191, 0.441), (0.004, 0.196, 0.442), (0.069, 0.209, 0.439),
    (0.118, 0.226, 0.434), (0.213, 0.275, 0.424), (0.339, 0.362, 0.428), (0.482, 0.48, 0.47),
    (0.563, 0.544, 0.47), (0.684, 0.639, 0.444), (0.79, 0.724, 0.397), (0.906, 0.818, 0.313),
    (0.95, 0.855, 0.265), (0.992, 0.888, 0.205), (0.996, 0.909, 0.218),
])  # fmt: skip
"""Nodes between which straight lines stay within 0.008 of the ramp (tests/blender/test_overlay_ramps.py)."""

_LIGHT = np.array([-0.55, -0.62, 0.56], np.float32)
_DARKEST = 0.62
"""Brightness of faces turned away from the light, so that form can be read under the colour."""


def quantities(declared: Iterable[ColorMap]) -> dict[str, ColorMap]:
    """Colour maps of the library by the identifiers that Blender knows them by."""
    return {identifier_of(one.array): one for one in declared}


def identifier_of(array: str) -> str:
    """Identifier of the colour map of an array."""
    return array.upper()


QUANTITIES = quantities(color_maps().values())
"""What faces can be coloured by; the first is chosen in a new scene."""
FORMED = ("thickness_mm", "contact_order")
"""Arrays of what the sheet is like, which come with a forecast."""
DRAFT, STATE, THICKNESS, CLEARANCE = (
    QUANTITIES[identifier_of(one)] for one in ("draft_deg", "state", "thickness_mm", "clearance_mm")
)
_ROOMY_MM = 20.0
"""Clearances end here: what is roomier is no matter. House rule."""


def state_colour(state: int) -> tuple[float, float, float]:
    """Colour of a state, sRGB 0..1."""
    return STATE_COLOURS[state]


def ramp(quantity: ColorMap, shares: NDArray[np.floating]) -> NDArray[np.float32]:
    """Colours (N, 3) of places 0..1 along the range of a quantity; beyond it those of its ends."""
    places = np.clip(np.asarray(shares, np.float64), 0.0, 1.0)
    if quantity.dark == "high":
        places = 1.0 - places
    if quantity.unit != "deg":
        places = places * _SHALLOWEST
    return np.stack([np.interp(places, _NODES, _CIVIDIS[:, k]) for k in range(3)], axis=-1).astype(np.float32)


def limits(
    quantity: ColorMap, values: NDArray[np.floating], *, wanted_deg: float, sheet_mm: float = 0.0
) -> tuple[float, float]:
    """Lowest and highest value of the ramp.

    Parameters
    ----------
    values : (F,) values, nan where there are none
    wanted_deg : drafts are shown from -2 to 8 times the wanted draft, as in the pictures
    sheet_mm : thickness of the sheet before forming, 0 where it is not known

    Returns
    -------
    lowest < highest; from zero for depths and distances, and for a clearance up to what one face in ten
    exceeds; for a thickness, which is never zero, all but the lowest hundredth of the faces, up to the
    sheet's own thickness, or without the highest hundredth where
    that is not known; (0, 1) for shares and where nothing is to be shown.
    """
    if quantity.unit == "deg":
        wanted = max(wanted_deg, 0.5)
        return -2.0 * wanted, 8.0 * wanted
    if quantity.unit == "":
        return 0.0, 1.0
    known = values[np.isfinite(values)]
    if quantity == CLEARANCE and len(known):
        return 0.0, _round_up(min(float(np.percentile(known, 90.0)), _ROOMY_MM))
    if _is_never_zero(quantity) and len(known):
        least, most = np.percentile(known, (1.0, 99.0)).tolist()
        return _below(least, sheet_mm) if sheet_mm > 0.0 else _spread(least, most)
    return 0.0, _round_up(float(known.max())) if len(known) else 1.0


def _is_never_zero(quantity: ColorMap) -> bool:
    """A length that needs care where it is small is that of something that is there: a thickness."""
    return quantity.unit == "mm" and quantity.dark == "low" and quantity != CLEARANCE


def _spread(least: float, most: float) -> tuple[float, float]:
    """Four plain steps that hold both values."""
    step = _round_up(max(most - least, 0.02 * most, 1e-6) / 4.0)
    lowest = math.floor(least / step + 1e-6) * step
    while lowest + 4.0 * step < most * (1.0 - 1e-6):
        step = _round_up(step * 1.01)
        lowest = math.floor(least / step + 1e-6) * step
    return lowest, lowest + 4.0 * step


def _below(least: float, most: float) -> tuple[float, float]:
    """Four plain steps down from the greatest value that hold the least, as far as they do not pass zero."""
    step = _round_up(max(most - least, 0.1 * most) / 4.0)
    return max(most - 4.0 * step, 0.0), most


def _round_up(most: float) -> float:
    """The next of 1, 1.5, 2, 3, 4, 5, 6, 8 times a power of ten."""
    if most <= 0.0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(most))
    steps = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
    return next((step * power for step in steps if step * power >= most * (1.0 - 1e-6)), 10.0 * power)


def ticks(
    quantity: ColorMap, lowest: float, highest: float, *, wanted_deg: float, sheet_mm: float = 0.0
) -> list[tuple[float, str]]:
    """Values that the legend names, each with a note (often empty), lowest first."""
    if quantity.unit == "deg":
        wanted = max(wanted_deg, 0.5)
        notes = {-2.0: "or less", 0.0: "upright", 1.0: "wanted", 8.0: "or more"}
        return [(k * wanted, notes.get(k, "")) for k in (-2.0, 0.0, 1.0, 2.0, 4.0, 6.0, 8.0)]
    if _is_never_zero(quantity) and highest == sheet_mm:
        return [*_plain_ticks(lowest, highest), (highest, "unformed")]
    ends = {0: "or less" if lowest > 0.0 else "", 4: "or more"} if _is_never_zero(quantity) else {}
    if quantity == CLEARANCE:
        ends = {0: "touches", 4: "or more"}
    return [(lowest + (highest - lowest) * k / 4, ends.get(k, "")) for k in range(5)]


def _plain_ticks(lowest: float, highest: float) -> list[tuple[float, str]]:
    """The lowest value and plain steps up from it, as far as they leave room below the highest."""
    step = _round_up((highest - lowest) / 4.0)
    values = [lowest + k * step for k in range(4)]
    note = "or less" if lowest > 0.0 else ""
    return [(value, "" if k else note) for k, value in enumerate(values) if value < highest - 0.6 * step]


def colours(
    quantity: ColorMap,
    values: NDArray[np.generic],
    *,
    lowest: float,
    highest: float,
    shade: NDArray[np.float32] | None = None,
    strength: float = 1.0,
) -> NDArray[np.uint8]:
    """Colour and cover of every face.

    Parameters
    ----------
    values : (F,) states (0 free, 1 tight, 2 trapped, else not judged) or numbers, nan where there are none
    lowest, highest : range of the ramp
    shade : (F,) from `form_shade`, multiplies the colours
    strength : cover, 0..1

    Returns
    -------
    (F, 4) uint8; faces that are not judged get a cover of 0.

    Notes
    -----
    Numbers go through a table of 1022 colours: one pass, whatever the ramp.
    """
    if quantity == STATE:
        table = np.array(STATE_COLOURS[:NOT_JUDGED], np.float32)
        states = values.astype(np.int32, copy=False)
        judged = (states >= 0) & (states < NOT_JUDGED)
        place = np.where(judged, states, 0).astype(np.uint16)
    else:
        table = ramp(quantity, np.linspace(0.0, 1.0, 1022))
        numbers = values.astype(np.float32, copy=False)
        judged = np.isfinite(numbers)
        place = _places(numbers, judged, lowest, highest, len(table))
        if quantity.zero_is_free:
            table = np.vstack([table, np.array(STATE_COLOURS[:1], np.float32)])
            place[judged & (numbers <= 0.0)] = len(table) - 1
    painted = np.empty((len(place), 4), np.uint8)
    bright = 255.0 if shade is None else shade * np.float32(255.0)
    for k in range(3):
        painted[:, k] = table[:, k].take(place) * bright
    painted[:, 3] = judged * np.uint8(round(255 * strength))
    return painted


def _places(
    numbers: NDArray[np.float32], judged: NDArray[np.bool_], lowest: float, highest: float, count: int
) -> NDArray[np.uint16]:
    scale = np.float32((count - 1) / (highest - lowest))
    spread = (numbers - np.float32(lowest)) * scale
    np.clip(spread, 0.0, count - 1, out=spread)
    spread[~judged] = 0.0
    return spread.astype(np.uint16)


def form_shade(normals: NDArray[np.float32]) -> NDArray[np.float32]:
    """Brightness (F,) of faces with the given unit normals (F, 3) under a soft light from the upper left."""
    light = _LIGHT / np.linalg.norm(_LIGHT)
    turned = normals @ light
    return np.float32(_DARKEST) + np.float32((1.0 - _DARKEST) / 2) * (turned + np.float32(1.0))
