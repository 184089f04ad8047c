"""One figure from noted seconds: least squares beside what was known, in logarithms, where it is one line."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Factor", "fit_factor"]


@dataclass(frozen=True, slots=True)
class Factor:
    """A time over what was expected, its spread as a share, and how many seconds went in."""

    value: float
    spread: float
    observed: int


def fit_factor(noted_s: Sequence[tuple[float, float]], *, known_sd: float, noted_sd: float) -> Factor:
    """Fit the factor between noted and expected seconds.

    Parameters
    ----------
    noted_s : what was noted and what was expected, both over 0
    known_sd : how far the factor is known to be 1 beforehand, in natural logarithms
    noted_sd : how well a time is noted, in natural logarithms

    Returns
    -------
    Factor

    Notes
    -----
    Minimises (f / known)^2 + sum ((ln t_k - ln e_k - f) / noted)^2.

    Examples
    --------
    >>> round(fit_factor([(2.0, 1.0)] * 100, known_sd=0.3, noted_sd=0.1).value, 2)
    2.0
    """
    logs = [math.log(noted / expected) for noted, expected in noted_s]
    weight = 1.0 / known_sd**2 + len(logs) / noted_sd**2
    return Factor(math.exp(sum(logs) / noted_sd**2 / weight), math.sqrt(1.0 / weight), len(logs))
