"""One edge of the part, outside or round an opening: trim line, paper strip, gauge, printed profile."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.workshop.edge.profile import PrintedEdge, edge_profile, wall_up
from buckwright.workshop.edge.settings import EdgeSettings
from buckwright.workshop.edge.trim_curve import TrimCurve
from buckwright.workshop.edge.unrolling import FlatBand, unrolled

__all__ = ["Rim", "rim_of"]

_OVERLAP_MM = 15.0
"""Ends of a strip lie over one another by this: makers' practice, no source."""
_WALL_MM = 3.0  # over so much the slope of the wall at the edge is taken
_LEAST_SHARE = 0.5
"""A ring further up that is shorter than this share of the trim line is no wall: judgement."""


@dataclass(frozen=True, slots=True, eq=False)
class Rim:
    """One edge of the part.

    Attributes
    ----------
    curve : the trim line
    band : the paper strip, rolled out; None without one
    strip_mm : height of the strip over the trim line; less than asked for where the wall is not as high;
        under a line that rises it reaches from the level line up to it
    height_mm : of the trim line over what the gauge stands on: what the rim of the sheet lies on, or the
        floor of an opening
    printed : the printed edge; None without one
    """

    curve: TrimCurve
    band: FlatBand | None
    strip_mm: float
    height_mm: float
    printed: PrintedEdge | None

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json."""
        curve, outside = self.curve, self.curve.outside
        size = None if self.printed is None else [float(side) for side in self.printed.mesh.size]
        around = np.linalg.norm(outside - np.roll(outside, -1, axis=0), axis=1).sum()
        return {
            "trim_line_mm": curve.length_mm,
            "outside_mm": float(around),
            "from": curve.source,
            "thickness_mm": [float(curve.thickness_mm.min()), float(curve.thickness_mm.max())],
            "rises_mm": self.curve.rises_mm,
            "strip_mm": self.strip_mm,
            "gauge_mm": self.height_mm,
            "profile_size_mm": size,
        }


def rim_of(
    ring: Callable[[float], TrimCurve | None],
    height_mm: float,
    edge: EdgeSettings,
    *,
    follow: Callable[[TrimCurve], TrimCurve] = lambda level: level,
) -> Rim | None:
    """All that is drawn and printed of one edge.

    Parameters
    ----------
    ring : height over the trim line -> the line there; None where there is none
    height_mm : of the trim line over what the gauge stands on
    edge : the table [edge]
    follow : the level line -> the line that is cut, which may rise

    Returns
    -------
    Rim or None : None where there is no line
    """
    level = ring(0.0)
    if level is None:
        return None
    curve = follow(level)
    if curve is level:
        band, strip_mm = _strip(ring, curve, edge.strip_mm)
    else:
        # from the ledge, which the formed sheet shows, up to where it is cut
        band, strip_mm = unrolled(level.outside, curve.outside, overlap_mm=_OVERLAP_MM), curve.rises_mm
    printed = None
    if edge.profile != "off" and curve is level:
        printed = edge_profile(
            curve,
            wall_up(curve, ring(min(edge.profile_leg_mm, _WALL_MM))),
            kind=edge.profile,
            leg_mm=edge.profile_leg_mm,
            wall_mm=edge.profile_wall_mm,
            room_mm=edge.profile_room_mm,
        )
    return Rim(curve, band, strip_mm, height_mm, printed)


def _strip(
    ring: Callable[[float], TrimCurve | None], curve: TrimCurve, strip_mm: float
) -> tuple[FlatBand | None, float]:
    """The strip on the outer side of the sheet; half or a quarter as high where the wall ends before."""
    for share in (1.0, 0.5, 0.25):
        upper = ring(share * strip_mm) if strip_mm > 0.0 else None
        if upper is not None and upper.length_mm > _LEAST_SHARE * curve.length_mm:
            lower, higher = _as_seen(curve), _as_seen(upper)
            return unrolled(lower, higher, overlap_mm=_OVERLAP_MM), share * strip_mm
    return None, 0.0


def _as_seen(curve: TrimCurve) -> NDArray[np.float64]:
    """Its outer side from left to right, as someone sees it who lays the strip on."""
    return curve.outside[::-1] if curve.opening else curve.outside
