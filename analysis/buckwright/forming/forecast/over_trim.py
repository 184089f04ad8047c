"""Folds that reach above the trim line, the short ones among them."""

from buckwright.forming.forecast.membrane import reference
from buckwright.forming.forecast.result import Forecast
from buckwright.forming.forecast.webs import Web, find_webs

__all__ = ["folds_over", "over_mm"]


def folds_over(run: Forecast, trim_mm: float, *, platen_mm: float = 0.0) -> tuple[Web, ...]:
    """Every fold of a forecast that rises above the trim line, also those too short to be told as webs.

    Parameters
    ----------
    run : the forecast
    trim_mm : height of the trim line
    platen_mm : where the frame comes to rest

    Returns
    -------
    tuple of Web : largest folded area first
    """
    ref = reference(run.formed.rest, run.triangles)
    found = find_webs(run.points, ref, turned=run.formed.turned, trim_mm=trim_mm, platen_mm=platen_mm)
    return tuple(web for web in found if web.crosses_trim_line)


def over_mm(web: Web, trim_mm: float) -> float:
    """How much of a web's line is above the trim line.

    Parameters
    ----------
    web : from end to end a straight line
    trim_mm : height of the trim line

    Returns
    -------
    float : mm
    """
    low, high = sorted(end[2] for end in web.ends_mm)
    if low >= trim_mm:
        return web.length_mm
    return web.length_mm * max(high - trim_mm, 0.0) / (high - low)
