"""Which gauge of sheet leaves enough at the weakest spot, tried out before it is advised."""

from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

from buckwright.forming.forecast.bands import within
from buckwright.forming.forecast.result import Forecast
from buckwright.forming.forecast.thresholds import GAUGES_MM, HANDY_MM

__all__ = ["Gauge", "better_gauge"]


@dataclass(frozen=True, slots=True)
class Gauge:
    """A sheet that was tried.

    Attributes
    ----------
    sheet_mm : its thickness
    weakest_mm, band_mm : mean over the disc at its weakest spot, and what it may be off by
    """

    sheet_mm: float
    weakest_mm: float
    band_mm: float

    @property
    def words(self) -> str:
        """Its weakest spot with the band."""
        return within(self.weakest_mm, self.band_mm)

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json."""
        return asdict(self)


def better_gauge(run: Forecast, again: Callable[[float], Forecast]) -> Gauge | None:
    """The thinnest usual sheet that leaves enough at the weakest spot, less the band.

    Parameters
    ----------
    run : the forecast with the sheet as it is, with its band
    again : runs a sheet of another thickness, coarsely

    Returns
    -------
    Gauge : None where the sheet as it is leaves enough, or none does

    Notes
    -----
    Thickness goes about with that of the sheet, which tells the first gauge to try; the band is taken in
    proportion. A thicker sheet also keeps rounder corners, so the run usually finds a little more.
    """
    sheet, share = run.settings.sheet_mm, run.certain_mm / run.settings.sheet_mm
    off = 1.0 - run.certain_mm / run.figures.weakest_mm
    if run.certain_mm >= HANDY_MM:
        return None
    for gauge in (g for g in GAUGES_MM if g > sheet and g * share >= HANDY_MM):
        weakest = again(gauge).figures.weakest_mm
        if (1.0 - off) * weakest >= HANDY_MM:
            return Gauge(gauge, weakest, off * weakest)
    return None
