"""Points that were measured on a formed part, against the forecast. Imports nothing heavy."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import correlation
from typing import Any

from buckwright.errors import JobError

__all__ = ["Against", "MeasuredPoint", "against", "points_of"]

_POINT = re.compile(r"(?P<name>.+?)\s+(?P<mm>[\d.]+)\s+at\s+(?P<place>.+)")
_MOST_MM = 50.0
_SIDES = 3
_LEAST_RANKED = 3  # with fewer points a rank says nothing


@dataclass(frozen=True, slots=True)
class MeasuredPoint:
    """A named point of a part.

    Attributes
    ----------
    name : what it is called
    measured_mm : thickness there
    at_mm : (x, y, z) on the buck, in its frame
    """

    name: str
    measured_mm: float
    at_mm: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Against:
    """Measured against forecast.

    Attributes
    ----------
    names, measured_mm, forecast_mm : of the points that the sheet reaches
    missed : names of the others
    ratio, spread : measured over forecast, the geometric mean, and its deviation as a share
    rank : correlation of the ranks (Spearman); None with fewer than three points, or where all are alike
    """

    names: tuple[str, ...]
    measured_mm: tuple[float, ...]
    forecast_mm: tuple[float, ...]
    missed: tuple[str, ...]
    ratio: float
    spread: float
    rank: float | None

    @property
    def noted(self) -> str:
        """The points as the pull log takes them: 'brow 0.52/0.60, chin 0.61/0.66'."""
        rows = zip(self.names, self.measured_mm, self.forecast_mm, strict=True)
        return ", ".join(f"{name} {one:.2f}/{other:.2f}" for name, one, other in rows)

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json."""
        rows = zip(self.names, self.measured_mm, self.forecast_mm, strict=True)
        points = [{"name": name, "measured_mm": one, "forecast_mm": other} for name, one, other in rows]
        return {
            "points": points,
            "missed": list(self.missed),
            "thickness_bias": self.ratio,
            "spread": self.spread,
            "rank": self.rank,
        }


def points_of(words: str) -> tuple[MeasuredPoint, ...]:
    """Read measured points.

    Parameters
    ----------
    words : name, mm and place of each, parted by commas; empty for none

    Returns
    -------
    tuple of MeasuredPoint

    Raises
    ------
    JobError
        One of them cannot be read.

    Examples
    --------
    >>> points_of("left brow 0.52 at 12 30 41")
    (MeasuredPoint(name='left brow', measured_mm=0.52, at_mm=(12.0, 30.0, 41.0)),)
    """
    return tuple(_point(entry) for entry in words.split(",") if entry.strip())


def _point(entry: str) -> MeasuredPoint:
    found = _POINT.fullmatch(entry.strip())
    try:
        if found is None:
            raise ValueError
        thick = float(found["mm"])
        x, y, z = (float(side) for side in found["place"].split())
    except ValueError:
        thick = x = y = z = math.nan
    if found is None or not (0.0 < thick < _MOST_MM and math.isfinite(x + y + z)):
        raise JobError(
            f"measured: {entry.strip()!r} is no point; write name, mm and place, parted by commas: "
            "brow 0.52 at 12 30 41, chin 0.61 at 0 -55 20"
        )
    return MeasuredPoint(found["name"], thick, (x, y, z))


def against(points: Sequence[MeasuredPoint], forecast_mm: Sequence[float]) -> Against | None:
    """Compare measured points with the forecast.

    Parameters
    ----------
    points : as they were measured
    forecast_mm : at their places; nan where the sheet does not lie on them

    Returns
    -------
    Against : None where no point has both
    """
    rows = list(zip(points, forecast_mm, strict=True))
    both = [(point, thick) for point, thick in rows if math.isfinite(thick)]
    if not both:
        return None
    measured, forecast = [point.measured_mm for point, _ in both], [thick for _, thick in both]
    logs = [math.log(one / other) for one, other in zip(measured, forecast, strict=True)]
    mean = sum(logs) / len(logs)
    spread = math.sqrt(sum((one - mean) ** 2 for one in logs) / max(len(logs) - 1, 1))
    ranked = len(both) >= _LEAST_RANKED and len(set(measured)) > 1 and len(set(forecast)) > 1
    return Against(
        names=tuple(point.name for point, _ in both),
        measured_mm=tuple(measured),
        forecast_mm=tuple(forecast),
        missed=tuple(point.name for point, thick in rows if not math.isfinite(thick)),
        ratio=math.exp(mean),
        spread=spread,
        rank=correlation(measured, forecast, method="ranked") if ranked else None,
    )
