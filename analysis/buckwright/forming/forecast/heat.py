"""How warm the sheet is over its frame, and how stiff that makes it."""

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RegularGridInterpolator

from buckwright.forming.forecast.heat_map import EVEN, rows_of
from buckwright.forming.forecast.sag import sagged
from buckwright.forming.forecast.sheet_grid import SheetGrid

__all__ = ["HALVES_C", "RIM_COLDER_C", "RISE_C", "colder_c", "rim_colder_of", "stiff_from"]

RIM_COLDER_C = 20.0
"""How much colder a sheet is at its clamp than in its middle, if nothing is known.

Between middle and rear at least 20 °C with the frame near the heater, at most 10 °C with it 50 mm lower
(Takahashi & Bando, Mater. Sci. Appl. 11 (2020) 431, 10.4236/msa.2020.117029, abstract read; EVA of 4 mm)."""
RISE_C = 130.0
"""From the room to the forming temperature, which a relative heat is a share of: about what the table of
sheets has for HIPS, ABS and PETG."""
HALVES_C = 10.0
"""Degrees that halve the stiffness of the hot sheet. From memory: the shift of Williams, Landel and Ferry 40
to 60 °C over the glass transition, to a power of a third, halves it over 6 to 14 °C."""


def rim_colder_of(given: float | None, *, heat_map: str, model: str) -> float:
    """How much colder the rim is where nothing is said of it.

    Parameters
    ----------
    given : as asked, °C, or None
    heat_map : the map of relative heat; it then says all
    model : the geometric one knows no heat

    Returns
    -------
    float : °C
    """
    if given is not None:
        return given
    return 0.0 if heat_map.strip() or model == "geometric" else RIM_COLDER_C


def colder_c(grid: SheetGrid, *, rim_colder_c: float = 0.0, heat_map: str = EVEN) -> NDArray[np.float64]:
    """How much colder than the middle of an evenly heated sheet each node is.

    Parameters
    ----------
    grid : the flat sheet
    rim_colder_c : how much colder it is at the clamp than in the middle, >= 0
    heat_map : relative heat over the frame, see `heat_map.rows_of`; its outermost values stand at the frame

    Returns
    -------
    (N,) float64, °C; below 0 where it is warmer

    Notes
    -----
    Towards the rim it cools like a skin that is heated evenly and held cold at its edge (Poisson's equation):
    with the square of the radius in a round frame.
    """
    colder = np.zeros(len(grid.nodes))
    if rim_colder_c:
        colder += rim_colder_c * (1.0 - sagged(grid, 1.0))
    values = np.array(rows_of(heat_map))
    if values.size > 1 or values[0, 0] != 1.0:
        colder += RISE_C * (1.0 - _over(values, grid))
    return colder


def _over(values: NDArray[np.float64], grid: SheetGrid) -> NDArray[np.float64]:
    """A map at the nodes, linear between its values."""
    low, high = grid.outline.min(0), grid.outline.max(0)
    values = np.repeat(values, 2, 0) if len(values) == 1 else values
    values = np.repeat(values, 2, 1) if values.shape[1] == 1 else values
    rows, columns = (np.linspace(0.0, 1.0, n) for n in values.shape)
    share = np.clip((grid.nodes - low) / (high - low), 0.0, 1.0)
    return np.asarray(RegularGridInterpolator((rows, columns), values)(share[:, ::-1]))


def stiff_from(colder: NDArray[np.float64], triangles: NDArray[np.int32]) -> NDArray[np.float64]:
    """Stiffness of each triangle over that of the sheet as warm as usual.

    Parameters
    ----------
    colder : (N,) float64, °C
    triangles : (T, 3) int32

    Returns
    -------
    (T,) float64, > 0
    """
    return np.asarray(2.0 ** (colder[triangles].mean(1) / HALVES_C))
