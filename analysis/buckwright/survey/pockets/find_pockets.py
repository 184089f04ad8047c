"""Pockets: where a sheet that comes from above traps air, and where to vent them; drills nothing.

The ring around the foot of the part is sealed too; it counts as vented by the base, which has to vent it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from buckwright.errors import InputError
from buckwright.relief.raster import Relief
from buckwright.survey.pockets.basins import Basin, closed_basins
from buckwright.survey.pockets.sealed_regions import (
    AIRTIGHT_MM,
    Sealed,
    contact_order,
    sealed_places,
    stands_out_mm,
)
from buckwright.survey.pockets.taut_sheet import TautSheet, taut_sheet
from buckwright.survey.pockets.work_grid import WorkGrid, work_grid

__all__ = ["Pocket", "Pockets", "find_pockets", "least_pocket_depth_mm", "vent_points"]

_FLOOR_SHARE = 0.5  # the floor of a pocket: at least half as deep as its deepest point (judgement)
_SNAP_SHARE = 0.25  # a further vent may move by this share of the spacing to a deeper point (judgement)
VENT_SPACING_MM = 25.0  # 20 to 40 mm along corners and foot: common practice, no source


@dataclass(frozen=True, slots=True)
class Pocket:
    """One place that traps air once the sheet has closed it.

    Attributes
    ----------
    centre_mm : (3,) middle of the pocket, on the relief
    deepest_mm : (3,) below the greatest gap, on the relief: the place for its vent
    depth_mm : greatest gap under the sheet at sealing
    volume_mm3, area_mm2 : volume of the trapped air, and its area in plan
    sealed_at : step of the sheet at which it closes; the number of steps for a basin of the relief that the
        sheet as modelled never closes
    label : its number in the label raster, from 1
    """

    centre_mm: tuple[float, float, float]
    deepest_mm: tuple[float, float, float]
    depth_mm: float
    volume_mm3: float
    area_mm2: float
    sealed_at: int
    label: int

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : the attributes without `label`, points as lists
        """
        return {
            "centre_mm": list(self.centre_mm),
            "deepest_mm": list(self.deepest_mm),
            "depth_mm": self.depth_mm,
            "volume_mm3": self.volume_mm3,
            "area_mm2": self.area_mm2,
            "sealed_at": self.sealed_at,
        }


