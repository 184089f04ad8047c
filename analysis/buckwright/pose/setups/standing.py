"""A shape in the pull frame, on a raster, under its draft cones."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh
from buckwright.pose.setups.quick_envelope import quick_envelope
from buckwright.relief.raster import Relief, relief_of

__all__ = ["Standing", "standing"]


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """A shape as the sheet comes down on it.

    Attributes
    ----------
    shade : the shape, pull +Z
    low, high : (3,) ends of the sculpt that it stands for
    bounds : (2, 2) of the raster: room for the fill all round
    relief : its highest surface over each pixel
    envelope : (ny, nx) float64, height of its draft cones; -inf where there is none
    """

    shade: Mesh
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    bounds: NDArray[np.float64]
    relief: Relief
    envelope: NDArray[np.float64]


def standing(
    solid: Mesh, extremes: NDArray[np.float64], frame: NDArray[np.float64], *, draft_deg: float, pixels: int
) -> Standing:
    """Stand a shape up and cover it with draft cones.

    Parameters
    ----------
    solid : the shape in the proxy's axes
    extremes : (N, 3) corners of the sculpt's hull, in the same axes
    frame : (3, 3) from these axes to the pull frame
    draft_deg : wanted draft, 0 < draft < 90
    pixels : of the longer side of the sculpt in the raster

    Returns
    -------
    Standing
    """
    shade = Mesh(np.ascontiguousarray(solid.vertices @ frame.T), solid.faces)
    corners = extremes @ frame.T
    low, high = corners.min(axis=0), corners.max(axis=0)
    pixel = max(float((high - low)[:2].max()), 1e-9) / pixels
    skirt = np.tan(np.radians(draft_deg)) * float(high[2] - low[2]) + 2.0 * pixel
    bounds = np.stack([low[:2] - skirt, high[:2] + skirt])
    relief = relief_of(shade, pixel_mm=pixel, bounds_xy=bounds)
    envelope = quick_envelope(relief.height, pixel_mm=pixel, draft_deg=draft_deg)
    return Standing(shade, low, high, bounds, relief, envelope)
