"""Closed basins of a relief: where water would stand, by a merge tree with a minimum depth."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from buckwright.kernel import kernel

__all__ = ["Basin", "closed_basins"]


@dataclass(frozen=True, slots=True, eq=False)
class Basin:
    """Ground below a spill point.

    Attributes
    ----------
    bottom : flat index of the lowest pixel
    spill : height at which it overflows, mm
    region : (ny, nx) bool, its pixels below the spill height
    """

    bottom: int
    spill: float
    region: NDArray[np.bool_]


@kernel
def _root(parent, i):  # type: ignore[no-untyped-def]
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


@kernel
def _merge_upwards(height, order, width, drained, least, bottoms, spills):  # type: ignore[no-untyped-def]
    """Union-find from the lowest pixel up; record each basin that is deep enough when it overflows."""
    parent = np.full(height.shape[0], -1, np.int64)
    found = 0
    for n in range(order.shape[0]):
        i = order[n]
        parent[i] = i
        column = i % width
        for k in range(4):
            if (k == 0 and column == 0) or (k == 1 and column == width - 1):
                continue
            j = i - 1 if k == 0 else i + 1 if k == 1 else i - width if k == 2 else i + width
            if j < 0 or j >= height.shape[0] or parent[j] < 0:
                continue
            a, b = _root(parent, i), _root(parent, j)
            if a == b:
                continue
            # A root is the lowest pixel of its set; the drained set, else the lower one, survives.
            if drained[b] > drained[a] or (
                drained[b] == drained[a] and (height[b] < height[a] or (height[b] == height[a] and b < a))
            ):
                a, b = b, a
            if drained[b] == 0 and height[i] - height[b] >= least:
                bottoms[found] = b
                spills[found] = height[i]
                found += 1
            parent[b] = a
    return found


def closed_basins(
    height: NDArray[np.float64], *, drained: NDArray[np.bool_], least_depth: float
) -> list[Basin]:
    """Find every closed basin of at least a minimum depth; air and water pass between edge neighbours only.

    Parameters
    ----------
    height : (ny, nx) float64, mm, finite
    drained : (ny, nx) bool, pixels where whatever flows in drains away
    least_depth : mm, > 0, persistence of a basin: spill height less bottom height

    Returns
    -------
    list of Basin : in the order in which they overflow; a basin inside another one is listed too

    Notes
    -----
    Sorted union-find, O(n log n); the lower of two meeting basins survives, so noise does not split a basin.
    In a relief without any drained pixel the lowest basin never overflows and is therefore not listed.
    """
    columns = height.shape[1]
    flat = np.ascontiguousarray(height).ravel()
    order = np.argsort(flat, kind="stable")
    bottoms, spills = np.zeros(flat.size, np.int64), np.zeros(flat.size)
    marks = np.ascontiguousarray(drained).ravel().astype(np.int8)
    found = int(_merge_upwards(flat, order, columns, marks, float(least_depth), bottoms, spills))
    basins = []
    for bottom, spill in zip(bottoms[:found].tolist(), spills[:found].tolist(), strict=True):
        labels, _ = ndimage.label(height < spill)
        basins.append(Basin(bottom, spill, labels == labels.flat[bottom]))
    return basins
