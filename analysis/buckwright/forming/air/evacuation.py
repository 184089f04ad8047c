"""How long the air under the sheet takes to leave through its vents. Knows nothing of where the vents are.

All pressures are absolute. Air is an ideal gas that keeps its temperature, and the volume is taken as
constant although the sheet sinks into it while it evacuates: the times are upper estimates.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buckwright.atmosphere import ATMOSPHERE_PA
from buckwright.errors import InputError

__all__ = [
    "ATMOSPHERE_PA",
    "CRITICAL_RATIO",
    "DRILLED_DISCHARGE",
    "GAS_CONSTANT",
    "HEAT_RATIO",
    "PUMP_PLENUM_PA",
    "ROOM_K",
    "drilled_discharge",
    "evacuation_time_s",
    "through_vents_s",
]

ROOM_K = 293.15  # reference temperature of ISO 6358-1:2013
GAS_CONSTANT = 287.05  # J/(kg K), dry air
HEAT_RATIO = 1.4  # dry air at room temperature

CRITICAL_RATIO = (2.0 / (HEAT_RATIO + 1.0)) ** (
    HEAT_RATIO / (HEAT_RATIO - 1.0)
)  # 0.5283; below it flow chokes
_CHOKED = math.sqrt(HEAT_RATIO / GAS_CONSTANT) * (2.0 / (HEAT_RATIO + 1.0)) ** (
    (HEAT_RATIO + 1.0) / (2.0 * (HEAT_RATIO - 1.0))
)  # 0.040415 sqrt(K) s/m

PUMP_PLENUM_PA = (
    ATMOSPHERE_PA - 84_660.0
)  # 25 inHg below the atmosphere: Machine Design, scenic panels (read)

DRILLED_DISCHARGE = 0.8  # short drilled hole, 2 to 4 diameters long (from memory)
_SHARP_EDGE = 0.61  # hole shorter than its diameter: the jet does not reattach to the wall (from memory)
_ENTRY_AND_EXIT_LOSS = 1.5  # velocity heads: 0.5 sharp entry + 1 exit (from memory)
_FRICTION = 0.031  # Darcy factor, Blasius at Re = 10 600: a choked 0.8 mm hole (from memory)


def drilled_discharge(length_mm: ArrayLike, diameter_mm: ArrayLike) -> NDArray[np.float64]:
    """Discharge coefficient of a straight hole: 1 / sqrt(entry + exit + friction x length / diameter).

    Parameters
    ----------
    length_mm : >= 0; number or array. The wide back-bore does not count as length
    diameter_mm : > 0; broadcast against the length

    Returns
    -------
    float64 array : 0 to 1

    Raises
    ------
    InputError
        A length is negative or a diameter not positive.

    Notes
    -----
    The loss coefficients are those of slow flow, all from memory: 0.80 at two diameters, 0.74 at ten, 0.61
    when the hole is shorter than its diameter. Choked flow loses a little less, so the value errs on the safe
    side.

    Examples
    --------
    >>> round(float(drilled_discharge(2.0, 1.0)), 2), round(float(drilled_discharge(10.0, 1.0)), 2)
    (0.8, 0.74)
    """
    length, diameter = np.asarray(length_mm, np.float64), np.asarray(diameter_mm, np.float64)
    if not (np.all(length >= 0.0) and np.all(diameter > 0.0)):
        raise InputError("a hole needs a diameter above 0 mm and a length of at least 0 mm")
    slender = length / diameter
    return np.where(slender < 1.0, _SHARP_EDGE, 1.0 / np.sqrt(_ENTRY_AND_EXIT_LOSS + _FRICTION * slender))


def evacuation_time_s(
    volume_mm3: ArrayLike,
    area_mm2: ArrayLike,
    *,
    discharge: ArrayLike = DRILLED_DISCHARGE,
    start_pa: float = ATMOSPHERE_PA,
    target_pa: float = 0.2 * ATMOSPHERE_PA,
    plenum_pa: float = PUMP_PLENUM_PA,
    temperature_k: float = ROOM_K,
) -> NDArray[np.float64]:
    """Time until trapped air has fallen to a target pressure, leaving through an orifice into a plenum.

    Parameters
    ----------
    volume_mm3 : trapped air, >= 0; a number or an array
    area_mm2 : total hole area, >= 0; infinite time where it is zero and there is air
    discharge : discharge coefficient, > 0, see `drilled_discharge`
    start_pa, target_pa, plenum_pa : absolute; plenum <= target <= start, 0 < target; the plenum pressure is
        constant
    temperature_k : of the air, constant

    Returns
    -------
    float64 array of the broadcast shape : seconds

    Raises
    ------
    InputError
        The pressures are out of order (with a plenum above the target it is never reached), or a size is
        negative.

    Notes
    -----
    V dp/dt = -R T x flow gives t = V / (Cd A K) x integral of dp / (p share), K = R sqrt(T) x 0.040415, which
    is 198.6 m/s at room temperature. While choked, share = 1 and the integral is a logarithm; below,
    quadrature in u = sqrt(1 - plenum/p), which removes the end singularity.

    Examples
    --------
    Ten times the air takes ten times as long:

    >>> import math
    >>> hole_mm2 = math.pi / 4.0
    >>> one, ten = (float(evacuation_time_s(volume, hole_mm2)) for volume in (1e4, 1e5))
    >>> round(ten / one, 6), 0.1 < one < 0.2
    (10.0, True)
    """
    volume, area, coefficient = (np.asarray(x, np.float64) for x in (volume_mm3, area_mm2, discharge))
    if np.any(volume < 0.0) or np.any(area < 0.0) or np.any(coefficient <= 0.0):
        raise InputError("volume and area must be at least 0, the discharge coefficient above 0")
    speed_m_s = _CHOKED * GAS_CONSTANT * math.sqrt(temperature_k)
    flow = coefficient * area * speed_m_s * 1e3
    with np.errstate(divide="ignore", invalid="ignore"):
        seconds = volume / flow * _logarithms(start_pa, target_pa, plenum_pa)
    return np.where(volume == 0.0, 0.0, seconds)


def through_vents_s(
    volumes_mm3: NDArray[np.float64],
    count: NDArray[np.integer] | NDArray[np.floating],
    *,
    hole_mm2: float,
    skin_mm: float,
    target_share: float,
    plenum_kpa: float,
) -> list[float]:
    """Seconds to bring pockets from an atmosphere to a share of one through drilled vents.

    Parameters
    ----------
    volumes_mm3 : (P,) float64, air in each pocket
    count : (P,), vents in each; a vent with half the opening counts as half
    hole_mm2 : open area of one vent
    skin_mm : length of its narrow part
    target_share : share of an atmosphere that may be left, 0..1
    plenum_kpa : absolute pressure under the platen

    Returns
    -------
    One number for each pocket, inf where it has no vent; upper estimates (see the module)
    """
    across = 2.0 * np.sqrt(hole_mm2 / np.pi)
    discharge = float(drilled_discharge(skin_mm, across))
    seconds = np.full(len(volumes_mm3), np.inf)
    served = count > 0
    seconds[served] = evacuation_time_s(
        volumes_mm3[served],
        count[served] * hole_mm2,
        discharge=discharge,
        target_pa=target_share * ATMOSPHERE_PA,
        plenum_pa=plenum_kpa * 1e3,
    )
    return [float(value) for value in seconds]


def _share_of_choked(ratio: NDArray[np.float64]) -> NDArray[np.float64]:
    """Isentropic flow at a pressure ratio over the choked flow, 0 to 1."""
    throat = np.maximum(ratio, CRITICAL_RATIO)
    k = HEAT_RATIO
    squared = 2.0 * k / (GAS_CONSTANT * (k - 1.0)) * (throat ** (2.0 / k) - throat ** ((k + 1.0) / k))
    return np.asarray(np.sqrt(np.maximum(squared, 0.0)) / _CHOKED)


def _logarithms(start_pa: float, target_pa: float, plenum_pa: float) -> float:
    """Evacuation time in units of V / (Cd A K)."""
    if not (0.0 < target_pa <= start_pa and 0.0 <= plenum_pa <= target_pa):
        raise InputError(
            "pressure must fall from start to target, and the plenum must be at or below the target, got "
            f"start {start_pa:.0f}, target {target_pa:.0f}, plenum {plenum_pa:.0f} Pa; "
            "use a stronger vacuum or a milder target"
        )
    end_of_choking = min(max(plenum_pa / CRITICAL_RATIO, target_pa), start_pa)
    choked = math.log(start_pa / end_of_choking)
    if end_of_choking <= target_pa:
        return choked
    from scipy.integrate import quad

    # Near u = 0 the integrand tends to a limit as 0 / 0; quad's nodes never touch the ends.
    rest, _ = quad(_rest, math.sqrt(1.0 - plenum_pa / target_pa), math.sqrt(1.0 - plenum_pa / end_of_choking))
    return choked + float(rest)


def _rest(u: float) -> float:
    ratio = 1.0 - u * u
    return 2.0 * u / (ratio * float(_share_of_choked(np.asarray(ratio))))
