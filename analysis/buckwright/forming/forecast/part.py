"""Which triangles of the formed sheet are the part, and where their thickness is known."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from buckwright.forming.forecast.formed import FOLDED, FREE, LANDED, OVERDRAWN, Formed
from buckwright.forming.forecast.landing import LandingSurface
from buckwright.forming.forecast.membrane import Reference
from buckwright.relief.within import within

__all__ = ["FOLD_CELLS", "Part", "part_of"]

FOLD_CELLS = 3.0
"""Within so many cells of a fold the thickness is not known: what was frozen in it thins its neighbours."""


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """The part among the triangles of a sheet.

    Attributes
    ----------
    whole : (T,) bool, triangles on the buck above its foot
    known : (T,) bool, those of them whose thickness is known: not near a fold, not overdrawn, and the sheet
        lies on the buck
    """

    whole: NDArray[np.bool_]
    known: NDArray[np.bool_]


def part_of(
    formed: Formed,
    ref: Reference,
    ground: LandingSurface,
    *,
    on_buck: NDArray[np.bool_],
    foot_mm: float,
    rim: tuple[NDArray[np.float64], ...] = (),
    trim_mm: float | None = None,
) -> Part:
    """Find the part.

    Parameters
    ----------
    formed, ref, ground : the run, its stress-free sheet, what it fell on
    on_buck : (N,) bool, nodes over the buck
    foot_mm : the part ends there; triangles that cross it are trimmed off
    rim, trim_mm : outlines (M, 2) each, mm, and height of the trim line of a cavity, below which the part
        lies; then the foot counts for nothing

    Returns
    -------
    Part : never empty, as long as a node lies over the buck
    """
    points, triangles = formed.points, formed.grid.triangles
    low = points[triangles][:, :, 2].min(1)
    over = on_buck[triangles].all(1)
    if rim and trim_mm is not None:
        high = points[triangles][:, :, 2].max(1)
        whole = over & (high < trim_mm + 1e-6) & within(points, rim)[triangles].all(1)
    else:
        whole = over & (low > foot_mm + 1e-6)
    if not whole.any():
        whole = over if over.any() else on_buck[triangles].any(1)
    off = np.maximum(points[:, 2] - ground.at(points), 0.0) * ground.levelness(points)
    lies = (formed.state == LANDED) | ((formed.state == FREE) & (off <= formed.grid.cells_mm))
    known = whole & lies[triangles].all(1) & ~_near_folds(formed, ref)
    return Part(whole, known if known.any() else whole)


def _near_folds(formed: Formed, ref: Reference) -> NDArray[np.bool_]:
    """Triangles (T,) within `FOLD_CELLS` cells of one that is folded or overdrawn."""
    triangles = formed.grid.triangles
    stuck = np.isin(formed.state, (FOLDED, OVERDRAWN))
    bad = np.flatnonzero(formed.turned | stuck[triangles].any(1))
    if not len(bad):
        return np.zeros(len(triangles), np.bool_)
    middles = formed.points[triangles].mean(1)
    cells = np.sqrt(4.0 / np.sqrt(3.0) * ref.area_mm2)
    reach = FOLD_CELLS * float(cells[bad].max())
    tree = cKDTree(middles[bad])
    away, which = (np.asarray(found) for found in tree.query(middles, distance_upper_bound=reach))
    near = np.isfinite(away)
    near[near] = away[near] <= FOLD_CELLS * cells[bad[which[near]]]
    return np.asarray(near)
