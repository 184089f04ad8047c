"""The inputs of a forecast: checks at its door, and the defaults that follow from the relief."""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import binary_erosion

from buckwright.errors import InputError
from buckwright.forming.forecast.heat_map import EVEN, check_heat_map
from buckwright.forming.forecast.landing import LandingSurface
from buckwright.forming.forecast.membrane import Law, laws
from buckwright.forming.forecast.sheet_grid import place_in_frame, rectangle
from buckwright.relief.raster import Relief

__all__ = [
    "CELL_SHARE",
    "HOT_MODULUS_PA",
    "MOST_COLDER_C",
    "MOST_FRICTION",
    "RADIUS_PULL",
    "STANDARD_NODES",
    "VACUUM_PA",
    "Height",
    "check_heat",
    "check_model",
    "check_settings",
    "check_slip",
    "finest_of",
    "gap_to_frame_mm",
    "law_of",
    "outline_of",
    "pixel_of",
    "pressure_per_mm",
    "vents_of",
]

CELL_SHARE = {"preview": 1.0, "fine": 0.5}
"""Finest cell over the sharpest radius. From half of it on the weakest spot of a heron stays the same."""
_PIXELS_A_CELL = 8
_MOST_PIXELS = 2000  # along a side of the frame

type Height = Callable[[NDArray[np.float64]], ArrayLike]

MOST_COLDER_C = 30.0  # judgement: a colder rim does not stretch at all
MOST_FRICTION = 2.0  # judgement: with more the sheet in effect sticks
STANDARD_NODES = {"preview": 2_500, "fine": 10_000}
RADIUS_PULL = (
    2.0  # pull of the sheet over modulus and thickness in a fillet that is stretched twofold: s - s^-3
)
VACUUM_PA = 91_325.0
"""Pressure difference of a pump that leaves 10 kPa of a standard atmosphere."""
HOT_MODULUS_PA = 45_000.0
"""Shear modulus of the hot sheet: house rule, no measured value was found.

With it a good vacuum leaves a radius of the sheet's own thickness, which is the trade's rule of thumb (common
practice, no source). It falls with temperature: a cooler sheet is stiffer, and its corners rounder."""


def check_settings(sheet_mm: float, sag_mm: float, foot_mm: float, quality: str) -> None:
    """Refuse settings that no sheet can have.

    Parameters
    ----------
    sheet_mm : thickness before forming, > 0
    sag_mm, foot_mm : >= 0
    quality : 'preview' or 'fine'

    Raises
    ------
    InputError
        A number is out of range or not finite, or the quality is unknown.
    """
    if not (math.isfinite(sheet_mm) and sheet_mm > 0.0):
        raise InputError(f"the sheet must be thicker than 0 mm, got {sheet_mm}")
    if not (math.isfinite(sag_mm) and sag_mm >= 0.0):
        raise InputError(f"the sag must be at least 0 mm, got {sag_mm}")
    if not (math.isfinite(foot_mm) and foot_mm >= 0.0):
        raise InputError(f"the height of the foot must be at least 0 mm, got {foot_mm}")
    if quality not in STANDARD_NODES:
        raise InputError(f"the quality must be one of {', '.join(STANDARD_NODES)}, got {quality!r}")


def check_model(model: str, sag_mm: float, vents_mm: ArrayLike | None, friction: float | None) -> None:
    """Refuse an unknown model, and settings that the simpler one does not support.

    Parameters
    ----------
    model : 'membrane' or 'geometric'
    sag_mm : 0 for the geometric model
    vents_mm : None for the geometric model
    friction : 0 to `MOST_FRICTION`, or None; None for the geometric model

    Raises
    ------
    InputError
        The model is unknown, the friction is out of range, or the geometric model is asked for more.
    """
    if model not in ("membrane", "geometric"):
        raise InputError(f"the model must be 'membrane' or 'geometric', got {model!r}")
    if friction is not None and not 0.0 <= friction <= MOST_FRICTION:
        raise InputError(f"friction must be between 0 and {MOST_FRICTION:g}, got {friction}")
    if model == "geometric" and (sag_mm > 0.0 or vents_mm is not None or friction is not None):
        raise InputError(
            "the geometric model does not support sag, vents or friction: leave them out, or use the "
            "membrane model"
        )


