"""The classical picture of draping: a free sheet that is straight, evenly thin, and freezes where it touches.

At every height of the frame the sheet is the upper hull of buck and frame: straight from where it leaves the
buck to the clamp. Each new strip of contact takes the thickness that the free sheet has at that moment.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from buckwright.forming.forecast.landing import LandingSurface
from buckwright.forming.forecast.sheet_grid import SheetGrid
from buckwright.forming.forecast.thickness import formed_area_mm2

__all__ = ["Draped", "drape_by_hull"]

_LEVELS = 120
_CHUNK = 2048
_TOUCH = 1e-3  # of a cell: closer than this the hull touches the buck


@dataclass(frozen=True, slots=True, eq=False)
class Draped:
    """The sheet when the frame has come to rest.

    Attributes
    ----------
    points : (N, 3) float64, mm
    landed : (N,) bool
    touched : (N,) float64, level at which each node landed, inf where it did not
    volume_mm3 : (T,) float64, of each triangle, for a sheet of thickness 1
    levels : number of levels
    """

    points: NDArray[np.float64]
    landed: NDArray[np.bool_]
    touched: NDArray[np.float64]
    volume_mm3: NDArray[np.float64]
    levels: int


def drape_by_hull(
    grid: SheetGrid, ground: LandingSurface, *, frame_to_mm: float = 0.0, levels: int = _LEVELS
) -> Draped:
    """Lower the frame to its final height and keep the balance of mass strip by strip.

    Parameters
    ----------
    grid : the flat sheet
    ground : buck and platen
    frame_to_mm : height at which the frame comes to rest
    levels : number of steps, >= 1

    Returns
    -------
    Draped

    Notes
    -----
    On a round convex buck this is t / t0 = cos(slope): d ln t = -tan(slope) d slope, whatever the radius of
    the clamp. Over hollows the hull spans from rim to rim; the vacuum has to draw it in.
    """
    triangles = grid.triangles
    points = np.column_stack([grid.nodes, np.full(len(grid.nodes), ground.top_mm)])
    height = ground.at(points)
    on_buck = height > frame_to_mm + 1e-9
    landed = np.zeros(len(points), np.bool_)
    touched = np.full(len(points), np.inf)
    frozen = np.zeros(len(triangles), np.bool_)
    volume = grid.area_mm2.copy()
    ring = grid.nodes[grid.clamped]
    for level, frame in enumerate(np.linspace(ground.top_mm, frame_to_mm, levels + 1)[1:]):
        points[:, 2] = _upper_hull(grid.nodes, height, on_buck, ring, float(frame))
        points[grid.clamped, 2] = frame
        new = on_buck & ~landed & (points[:, 2] - height < _TOUCH * grid.cell_mm)
        landed |= new
        points[landed, 2] = height[landed]
        touched[new] = level
        area = formed_area_mm2(points, triangles)
        free = ~frozen
        thickness = volume[free].sum() / area[free].sum()
        volume[free] = thickness * area[free]
        frozen |= landed[triangles].all(1)
    return Draped(points, landed, touched, volume, levels)


def _upper_hull(
    nodes: NDArray[np.float64],
    height: NDArray[np.float64],
    on_buck: NDArray[np.bool_],
    ring: NDArray[np.float64],
    frame: float,
) -> NDArray[np.float64]:
    """Height of the upper hull of buck and frame over every node."""
    above = on_buck & (height > frame)
    base = np.column_stack([ring, np.full(len(ring), frame)])
    cloud = np.concatenate([np.column_stack([nodes[above], height[above]]), base])
    try:
        planes = ConvexHull(cloud).equations
    except QhullError:  # everything lies in the plane of the frame
        return np.full(len(nodes), frame)
    planes = np.unique(np.round(planes[planes[:, 2] > 1e-9], 12), axis=0)
    if not len(planes):
        return np.full(len(nodes), frame)
    slopes = -planes[:, [0, 1, 3]] / planes[:, 2:3]
    top = np.empty(len(nodes))
    for begin in range(0, len(nodes), _CHUNK):
        part = nodes[begin : begin + _CHUNK]
        top[begin : begin + _CHUNK] = (part @ slopes[:, :2].T + slopes[:, 2]).min(1)
    return np.maximum(top, frame)
