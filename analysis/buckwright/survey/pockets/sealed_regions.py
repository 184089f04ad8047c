"""Find regions that a descending sheet seals; vent each one as it is found."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

__all__ = ["AIRTIGHT_MM", "Sealed", "contact_order", "sealed_places", "stands_out_mm"]

# A slit this high, 5 mm wide and 1 mm long passes w h^3 dp / 12 mu l = 0.009 L/s of air at 50 kPa (plane
# Poiseuille flow, derived): a seventeenth of a 1 mm hole. At 0.05 mm it would pass as much as the hole.
AIRTIGHT_MM = 0.02
_OVER_ROUGH = 1.1


@dataclass(frozen=True, slots=True, eq=False)
class Sealed:
    """One region that lost its way out.

    Attributes
    ----------
    step : index of the first step at which it is closed
    rows, columns : (n,) int64, its pixels at that step
    gap_mm : (n,) float64, sheet above relief at that step
    deepest : (row, column) of the greatest gap, the one nearest the middle among equals
    """

    step: int
    rows: NDArray[np.int64]
    columns: NDArray[np.int64]
    gap_mm: NDArray[np.float64]
    deepest: tuple[int, int]


def stands_out_mm(rough_mm: NDArray[np.float64], least_depth_mm: float) -> float:
    """Depth from which a region is more than an artefact of the raster.

    Parameters
    ----------
    rough_mm : (n,) float64, roughness of the region's pixels, see `WorkGrid`
    least_depth_mm : minimum depth of a pocket

    Returns
    -------
    float : mm, >= `least_depth_mm`

    Notes
    -----
    1.1 times the median roughness. A straight valley that runs across the pixels breaks into a row of pits,
    each as deep as its walls rise within 0.71 pixel; measured on V grooves at 0 to 60 degrees.
    """
    return max(least_depth_mm, _OVER_ROUGH * float(np.median(rough_mm)))


def contact_order(gap_mm: NDArray[np.float32]) -> NDArray[np.int32]:
    """Step at which each pixel is touched.

    Parameters
    ----------
    gap_mm : (K, ny, nx) float32, sheet above relief, falling from step to step

    Returns
    -------
    (ny, nx) int32; K where the sheet never arrives
    """
    return (gap_mm > AIRTIGHT_MM).sum(0, dtype=np.int32)


def sealed_places(
    gap_mm: NDArray[np.float32],
    *,
    vented: NDArray[np.bool_],
    rough_mm: NDArray[np.float64],
    least_depth_mm: float,
) -> tuple[list[Sealed], NDArray[np.bool_]]:
    """Follow the free regions through the steps.

    Parameters
    ----------
    gap_mm : (K, ny, nx) float32, sheet above relief, falling from step to step
    vented : (ny, nx) bool, pixels from which air can always leave
    rough_mm : (ny, nx) float64, how far a pixel lies below the middle of two opposite neighbours
    least_depth_mm : a closed region counts when its greatest gap is at least this and stands out of the
        raster

    Returns
    -------
    list of Sealed, (ny, nx) bool : the regions in the order of sealing, and the vented pixels with the
    deepest pixel of each region added

    Notes
    -----
    A free pixel loses its way out when the widest path to any vented pixel (the one whose earliest contact is
    latest) is cut before the pixel itself is touched. On ordered steps that means: its component of the
    pixels still free contains no vented pixel. Each region found is vented at its deepest point, so what
    splits off from that vent later (the other bowl, the corner around a floor) counts again only if it is
    still deep enough: the minimum depth is the persistence in the merge tree of contact. Air passes between
    edge neighbours only, so a diagonal rim one pixel wide still seals.
    """
    open_air = vented.copy()
    found: list[Sealed] = []
    for step in range(len(gap_mm)):
        gap = gap_mm[step]
        labels, _ = ndimage.label((gap > AIRTIGHT_MM) | open_air)
        closed = np.setdiff1d(labels[gap >= least_depth_mm], labels[open_air])
        boxes = ndimage.find_objects(labels) if len(closed) else []
        for label in closed.tolist():
            box = boxes[label - 1] or (slice(None), slice(None))
            rows, columns = np.nonzero(labels[box] == label)
            rows, columns = rows + (box[0].start or 0), columns + (box[1].start or 0)
            if gap[rows, columns].max() < stands_out_mm(rough_mm[rows, columns], least_depth_mm):
                continue
            place = _place(step, rows, columns, gap)
            open_air[place.deepest] = True
            found.append(place)
    return found, open_air


def _place(
    step: int, rows: NDArray[np.int64], columns: NDArray[np.int64], gap_mm: NDArray[np.float32]
) -> Sealed:
    gap = gap_mm[rows, columns].astype(np.float64)
    # Rounding must not choose among the pixels of a flat floor: all within a thousandth count, and the one
    # nearest the middle wins.
    candidates = np.flatnonzero(gap >= (1.0 - 1e-3) * gap.max())
    row, column = np.average(rows, weights=gap), np.average(columns, weights=gap)
    away = np.hypot(rows[candidates] - row, columns[candidates] - column)
    chosen = candidates[np.argmin(np.round(away, 6))]
    return Sealed(step, rows, columns, gap, (int(rows[chosen]), int(columns[chosen])))