def check_heat(model: str, rim_colder_c: float, heat_map: str) -> None:
    """Refuse heat that no sheet can have, and what the simpler model does not support.

    Parameters
    ----------
    model : 'membrane' or 'geometric'
    rim_colder_c : 0 to `MOST_COLDER_C`; 0 for the geometric model
    heat_map : see `heat_map.rows_of`; empty for the geometric model

    Raises
    ------
    InputError
        A value is out of range, or the geometric model is asked for more.
    """
    if not 0.0 <= rim_colder_c <= MOST_COLDER_C:
        raise InputError(f"the rim may be colder by 0 to {MOST_COLDER_C:g} °C, got {rim_colder_c}")
    check_heat_map(heat_map)
    if model == "geometric" and (rim_colder_c or heat_map.strip() != EVEN):
        raise InputError("the geometric model knows no heat: leave it out, or use the membrane model")


def check_slip(friction: float | None, sticks_after: float | None) -> None:
    """Refuse a slip that ends of a sheet that does not slide.

    Parameters
    ----------
    friction : the coefficient, or None
    sticks_after : share of the frame's way, > 0, or None

    Raises
    ------
    InputError
        It is not above 0, or no friction is given.
    """
    if sticks_after is None:
        return
    if friction is None:
        raise InputError("sticks_after is said of a sheet that slides: give friction as well")
    if not (math.isfinite(sticks_after) and sticks_after > 0.0):
        raise InputError(f"sticks_after must be above 0, got {sticks_after}")


def law_of(law: str | Law) -> Law:
    """The law by its name.

    Parameters
    ----------
    law : name of a law (see `membrane.laws`), or a Law, which is returned as it is

    Returns
    -------
    Law

    Raises
    ------
    InputError
        No law has that name.
    """
    if isinstance(law, Law):
        return law
    known = laws()
    if law not in known:
        raise InputError(f"there is no sheet law {law!r}; choose one of {', '.join(known)}")
    return known[law]


def pressure_per_mm(
    sheet_mm: float, radius_mm: float | None, pressure_pa: float | None, modulus_pa: float | None
) -> float:
    """Final pressure difference over modulus and thickness.

    Parameters
    ----------
    sheet_mm : thickness before forming, > 0
    radius_mm : sharpest radius at full vacuum, > 0; None: what pressure and modulus give
    pressure_pa, modulus_pa : pressure difference and shear modulus of the hot sheet, > 0; None: `VACUUM_PA`
        and `HOT_MODULUS_PA`

    Returns
    -------
    float : 1/mm, > 0

    Raises
    ------
    InputError
        A value is not positive, or a radius is given as well as a pressure or modulus.
    """
    if radius_mm is not None:
        if not (math.isfinite(radius_mm) and radius_mm > 0.0):
            raise InputError(f"the sharpest radius must be above 0 mm, got {radius_mm}")
        if pressure_pa is not None or modulus_pa is not None:
            raise InputError(
                "give either the sharpest radius, or pressure and modulus of the hot sheet, not both"
            )
        return RADIUS_PULL / radius_mm
    pressure = VACUUM_PA if pressure_pa is None else pressure_pa
    modulus = HOT_MODULUS_PA if modulus_pa is None else modulus_pa
    if not (0.0 < pressure < math.inf and 0.0 < modulus < math.inf):
        raise InputError(f"pressure and modulus must be above 0, got {pressure} and {modulus} Pa")
    return pressure / (modulus * sheet_mm)


def finest_of(finest_mm: float | None, radius_mm: float, *, quality: str, model: str) -> float:
    """Length of cell down to which a sheet is split.

    Parameters
    ----------
    finest_mm : as asked, > 0; None: by the sharpest radius and the quality
    radius_mm : the sharpest radius
    quality : 'preview' or 'fine'
    model : the geometric one is not split

    Returns
    -------
    float : mm; infinite where nothing is split

    Raises
    ------
    InputError
        The length is not over 0.
    """
    if finest_mm is not None and not finest_mm > 0.0:
        raise InputError(f"the finest cell must be longer than 0 mm, got {finest_mm}")
    if model == "geometric":
        return math.inf
    return CELL_SHARE[quality] * radius_mm if finest_mm is None else finest_mm


