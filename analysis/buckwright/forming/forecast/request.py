"""What a forecast may be asked: checks at its door, and the defaults that follow from the relief."""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buckwright.errors import InputError
from buckwright.forming.forecast.landing import LandingSurface
from buckwright.forming.forecast.membrane import Law, laws
from buckwright.forming.forecast.sheet_grid import place_in_frame, rectangle
from buckwright.relief.raster import Relief

__all__ = [
    "MOST_FRICTION",
    "RADIUS_PULL",
    "STANDARD_NODES",
    "Height",
    "check_model",
    "check_settings",
    "gap_to_frame_mm",
    "law_of",
    "outline_of",
    "pressure_per_mm",
    "vents_of",
]

type Height = Callable[[NDArray[np.float64]], ArrayLike]

MOST_FRICTION = 2.0  # judgement: with more the sheet sticks in all but name
STANDARD_NODES = {"preview": 5_000, "fine": 20_000}
RADIUS_PULL = (
    2.0  # pull of the sheet over modulus and thickness in a fillet that is stretched twofold: s - s^-3
)


def check_settings(sheet_mm: float, sag_mm: float, foot_mm: float, quality: str) -> None:
    """Refuse numbers and words that no sheet can have.

    Raises
    ------
    InputError
        It cannot be used.
    """
    if not (math.isfinite(sheet_mm) and sheet_mm > 0.0):
        raise InputError(f"the sheet must be thicker than 0 mm, got {sheet_mm}")
    if not (math.isfinite(sag_mm) and sag_mm >= 0.0):
        raise InputError(f"the sag is at least 0 mm, got {sag_mm}")
    if not (math.isfinite(foot_mm) and foot_mm >= 0.0):
        raise InputError(f"the height of the foot is at least 0 mm, got {foot_mm}")
    if quality not in STANDARD_NODES:
        raise InputError(f"the quality is one of {', '.join(STANDARD_NODES)}, got {quality!r}")


def check_model(model: str, sag_mm: float, vents_mm: ArrayLike | None, friction: float | None) -> None:
    """Refuse a model that is not there, and what the simpler one cannot answer.

    Raises
    ------
    InputError
        It cannot be used.
    """
    if model not in ("membrane", "geometric"):
        raise InputError(f"the model is 'membrane' or 'geometric', got {model!r}")
    if friction is not None and not 0.0 <= friction <= MOST_FRICTION:
        raise InputError(f"friction lies from 0 to {MOST_FRICTION:g}, got {friction}")
    if model == "geometric" and (sag_mm > 0.0 or vents_mm is not None or friction is not None):
        raise InputError(
            "the geometric model knows no sag, no vents and no friction: leave them out, or ask the membrane"
        )


def law_of(law: str | Law) -> Law:
    """The law by its name.

    Raises
    ------
    InputError
        It cannot be used.
    """
    if isinstance(law, Law):
        return law
    known = laws()
    if law not in known:
        raise InputError(f"no law of the sheet is called {law!r}; known: {', '.join(known)}")
    return known[law]


def pressure_per_mm(
    sheet_mm: float, radius_mm: float, cell_mm: float, pressure_pa: float | None, modulus_pa: float | None
) -> float:
    """Last pressure difference over modulus and thickness, 1/mm.

    Raises
    ------
    InputError
        It cannot be used.
    """
    if not (math.isfinite(radius_mm) and radius_mm > 0.0):
        raise InputError(f"the sharpest radius must be over 0 mm, got {radius_mm}")
    if (pressure_pa is None) != (modulus_pa is None):
        raise InputError("give both the pressure difference and the modulus of the hot sheet, or neither")
    if pressure_pa is not None and modulus_pa is not None:
        if not (0.0 < pressure_pa < math.inf and 0.0 < modulus_pa < math.inf):
            raise InputError(f"pressure and modulus must be over 0, got {pressure_pa} and {modulus_pa} Pa")
        radius_mm = RADIUS_PULL * modulus_pa * sheet_mm / pressure_pa
    return RADIUS_PULL / max(radius_mm, 0.5 * cell_mm)


def outline_of(relief: Relief | Height, frame_mm: tuple[float, float] | ArrayLike) -> NDArray[np.float64]:
    """Corners of the frame, (P, 2): round the middle of the buck when only its size is given.

    Raises
    ------
    InputError
        A side is not over 0.
    """
    frame = np.asarray(frame_mm, np.float64)
    if frame.ndim == 2 and frame.shape[1] == 2 and len(frame) >= 3 and np.isfinite(frame).all():
        return frame
    if frame.shape != (2,):
        raise InputError(f"a frame is a width and a depth, or an outline (P, 2), got the shape {frame.shape}")
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
    """Least way from buck to frame; refuses a frame that does not go round it."""
    rows, columns = np.nonzero(ground.on_buck)
    if not len(rows):
        raise InputError("there is nothing over the platen to form over: is the buck below z = 0?")
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
            f"the frame of {frame[0]:.0f} x {frame[1]:.0f} mm does not go round the buck of "
            f"{size[0]:.0f} x {size[1]:.0f} mm; choose a larger frame, or move or turn the buck"
        )
    return float(away.min()) - 0.5 * ground.pixel_mm


def vents_of(vents_mm: ArrayLike | None) -> NDArray[np.float64] | None:
    """Places of the vents (V, 2+); None stays None, an empty list means that there are none.

    Raises
    ------
    InputError
        They are no finite places.
    """
    if vents_mm is None:
        return None
    vents = np.asarray(vents_mm, np.float64)
    if vents.size == 0:
        return np.empty((0, 2))
    vents = np.atleast_2d(vents)
    if vents.ndim != 2 or vents.shape[1] < 2 or not np.isfinite(vents).all():
        raise InputError(f"vents are finite places (V, 2) or (V, 3), got the shape {vents.shape}")
    return vents
