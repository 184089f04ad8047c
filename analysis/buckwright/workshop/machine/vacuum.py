"""How the pressure under the platen falls: box, hose, tank and pump or cleaner.

All pressures are absolute. Air keeps its temperature, as in `forming.air`, and nothing leaks: real rigs are
slower and hold less. A pump's flow Q, at the pressure of its inlet, falls as Q (1 - lowest / p); a cleaner
is a fan whose flow falls in a straight line with suction, Q (p - lowest) / (atmosphere - lowest).
"""

import math
from dataclasses import dataclass
from typing import Literal

from buckwright.atmosphere import ATMOSPHERE_PA
from buckwright.workshop.machine.figures import MachineFigures

__all__ = [
    "ATMOSPHERE_KPA",
    "Vacuum",
    "force_n",
    "left_in_pocket",
    "pump_down_s",
    "shared_kpa",
    "vacuum_of",
]

ATMOSPHERE_KPA = 1e-3 * ATMOSPHERE_PA
_TANK_SHARE = 0.1  # a tank is usually drawn down to a tenth before the valve is opened: judgement
_NOTHING_KPA = 1e-6  # below it the general form divides nothing by nothing
_LEAST_SHARE = 0.2  # as the setting for pockets has it
_ABOVE_PLENUM = 0.05  # a pocket comes no nearer to the pressure under it in useful time: judgement


@dataclass(frozen=True, slots=True, kw_only=True)
class Vacuum:
    """What draws the air, and what it has to draw from.

    Attributes
    ----------
    kind : 'pump' or 'cleaner'
    flow_l_min : with nothing in its way
    lowest_kpa : pressure with its inlet closed
    box_l : air in box and hose
    tank_l : volume of the tank; 0 for none
    tank_kpa : pressure in the tank when its valve is opened
    """

    kind: Literal["pump", "cleaner"]
    flow_l_min: float
    lowest_kpa: float
    box_l: float
    tank_l: float
    tank_kpa: float

    @property
    def holds_kpa(self) -> float:
        """Pressure under the platen when box and tank have shared; without a tank, what the pump reaches."""
        if self.tank_l <= 0.0:
            return self.lowest_kpa
        return shared_kpa(self.box_l, ATMOSPHERE_KPA, self.tank_l, self.tank_kpa)


def vacuum_of(figures: MachineFigures) -> Vacuum | None:
    """The vacuum of a machine; None where flow or lowest pressure are not known.

    Parameters
    ----------
    figures : of the machine

    Returns
    -------
    Vacuum : without a known box or tank these are 0
    """
    if figures.flow_l_min is None or figures.lowest_kpa is None:
        return None
    tank = figures.tank_kpa
    if tank is None:
        tank = max(_TANK_SHARE * ATMOSPHERE_KPA, figures.lowest_kpa)
    return Vacuum(
        kind=figures.vacuum or "pump",
        flow_l_min=figures.flow_l_min,
        lowest_kpa=figures.lowest_kpa,
        box_l=figures.box_l or 0.0,
        tank_l=figures.tank_l or 0.0,
        tank_kpa=tank,
    )


def shared_kpa(first_l: float, first_kpa: float, second_l: float, second_kpa: float) -> float:
    """Pressure once two vessels share their air (Boyle).

    Parameters
    ----------
    first_l, first_kpa : volume and pressure of one, together over 0
    second_l, second_kpa : of the other

    Returns
    -------
    float : kPa

    Examples
    --------
    >>> round(shared_kpa(5.0, 101.325, 50.0, 5.0), 3)
    13.757
    """
    return (first_l * first_kpa + second_l * second_kpa) / (first_l + second_l)


def pump_down_s(volume_l: float, vacuum: Vacuum, *, start_kpa: float, end_kpa: float) -> float:
    """Time that pump or cleaner needs for a volume.

    Parameters
    ----------
    volume_l : of air, >= 0
    vacuum : what draws it
    start_kpa, end_kpa : pressures; end <= start

    Returns
    -------
    float : seconds; infinite if the end is not above its lowest pressure

    Notes
    -----
    A pump: t = V / Q ln((start - lowest) / (end - lowest)), which for lowest = 0 is the textbook's
    V / Q ln(start / end) (Esposito, Fluid Power with Applications, ch. 14). A cleaner: V dp/dt = -p Q(p)
    integrated in closed form.

    Examples
    --------
    >>> pump = Vacuum(kind="pump", flow_l_min=4.0, lowest_kpa=0.0, box_l=0.0, tank_l=0.0, tank_kpa=0.0)
    >>> round(pump_down_s(6.0, pump, start_kpa=30.0, end_kpa=6.0) / 60.0, 4)
    2.4142
    """
    low = vacuum.lowest_kpa
    if volume_l == 0.0 or end_kpa >= start_kpa:
        return 0.0
    if end_kpa <= low:
        return math.inf
    turnover_s = 60.0 * volume_l / vacuum.flow_l_min
    fallen = math.log((start_kpa - low) / (end_kpa - low))
    if vacuum.kind == "pump":
        return turnover_s * fallen
    reach = ATMOSPHERE_KPA - low
    if low < _NOTHING_KPA:
        return turnover_s * reach * (1.0 / end_kpa - 1.0 / start_kpa)
    return turnover_s * reach / low * (fallen - math.log(start_kpa / end_kpa))


def force_n(area_mm2: float, pressure_kpa: float) -> float:
    """Force of the air outside on an area with a pressure under it.

    Parameters
    ----------
    area_mm2 : seen down the pull
    pressure_kpa : absolute, under it

    Returns
    -------
    float : N

    Examples
    --------
    >>> round(force_n(300.0 * 200.0, 0.0), 1)
    6079.5
    """
    return area_mm2 * (ATMOSPHERE_KPA - pressure_kpa) * 1e-3


def left_in_pocket(plenum_share: float) -> float:
    """Share of an atmosphere that may be left in a pocket over a plenum.

    Parameters
    ----------
    plenum_share : pressure of the plenum over that of the air outside

    Returns
    -------
    float : 0.2, or for a weak vacuum a little more than it reaches itself
    """
    return min(max(_LEAST_SHARE, plenum_share + _ABOVE_PLENUM), 0.95)