def pixel_of(bounds_xy: NDArray[np.float64], finest_mm: float) -> float:
    """Pixel with which a function of heights is read.

    Parameters
    ----------
    bounds_xy : (2, 2) float64, mm, corners of the frame
    finest_mm : length of the shortest cells

    Returns
    -------
    float : mm
    """
    return max(finest_mm / _PIXELS_A_CELL, float(np.ptp(bounds_xy, axis=0).max()) / _MOST_PIXELS)


def outline_of(relief: Relief | Height, frame_mm: tuple[float, float] | ArrayLike) -> NDArray[np.float64]:
    """Corners of the frame; centred on the buck when only its size is given.

    Parameters
    ----------
    relief : the buck
    frame_mm : (width, depth) or outline (P, 2), mm

    Returns
    -------
    (P, 2) float64, mm

    Raises
    ------
    InputError
        A side is not over 0, or the shape is neither of the two.
    """
    frame = np.asarray(frame_mm, np.float64)
    if frame.ndim == 2 and frame.shape[1] == 2 and len(frame) >= 3 and np.isfinite(frame).all():
        return frame
    if frame.shape != (2,):
        raise InputError(
            f"a frame must be a width and a depth, or an outline (P, 2), got the shape {frame.shape}"
        )
    if not (np.isfinite(frame).all() and (frame > 0.0).all()):
        raise InputError(f"the frame must be wider and deeper than 0 mm, got {frame.tolist()}")
    middle = np.zeros(2)
    if isinstance(relief, Relief):
        ends = relief.raised_pixels()
        if ends is not None:
            middle = relief.origin + ends.mean(0) * relief.pixel_mm
    return rectangle(*frame) + middle


def gap_to_frame_mm(
    ground: LandingSurface, outline: NDArray[np.float64], machine_height_mm: float | None
) -> float:
    """Smallest distance from buck to frame.

    Parameters
    ----------
    ground : buck and platen
    outline : (P, 2) float64, mm, the frame
    machine_height_mm : greatest height that the machine takes, or None

    Returns
    -------
    float : mm

    Raises
    ------
    InputError
        There is no buck, it is too tall, or the frame does not surround it.
    """
    # the way to the frame is least from a pixel of the rim, and that of no other can lie outside alone
    rows, columns = np.nonzero(ground.on_buck & ~binary_erosion(ground.on_buck, np.ones((3, 3), np.bool_)))
    if not len(rows):
        raise InputError("nothing stands above the platen: is the buck below z = 0?")
    if machine_height_mm is not None and ground.top_mm > machine_height_mm:
        raise InputError(
            f"the buck is {ground.top_mm:.1f} mm tall, the machine takes {machine_height_mm:.1f} mm: "
            "lower the riser, scale the part or turn it"
        )
    places = ground.origin + (np.stack([columns, rows], axis=1) + 0.5) * ground.pixel_mm
    inside, away = place_in_frame(outline, places)
    if not inside.all():
        size = np.ptp(places, axis=0) + ground.pixel_mm
        frame = np.ptp(outline, axis=0)
        raise InputError(
            f"the frame of {frame[0]:.0f} x {frame[1]:.0f} mm does not surround the buck of "
            f"{size[0]:.0f} x {size[1]:.0f} mm; choose a larger frame, or move or turn the buck"
        )
    return float(away.min()) - 0.5 * ground.pixel_mm


def vents_of(vents_mm: ArrayLike | None) -> NDArray[np.float64] | None:
    """Vents as an array; None stays None, an empty list means that there are none.

    Parameters
    ----------
    vents_mm : (V, 2 or more) mm, or None

    Returns
    -------
    (V, 2 or more) float64, mm, or None

    Raises
    ------
    InputError
        The vents are not finite points.
    """
    if vents_mm is None:
        return None
    vents = np.asarray(vents_mm, np.float64)
    if vents.size == 0:
        return np.empty((0, 2))
    vents = np.atleast_2d(vents)
    if vents.ndim != 2 or vents.shape[1] < 2 or not np.isfinite(vents).all():
        raise InputError(f"vents must be finite places (V, 2) or (V, 3), got the shape {vents.shape}")
    return vents
