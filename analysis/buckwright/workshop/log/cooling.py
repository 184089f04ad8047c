"""What pulls say of the time on the buck: least squares beside what heating expects.

A part is stiff sooner or later than two bodies in perfect contact would have it: it lies on ribs of air, is
drawn thin, and the fan blows. How much, is one figure for a sheet on a machine. Deviations are house rules.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from buckwright.workshop.log.factor import fit_factor
from buckwright.workshop.log.record import PullRecord

__all__ = ["Cooling", "fit_cooling"]

_PRIOR_SD = 0.3  # as the flux of a heater: in natural logarithms
_TIME_SD = 0.1  # seconds noted by eye


@dataclass(frozen=True, slots=True)
class Cooling:
    """How long a part stays on the buck.

    Attributes
    ----------
    factor : time until it is stiff over what heating expects
    factor_sd : its spread, as a share
    hold_s : seconds to hold next
    low_s, high_s : one standard deviation to either side
    observed : how many seconds went in
    """

    factor: float
    factor_sd: float
    hold_s: float
    low_s: float
    high_s: float
    observed: int

    def to_dict(self) -> dict[str, Any]:
        """Plain values."""
        return {name: getattr(self, name) for name in self.__slots__}


def fit_cooling(pulls: Sequence[PullRecord], expected_s: Callable[[float | None], float]) -> Cooling | None:
    """Fit the time on the buck.

    Parameters
    ----------
    pulls : all of one sheet and one machine
    expected_s : temperature of the buck, None for that of the job -> seconds until the part is stiff

    Returns
    -------
    Cooling or None : without pulls what was known beforehand; None where heating does not know a time
    """
    usual = expected_s(None)
    if not math.isfinite(usual):
        return None
    pairs = [(pull.stiff_s, expected_s(pull.buck_c)) for pull in pulls if pull.stiff_s is not None]
    known = [(noted, expected) for noted, expected in pairs if math.isfinite(expected) and expected > 0.0]
    found = fit_factor(known, known_sd=_PRIOR_SD, noted_sd=_TIME_SD)
    return Cooling(
        factor=found.value,
        factor_sd=found.spread,
        hold_s=usual * found.value,
        low_s=usual * found.value * math.exp(-found.spread),
        high_s=usual * found.value * math.exp(found.spread),
        observed=found.observed,
    )
