"""What pulls say of the time from heater to buck: least squares beside what the job expects.

Hands and rigs differ by a factor of two, and seconds by a stopwatch are good to 15 %. Both are house rules.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from buckwright.workshop.log.factor import fit_factor
from buckwright.workshop.log.record import PullRecord

__all__ = ["Carrying", "fit_carrying"]

_PRIOR_SD = 0.7
_TIME_SD = 0.15
_LEAST_S = 0.1  # where the job expects none


@dataclass(frozen=True, slots=True)
class Carrying:
    """How long the sheet is on its way.

    Attributes
    ----------
    carry_s : from the heater to contact
    low_s, high_s : one standard deviation to either side
    hold_s : the sheet stays warm enough for so long; infinite or nan where that is not known
    observed : how many seconds went in
    """

    carry_s: float
    low_s: float
    high_s: float
    hold_s: float
    observed: int

    @property
    def too_long(self) -> bool:
        """Whether the sheet is likely to be too cold when it lands."""
        return self.carry_s > self.hold_s

    def to_dict(self) -> dict[str, Any]:
        """Plain values; a time that is not known or never comes is None."""
        told = {name: getattr(self, name) for name in self.__slots__}
        return told | {"hold_s": self.hold_s if math.isfinite(self.hold_s) else None}


def fit_carrying(pulls: Sequence[PullRecord], expected_s: float, *, hold_s: float) -> Carrying:
    """Fit the carrying time.

    Parameters
    ----------
    pulls : all on one machine
    expected_s : as the job has it
    hold_s : for so long the sheet stays warm enough

    Returns
    -------
    Carrying : without noted times what the job expects
    """
    usual = max(expected_s, _LEAST_S)
    noted = [(max(pull.carry_s, _LEAST_S), usual) for pull in pulls if pull.carry_s is not None]
    found = fit_factor(noted, known_sd=_PRIOR_SD, noted_sd=_TIME_SD)
    carry = usual * found.value
    return Carrying(
        carry_s=carry,
        low_s=carry * math.exp(-found.spread),
        high_s=carry * math.exp(found.spread),
        hold_s=hold_s,
        observed=found.observed,
    )
