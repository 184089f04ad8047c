"""A taut sheet drawn down over the relief at growing pressure: what it touches when, and how far off it is.

It is a soap film over an obstacle, not a forecast of the plastic: no thinning, no sticking, small slopes.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from buckwright.kernel import kernel

__all__ = ["TautSheet", "curvature_ladder", "lower_sheet", "taut_sheet"]

_STEP = 1.15  # growth of pressure per step; at 1.35 a pocket 0.57 mm deep on the side of a nose was missed
_FIRST_SAG = 0.25  # sag at the first pressure of a strip as wide as the frame, over the height of the relief
_PRESSURE_ERROR = 0.005  # the sheet found is the exact one of a pressure field at most this share off
_SWEEPS = 12  # between two checks of the error
_MOST_SWEEPS = 40_000
_COARSEST = 24
# A free region settles more slowly than a strip of its inner radius; of 0.5 to 2.0 this needs fewest sweeps.
_WIDER = 1.4


@dataclass(frozen=True, slots=True, eq=False)
class TautSheet:
    """The sheet at every step, on the grid of the obstacle.

    Attributes
    ----------
    curvature_per_mm : (K,) float64, pressure over tension, rising from 0; the reciprocal of the radius that a
        long free strip takes
    gap_mm : (K, ny, nx) float32, sheet above obstacle; falls from step to step
    pressure_error_per_mm : (K,) float64, greatest local residual of the equilibrium in the unit of
        `curvature_per_mm`; the sheet lies between the exact ones of a curvature larger and smaller by this
        much
    """

    curvature_per_mm: NDArray[np.float64]
    gap_mm: NDArray[np.float32]
    pressure_error_per_mm: NDArray[np.float64]


@kernel
def _relax(u, h, nodes, width, load, omega, sweeps):  # type: ignore[no-untyped-def]
    """Projected over-relaxation of the listed nodes, `sweeps` times."""
    for _ in range(sweeps):
        for n in range(nodes.shape[0]):
            i = nodes[n]
            target = 0.25 * (u[i - 1] + u[i + 1] + u[i - width] + u[i + width]) - load
            moved = u[i] + omega * (target - u[i])
            u[i] = moved if moved > h[i] else h[i]


@kernel
def _misfit(u, h, nodes, width, load):  # type: ignore[no-untyped-def]
    """Greatest residual of equilibrium (free nodes) or of the contact condition (nodes that should lift)."""
    worst = 0.0
    for n in range(nodes.shape[0]):
        i = nodes[n]
        pull = 0.25 * (u[i - 1] + u[i + 1] + u[i - width] + u[i + width]) - load - u[i]
        if u[i] > h[i]:
            pull = abs(pull)
        worst = max(worst, pull)
    return worst


def curvature_ladder(*, span_mm: float, height_mm: float, sharpest_radius_mm: float) -> NDArray[np.float64]:
    """Series of pressures at which the sheet is solved: 0, then geometric up to 1 / sharpest radius.

    Parameters
    ----------
    span_mm : shorter side of the frame, > 0
    height_mm : height of the relief, >= 0
    sharpest_radius_mm : radius at the last pressure, > 0

    Returns
    -------
    (K,) float64, pressure over tension, 1/mm; only 0 where the relief is flat
    """
    last = 1.0 / sharpest_radius_mm
    first = min(8.0 * _FIRST_SAG * height_mm / span_mm**2, last)
    if not first > 0.0:
        return np.zeros(1)
    count = max(int(np.ceil(np.log(last / first) / np.log(_STEP))), 1) + 1
    return np.concatenate([[0.0], np.geomspace(first, last, count)])


def lower_sheet(
    sheet: NDArray[np.float64],
    obstacle: NDArray[np.float64],
    *,
    pixel_mm: float,
    curvature_per_mm: float,
    error_per_mm: float,
) -> tuple[NDArray[np.float64], float]:
    """Solve one obstacle problem from a start above its solution; the border keeps its height.

    Parameters
    ----------
    sheet : (ny, nx) float64, a start at or above the obstacle; nodes that touch stay in contact for good,
        which holds when the start is the solution at a lower pressure
    obstacle : (ny, nx) float64, heights, mm
    pixel_mm : grid step
    curvature_per_mm : pressure over tension, >= 0
    error_per_mm : stop when the residual of equilibrium is at most this, in the unit of the curvature

    Returns
    -------
    (ny, nx) float64, float : heights of the sheet, mm, and the residual reached

    Notes
    -----
    Projected successive over-relaxation (C. W. Cryer, SIAM J. Control 9, 1971, from memory) in red-black
    order over the nodes that are still free, over-relaxed for the widest free region. The residual is a true
    error bound: the result solves exactly a problem whose pressure is off by the residual, and by the
    comparison principle lies between the sheets of the pressure plus and minus it. The size of a step bounds
    nothing.
    """
    u, h = sheet.ravel().copy(), np.ascontiguousarray(obstacle).ravel()
    rows, columns = obstacle.shape
    inner = np.zeros((rows, columns), np.bool_)
    inner[1:-1, 1:-1] = True
    free = inner & (sheet > obstacle)
    if not free.any():
        return sheet.copy(), 0.0
    parity = np.add.outer(np.arange(rows), np.arange(columns)) % 2 == 0
    nodes = np.concatenate([np.flatnonzero(free & parity), np.flatnonzero(free & ~parity)]).astype(np.int64)
    judged = np.flatnonzero(inner).astype(np.int64)  # nodes in contact might have to lift
    reach = _WIDER * float(ndimage.distance_transform_edt(free).max())
    omega = 2.0 / (1.0 + np.sin(np.pi / (2.0 * reach + 2.0)))
    load = 0.25 * curvature_per_mm * pixel_mm**2
    unit = 4.0 / pixel_mm**2
    misfit = np.inf
    for _ in range(_MOST_SWEEPS // _SWEEPS):
        _relax(u, h, nodes, columns, load, omega, _SWEEPS)
        misfit = unit * float(_misfit(u, h, judged, columns, load))
        if misfit <= error_per_mm:
            break
    return u.reshape(rows, columns), misfit


def taut_sheet(
    obstacle: NDArray[np.float64],
    *,
    pixel_mm: float,
    sharpest_radius_mm: float,
    tick: Callable[[float], None] | None = None,
) -> TautSheet:
    """Draw a sheet down over an obstacle; it is clamped along the border, at the height that it finds there.

    Parameters
    ----------
    obstacle : (ny, nx) float64, mm, finite
    pixel_mm : grid step
    sharpest_radius_mm : radius at the last pressure, > 0
    tick : called with the share done, 0 to 1

    Returns
    -------
    TautSheet : one layer per pressure of `curvature_ladder`

    Notes
    -----
    Time grows with the number of pixels times the width of the widest free region in pixels.
    """
    rows, columns = obstacle.shape
    height = float(np.ptp(obstacle)) if obstacle.size else 0.0
    span = max(min(rows, columns) - 1, 1) * pixel_mm
    ladder = curvature_ladder(span_mm=span, height_mm=height, sharpest_radius_mm=sharpest_radius_mm)
    gaps = np.zeros((len(ladder), rows, columns), np.float32)
    errors = np.zeros(len(ladder))
    if min(rows, columns) < 3 or height == 0.0:
        return TautSheet(ladder, gaps, errors)
    lowest = _PRESSURE_ERROR * float(ladder[1])
    sheet = _draped(obstacle, pixel_mm, lowest)
    for step, curvature in enumerate(ladder):
        bound = max(lowest, _PRESSURE_ERROR * float(curvature))
        sheet, errors[step] = lower_sheet(
            sheet, obstacle, pixel_mm=pixel_mm, curvature_per_mm=float(curvature), error_per_mm=bound
        )
        gaps[step] = sheet - obstacle
        if tick is not None:
            tick((step + 1) / len(ladder))
    return TautSheet(ladder, gaps, errors)


def _draped(obstacle: NDArray[np.float64], pixel_mm: float, error_per_mm: float) -> NDArray[np.float64]:
    """A start for the sheet without pressure from a coarser grid: wide free regions then need few sweeps."""
    rows, columns = obstacle.shape
    start = np.full_like(obstacle, obstacle.max())
    if min(rows, columns) > 2 * _COARSEST:
        padded = np.pad(obstacle, ((0, rows % 2), (0, columns % 2)), mode="edge")
        coarse = padded.reshape(padded.shape[0] // 2, 2, padded.shape[1] // 2, 2).max((1, 3))
        above = _draped(coarse, 2.0 * pixel_mm, error_per_mm)
        above, _ = lower_sheet(
            above, coarse, pixel_mm=2.0 * pixel_mm, curvature_per_mm=0.0, error_per_mm=error_per_mm
        )
        start = np.maximum(np.kron(above, np.ones((2, 2)))[:rows, :columns], obstacle)
        start += (
            1e-6 * pixel_mm
        )  # contact on the coarse grid need not be contact on this one: leave every node free
    start[[0, -1], :] = obstacle[[0, -1], :]
    start[:, [0, -1]] = obstacle[:, [0, -1]]
    return start
