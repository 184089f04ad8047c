"""How a sheet heats, travels and cools: the result."""

import math
from dataclasses import dataclass
from typing import Any

__all__ = ["Heated"]


@dataclass(frozen=True, slots=True, eq=False)
class Heated:
    """How a sheet heats, travels and cools. Times are infinite where a thing never comes about.

    Attributes
    ----------
    strength : setting that says how strong the heater is
    given : its value
    least, greatest : the range of that setting in which the sheet can be formed at all; both nan if there is
        none; the greatest is infinite if none was found up to the highest that may be set
    earliest_s : the coldest place reaches the lowest temperature of the window
    latest_s : the hottest place reaches the highest
    chosen_s : the mean reaches the normal temperature, kept between both; nan if there is no time
    hottest_c, coldest_c, mean_c : at that time
    sag_share : least and greatest sag over the opening
    hold_s : after leaving the heater, until the coldest place falls under the lowest temperature
    cool_s : on the buck, until the hottest place of the part is cold enough to be taken off
    contact_c : temperature to which the buck's face jumps at contact
    buck_w_mk, buck_kj_m3k : conductivity and heat capacity of the buck
    """

    strength: str
    given: float
    least: float
    greatest: float
    earliest_s: float
    latest_s: float
    chosen_s: float
    hottest_c: float
    coldest_c: float
    mean_c: float
    sag_share: tuple[float, float]
    hold_s: float
    cool_s: float
    contact_c: float
    buck_w_mk: float
    buck_kj_m3k: float

    @property
    def works(self) -> bool:
        """Whether there is a time at which the sheet can be formed."""
        return self.earliest_s <= self.latest_s and math.isfinite(self.earliest_s)

    @property
    def spread_k(self) -> float:
        """Between the hottest and the coldest place at the chosen time."""
        return self.hottest_c - self.coldest_c

    def sag_mm(self, opening_mm: float | None) -> tuple[float, float] | None:
        """Least and greatest sag in an opening of this smaller width; None where that is not known."""
        if opening_mm is None:
            return None
        return self.sag_share[0] * opening_mm, self.sag_share[1] * opening_mm

    def to_dict(self) -> dict[str, Any]:
        """The section of the report.

        Returns
        -------
        dict : what never comes about is None
        """
        figures = {
            "least": self.least,
            "greatest": self.greatest,
            "earliest_s": self.earliest_s,
            "latest_s": self.latest_s,
            "chosen_s": self.chosen_s,
            "hottest_c": self.hottest_c,
            "coldest_c": self.coldest_c,
            "mean_c": self.mean_c,
            "spread_k": self.spread_k,
            "hold_s": self.hold_s,
            "cool_s": self.cool_s,
            "contact_c": self.contact_c,
            "buck_w_mk": self.buck_w_mk,
            "buck_kj_m3k": self.buck_kj_m3k,
        }
        told = {key: float(value) if math.isfinite(value) else None for key, value in figures.items()}
        return {
            "works": self.works,
            "strength": self.strength,
            "given": self.given,
            **told,
            "sag_share": list(self.sag_share),
        }
