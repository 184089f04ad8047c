"""How thin the sheet would get on a setup: a coarse forecast on its filled form."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.forecast_sheet import forecast_sheet
from buckwright.pose.setups.proxy import Proxy
from buckwright.pose.setups.standing import standing
from buckwright.relief.raster import Relief
from buckwright.survey.pull import frame_for

__all__ = ["filled_relief", "thin_share"]

_PIXELS = 160
# A coarse net and one with half as many nodes, whose difference is told as the spread.
_NODES = (1500, 750)
# The frame stands off by this share of the height, as for a forecast without a frame of its own.
_GAP_SHARE = 0.5
# Sheet of 1 mm on a part of 150 mm: the usual proportion, which the figure hardly depends on. House rule.
_SHEET_SHARE = 1.0 / 150.0
# Corners sharper than this share of the size are left open, so that the figure does not hang on the net.
_RADIUS_SHARE = 0.05


def thin_share(
    proxy: Proxy,
    direction: NDArray[np.float64],
    sink_mm: float,
    *,
    draft_deg: float,
    tick: Callable[[float], None] | None = None,
) -> tuple[float, float]:
    """Share of the sheet's thickness that is left in the thinnest twentieth of the part.

    Parameters
    ----------
    proxy : the sculpt
    direction : (3,) unit vector in the proxy's axes
    sink_mm : how much is cut off below
    draft_deg : wanted draft
    tick : called with the share done, 0..1; may raise to stop

    Returns
    -------
    float, float : the share, 0..1, and how far that of a net half as fine is from it; 1 of what lies flat

    Notes
    -----
    A coarse run on the form without flange and riser. It is good to compare setups by; a finer net finds
    thinner corners, so it errs on the thick side.
    """
    relief = filled_relief(proxy, direction, sink_mm, draft_deg=draft_deg)
    ends = relief.raised_pixels()
    if ends is None:
        return 1.0, 0.0
    gap = _GAP_SHARE * float(relief.height.max())
    low, high = relief.origin + ends * relief.pixel_mm + np.array([[-gap], [gap]])
    corners = np.array([low, (high[0], low[1]), high, (low[0], high[1])])
    sheet = _SHEET_SHARE * proxy.size_mm
    shares = [
        forecast_sheet(
            relief,
            frame_mm=corners,
            sheet_mm=sheet,
            nodes=nodes,
            finest_mm=np.inf,
            quality="preview",
            sharpest_radius_mm=_RADIUS_SHARE * proxy.size_mm,
            tick=tick,
        ).figures.thin_mm
        / sheet
        for nodes in _NODES
    ]
    return shares[0], abs(shares[0] - shares[1])


def filled_relief(
    proxy: Proxy, direction: NDArray[np.float64], sink_mm: float, *, draft_deg: float
) -> Relief:
    """Heights of the sculpt with its fill over the depth of sinking.

    Parameters
    ----------
    proxy, direction, sink_mm, draft_deg : as for `thin_share`

    Returns
    -------
    Relief : foot at z = 0, which fills the raster
    """
    stood = standing(proxy.shade, proxy.extremes, frame_for(direction), draft_deg=draft_deg, pixels=_PIXELS)
    height = np.maximum(stood.envelope - (float(stood.low[2]) + sink_mm), 0.0)
    return replace(stood.relief, height=height)
