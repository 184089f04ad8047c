"""What pulls say of heater and sheet: least squares beside what was known beforehand.

Three figures are fitted: how much stronger the heater is than set, how much more of it this sheet takes up
than the table has it, and the sheet's sag when it is ready. The first two only show as their product in pulls
of one sheet; what was known beforehand shares it between them. Seconds and millimetres noted by eye are taken
to be good to a tenth and to 3 % of the opening. Deviations are house rules where no source is named.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from buckwright.workshop.log.record import PullRecord

__all__ = ["Fitted", "Ripening", "fit_pulls"]

_HEATER_SD = 0.3  # the flux of a heater is seldom known to 30 % (as heating has it), in natural logarithms
_PICK_UP_SD = 0.1
_TIME_SD = 0.1
_SAG_SD = 0.03  # of the opening
_STEP = 0.03


@dataclass(frozen=True, slots=True)
class Ripening:
    """How a sheet ripens in a heater of some strength.

    Attributes
    ----------
    earliest_s, best_s, latest_s : it can be formed from, is best, and until
    ripeness : seconds -> 0 when it can first be formed, 1 at its normal temperature
    """

    earliest_s: float
    best_s: float
    latest_s: float
    ripeness: Callable[[float], float]


@dataclass(frozen=True, slots=True)
class Fitted:
    """What pulls say.

    Attributes
    ----------
    heater : effective strength of the heater over what is set
    heater_sd : its spread, as a share
    pick_up : what the sheet takes up over what the table has it
    pick_up_sd : its spread, as a share
    sag_share, sag_sd : sag over the opening when the sheet is ready
    best_s : seconds to heat next
    low_s, high_s : one standard deviation to either side, within which the sheet can be formed
    observed : how many seconds and millimetres went in
    """

    heater: float
    heater_sd: float
    pick_up: float
    pick_up_sd: float
    sag_share: float
    sag_sd: float
    best_s: float
    low_s: float
    high_s: float
    observed: int

    def to_dict(self) -> dict[str, Any]:
        """Plain values."""
        return {name: getattr(self, name) for name in self.__slots__}


def fit_pulls(
    pulls: Sequence[PullRecord],
    ripen: Callable[[float], Ripening],
    *,
    sag_share: tuple[float, float],
    opening_mm: float | None,
) -> Fitted:
    """Fit heater, pick-up and sag.

    Parameters
    ----------
    pulls : all of one sheet and one machine
    ripen : strength over the one that is set -> how the sheet ripens
    sag_share : least and greatest sag over the opening, as the sheet's table has it
    opening_mm : smaller width of the opening where a pull does not name it; None leaves its sag out

    Returns
    -------
    Fitted : without pulls what was known beforehand

    Notes
    -----
    Minimises, in units of their deviations, the squares of what differs from the prior and from the pulls.
    Spreads are those of the linearised problem, (J^T J)^-1.
    """
    usual = np.array([0.0, 0.0, sum(sag_share) / 2.0])
    deviations = np.array([_HEATER_SD, _PICK_UP_SD, max(sag_share[1] - sag_share[0], 0.02) / 4.0])
    known: dict[float, Ripening] = {}

    def at(strength: float) -> Ripening:
        key = round(strength, 9)
        if key not in known:
            known[key] = ripen(strength)
        return known[key]

    def residuals(y: NDArray[np.float64]) -> NDArray[np.float64]:
        x, parts = usual + (y - 1.0) * deviations, list(y - 1.0)
        for pull in pulls:
            ripening = at(math.exp(x[0] + x[1]) * (pull.power or 1.0))
            parts += _of_pull(pull, ripening, float(x[2]), opening_mm)
        return np.array(parts)

    # in units of the deviations and beginning at 1, so that a step is one that a solver of heat can tell
    found = least_squares(residuals, np.ones(3), diff_step=[_STEP] * 3)
    jac = np.asarray(found.jac, np.float64)
    spread = np.linalg.inv(jac.T @ jac) * np.outer(deviations, deviations)
    heater, pick_up, sag = (float(value) for value in usual + (found.x - 1.0) * deviations)
    product_sd = math.sqrt(max(spread[0, 0] + spread[1, 1] + 2.0 * spread[0, 1], 0.0))
    best, strong, weak = (at(math.exp(heater + pick_up + by)) for by in (0.0, product_sd, -product_sd))
    return Fitted(
        heater=math.exp(heater),
        heater_sd=math.sqrt(spread[0, 0]),
        pick_up=math.exp(pick_up),
        pick_up_sd=math.sqrt(spread[1, 1]),
        sag_share=sag,
        sag_sd=math.sqrt(spread[2, 2]),
        best_s=best.best_s,
        low_s=max(strong.best_s, best.earliest_s),
        high_s=min(weak.best_s, best.latest_s),
        observed=len(found.fun) - len(usual),
    )


def _of_pull(pull: PullRecord, ripening: Ripening, sag_share: float, opening_mm: float | None) -> list[float]:
    parts = []
    if pull.sag_s is not None:
        parts.append(math.log(ripening.earliest_s / pull.sag_s) / _TIME_SD)
    opening_mm = pull.opening_mm or opening_mm
    if pull.sag_mm is not None and pull.heat_s is not None and opening_mm:
        expected = sag_share * max(ripening.ripeness(pull.heat_s), 0.0)
        parts.append((expected - pull.sag_mm / opening_mm) / _SAG_SD)
    return parts
