"""What pulls say of the time on the buck: least squares beside what heating expects.

A part is stiff sooner or later than two bodies in perfect contact would have it: it lies on ribs of air, is
drawn thin, and the fan blows. How much, is one figure for a sheet on a machine. In logarithms the problem is
linear, and its solution stands in one line. Deviations are house rules.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

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

    Notes
    -----
    Minimises (f / 0.3)^2 + sum ((ln t_k - ln e_k - f) / 0.1)^2, with t noted and e expected.
    """
    usual = expected_s(None)
    if not math.isfinite(usual):
        return None
    logs = []
    for pull in pulls:
        if pull.stiff_s is not None:
            expected = expected_s(pull.buck_c)
            if math.isfinite(expected) and expected > 0.0:
                logs.append(math.log(pull.stiff_s / expected))
    weight = 1.0 / _PRIOR_SD**2 + len(logs) / _TIME_SD**2
    found, spread = sum(logs) / _TIME_SD**2 / weight, math.sqrt(1.0 / weight)
    return Cooling(
        factor=math.exp(found),
        factor_sd=spread,
        hold_s=usual * math.exp(found),
        low_s=usual * math.exp(found - spread),
        high_s=usual * math.exp(found + spread),
        observed=len(logs),
    )