@dataclass(frozen=True, slots=True, eq=False)
class Pockets:
    """All pockets of a relief, largest volume first.

    Attributes
    ----------
    pockets : the pockets
    origin : (2,) corner of raster pixel [0, 0], mm
    pixel_mm : side of a raster pixel
    label : (ny, nx) int32, number of the innermost pocket, 0 outside
    gap_mm : (ny, nx) float64, sheet above relief when that pocket closed, 0 outside
    reach : (ny, nx) int32, step at which the sheet arrives; the number of steps where it never does
    sheet : the steps of the sheet
    min_depth_mm : minimum depth, as requested
    foot_mm : ground up to this height that is connected to the outside counts as vented by the base
    """

    pockets: tuple[Pocket, ...]
    origin: NDArray[np.float64]
    pixel_mm: float
    label: NDArray[np.int32]
    gap_mm: NDArray[np.float64]
    reach: NDArray[np.int32]
    sheet: TautSheet
    min_depth_mm: float
    foot_mm: float
    _grid: WorkGrid

    def pocket_at(self, places: NDArray[np.float64]) -> NDArray[np.int64]:
        """Index of the pocket that each place (N, 2+) lies in, (N,); -1 outside of all."""
        columns, rows = np.floor((places[:, :2] - self.origin) / self.pixel_mm).astype(np.int64).T
        height, width = self.label.shape
        inside = (rows >= 0) & (rows < height) & (columns >= 0) & (columns < width)
        number = np.full(int(self.label.max(initial=0)) + 1, -1, np.int64)
        for index, pocket in enumerate(self.pockets):
            number[pocket.label] = index
        found = np.full(len(places), -1, np.int64)
        found[inside] = number[self.label[rows[inside], columns[inside]]]
        return found

    def gap_at(self, places: NDArray[np.float64]) -> NDArray[np.float64]:
        """Gap under the sheet over places (N, 2+) when their pocket closed, (N,) mm; 0 outside."""
        pixels = np.floor((places[:, :2] - self.origin) / self.pixel_mm).astype(np.int64)
        rows, columns = np.clip(pixels[:, ::-1], 0, np.array(self.gap_mm.shape) - 1).T
        gap: NDArray[np.float64] = self.gap_mm[rows, columns]
        return gap

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : the pockets, the settings and the assumption made
        """
        curvature = float(self.sheet.curvature_per_mm[-1])
        return {
            "pockets": [pocket.to_dict() for pocket in self.pockets],
            "min_depth_mm": self.min_depth_mm,
            "pixel_mm": self.pixel_mm,
            "sharpest_radius_mm": 1.0 / curvature if curvature else None,
            "assumption": "the ring around the foot counts as vented by the base",
        }


def least_pocket_depth_mm(sheet_mm: float) -> float:
    """The depth below which a pocket needs no vent: 0.4 of the sheet, at least 0.3 mm (judgement).

    Parameters
    ----------
    sheet_mm : thickness of the sheet before forming, > 0

    Returns
    -------
    float : mm, >= 0.3

    Notes
    -----
    A bubble much flatter than the sheet is thick does not show on the part, and 0.3 mm is the roughness of a
    printed surface and of the raster.

    Examples
    --------
    >>> least_pocket_depth_mm(1.0), least_pocket_depth_mm(0.5)
    (0.4, 0.3)
    """
    return max(0.3, 0.4 * sheet_mm)


def find_pockets(
    relief: Relief,
    *,
    min_depth_mm: float,
    sharpest_radius_mm: float = 1.0,
    foot_mm: float = 0.0,
    vented_mask: NDArray[np.bool_] | None = None,
    gap_to_frame_mm: float | None = None,
    work_px: int = 384,
    tick: Callable[[float], None] | None = None,
) -> Pockets:
    """Follow a taut sheet down over the relief and collect the air that it traps.

    Parameters
    ----------
    relief : the finished buck seen down the pull; where it is empty lies the platen, z = 0
    min_depth_mm : a pocket counts from this depth on, > 0.02; see `least_pocket_depth_mm`
    sharpest_radius_mm : of the sheet at full vacuum, about its thickness, > 0
    foot_mm : height of the flange; ground up to it that is connected to the outside is vented by the base
    vented_mask : (ny, nx) bool, shape of the relief, further pixels from which air can leave
    gap_to_frame_mm : platen between buck and clamp frame, >= 0; three quarters of the height if not given
        (common practice, no source)
    work_px : longest side of the raster that the sheet is solved on, 16 to 1024
    tick : called with the share done, 0 to 1

    Returns
    -------
    Pockets : largest volume first

    Raises
    ------
    InputError
        A size is not positive, the mask does not fit, or the raster is out of range.

    Notes
    -----
    Obstacle problem at a geometric series of pressures (`taut_sheet`), then the free regions that lose their
    way out (`sealed_places`). Closed basins of the relief that this leaves without a vent are added: mostly
    those at the bottom of holes too steep for the small-slope sheet. A depth is read at the first step after
    sealing, so it may be low by as much as the sheet sinks in one step.
    A pocket must also be deeper than the raster is rough there (how far a pixel lies below its opposite
    neighbours), or a slanting valley would break up into pits: where walls are steep, raise `work_px` to find
    smaller pockets.
    """
    if not min_depth_mm > AIRTIGHT_MM:
        raise InputError(f"min_depth_mm must be over {AIRTIGHT_MM}, got {min_depth_mm}")
    if not sharpest_radius_mm > 0.0:
        raise InputError(f"sharpest_radius_mm must be over 0, got {sharpest_radius_mm}")
    grid = work_grid(
        relief, work_px=work_px, foot_mm=foot_mm, vented_mask=vented_mask, gap_to_frame_mm=gap_to_frame_mm
    )
    sheet = taut_sheet(grid.height, pixel_mm=grid.pixel_mm, sharpest_radius_mm=sharpest_radius_mm, tick=tick)
    return _collect(grid, sheet, min_depth_mm=min_depth_mm, foot_mm=foot_mm)


def _collect(grid: WorkGrid, sheet: TautSheet, *, min_depth_mm: float, foot_mm: float) -> Pockets:
    places, open_air = sealed_places(
        sheet.gap_mm, vented=grid.vented, rough_mm=grid.rough_mm, least_depth_mm=min_depth_mm
    )
    basins = closed_basins(grid.height, drained=open_air, least_depth=min_depth_mm)
    pits = [_basin_place(grid, basin, len(sheet.gap_mm)) for basin in basins]
    places += [pit for pit in pits if pit.gap_mm.max() >= _stands_out(grid, pit, min_depth_mm)]
    places_by_size = sorted(range(len(places)), key=lambda n: (-places[n].gap_mm.sum(), n))
    number = {n: rank + 1 for rank, n in enumerate(places_by_size)}
    label = np.zeros(grid.height.shape, np.int32)
    gap = np.zeros(grid.height.shape)
    for n, place in enumerate(places):  # in order of sealing: a pocket that closes later lies inside
        label[place.rows, place.columns] = number[n]
        gap[place.rows, place.columns] = place.gap_mm
    return Pockets(
        pockets=tuple(_pocket(grid, places[n], number[n]) for n in places_by_size),
        origin=grid.origin,
        pixel_mm=grid.pixel_mm,
        label=label,
        gap_mm=gap,
        reach=contact_order(sheet.gap_mm),
        sheet=sheet,
        min_depth_mm=min_depth_mm,
        foot_mm=foot_mm,
        _grid=grid,
    )


def _stands_out(grid: WorkGrid, place: Sealed, min_depth_mm: float) -> float:
    return stands_out_mm(grid.rough_mm[place.rows, place.columns], min_depth_mm)


def _basin_place(grid: WorkGrid, basin: Basin, step: int) -> Sealed:
    rows, columns = np.nonzero(basin.region)
    row, column = divmod(basin.bottom, grid.height.shape[1])
    return Sealed(step, rows, columns, basin.spill - grid.height[rows, columns], (row, column))


def _pocket(grid: WorkGrid, place: Sealed, label: int) -> Pocket:
    row, column = np.average(np.stack([place.rows, place.columns]), axis=1, weights=place.gap_mm)
    nearest = int(np.argmin(np.round(np.hypot(place.rows - row, place.columns - column), 6)))
    area = grid.pixel_mm**2
    return Pocket(
        centre_mm=grid.point(int(place.rows[nearest]), int(place.columns[nearest])),
        deepest_mm=grid.point(*place.deepest),
        depth_mm=float(place.gap_mm.max()),
        volume_mm3=float(place.gap_mm.sum() * area),
        area_mm2=float(len(place.rows) * area),
        sealed_at=place.step,
        label=label,
    )


def vent_points(
    pockets: Pockets, *, spacing_mm: float = VENT_SPACING_MM, given: NDArray[np.float64] | None = None
) -> list[tuple[int, tuple[float, float, float]]]:
    """Where to vent: each pocket at its deepest point, and more along a long or wide floor.

    Parameters
    ----------
    pockets : from `find_pockets`
    spacing_mm : no place on a floor lies farther than this from a vent, > 0
    given : (K, 2) float64, mm, optional
        Vents that are there already, as along the foot: a pocket that some lie in gets more only where its
        floor is farther than the spacing from them.

    Returns
    -------
    list of (int, (x, y, z)) : index into ``pockets.pockets`` and point on the relief in mm, pocket by pocket;
    the first of each pocket without given vents is its ``deepest_mm``

    Raises
    ------
    InputError
        The spacing is not positive.

    Notes
    -----
    Farthest-point sampling over the pixels of the floor (at least half the depth and not below the minimum
    depth), each moved to the deepest pixel nearby, if that is lower ground. A pocket inside another has its
    own floor. Deterministic.
    """
    if not spacing_mm > 0.0:
        raise InputError(f"spacing_mm must be over 0, got {spacing_mm}")
    there = np.zeros((0, 2)) if given is None else np.asarray(given, np.float64).reshape(-1, 2)
    inside = pockets.pocket_at(there)
    chosen = []
    for index, pocket in enumerate(pockets.pockets):
        points = _floor_points(pockets, pocket, spacing_mm, there[inside == index])
        chosen += [(index, point) for point in points]
    return chosen


def _floor_points(
    pockets: Pockets, pocket: Pocket, spacing_mm: float, given: NDArray[np.float64]
) -> list[tuple[float, float, float]]:
    grid = pockets._grid
    least = max(_FLOOR_SHARE * pocket.depth_mm, pockets.min_depth_mm)
    pixels = np.argwhere((pockets.label == pocket.label) & (pockets.gap_mm >= least))
    points = [] if len(given) else [pocket.deepest_mm]
    if not len(pixels):
        return points
    places = pockets.origin + (pixels[:, ::-1] + 0.5) * pockets.pixel_mm
    gaps = pockets.gap_mm[pixels[:, 0], pixels[:, 1]]
    heights = grid.height[pixels[:, 0], pixels[:, 1]]
    first = given if len(given) else np.array([pocket.deepest_mm[:2]])
    away = np.asarray(cKDTree(first).query(places)[0])
    while away.max() > spacing_mm:
        far = int(np.argmax(np.round(away, 6)))
        from_far = np.hypot(*(places - places[far]).T)
        # The sheet's own curve makes the gap grow towards the middle of a flat floor: no reason to move.
        lower = (heights < heights[far] - AIRTIGHT_MM) & (gaps > gaps[far])
        near = np.flatnonzero((from_far <= _SNAP_SHARE * spacing_mm) & lower)
        at = far if not len(near) else near[int(np.argmax(np.round(gaps[near], 6)))]
        points.append(grid.point(int(pixels[at, 0]), int(pixels[at, 1])))
        away = np.minimum(away, np.hypot(*(places - places[at]).T))
    return points
