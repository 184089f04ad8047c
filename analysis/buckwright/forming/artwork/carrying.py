"""Between flat sheet and part: where each piece of the sheet comes to lie, and how far to trust it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from buckwright.forming.artwork.painting import paint
from buckwright.forming.artwork.placing import Placed
from buckwright.forming.forecast.formed import FOLDED, OVERDRAWN
from buckwright.forming.forecast.part import FOLD_CELLS
from buckwright.forming.forecast.result import Forecast
from buckwright.forming.forecast.thickness import at_points, formed_area_mm2

__all__ = ["Carried", "carried_by"]


@dataclass(frozen=True, slots=True, eq=False)
class Carried:
    """The sheet, flat and formed.

    Attributes
    ----------
    flat : (N, 2) float64, mm, nodes in the flat sheet, around the middle of the opening
    formed : (N, 3) float64, mm, the same nodes on the buck
    triangles : (T, 3) int32
    part : (T,) bool, triangles of the part
    folded : (T,) bool, triangles near a fold or overdrawn: where they come to lie is not known
    opening_mm : width and depth of the opening
    middle_mm : (2,) float64, its middle in the frame of the buck
    """

    flat: NDArray[np.float64]
    formed: NDArray[np.float64]
    triangles: NDArray[np.int32]
    part: NDArray[np.bool_]
    folded: NDArray[np.bool_]
    opening_mm: tuple[float, float]
    middle_mm: NDArray[np.float64]

    @property
    def moved_mm(self) -> NDArray[np.float64]:
        """How far each node is carried sideways, (N,)."""
        return np.asarray(np.hypot(*(self.formed[:, :2] - self.middle_mm - self.flat).T))

    @property
    def folded_share(self) -> float:
        """Share of the part's area near folds."""
        area = formed_area_mm2(self.formed, self.triangles)
        whole = float(area[self.part].sum())
        return float(area[self.part & self.folded].sum()) / whole if whole else 0.0

    @property
    def farthest_mm(self) -> float:
        """How far a print on the part is carried sideways, at most, away from folds."""
        sure = np.unique(self.triangles[self.part & ~self.folded])
        return float(self.moved_mm[sure].max(initial=0.0))

    @property
    def mean_mm(self) -> float:
        """How far a print on the part is carried sideways on average, by area, away from folds."""
        sure = self.part & ~self.folded
        area = formed_area_mm2(self.formed, self.triangles)[sure]
        whole = float(area.sum())
        return float(area @ self.moved_mm[self.triangles[sure]].mean(axis=1)) / whole if whole else 0.0

    def flat_at(self, places: NDArray[np.float64]) -> NDArray[np.float64]:
        """Where points of the part lay in the flat sheet.

        Parameters
        ----------
        places : (M, 3) float64, mm, on or near the formed sheet

        Returns
        -------
        (M, 2) float64, mm, around the middle of the opening
        """
        x, y, _ = at_points(places, self.formed, self.triangles, *np.ascontiguousarray(self.flat.T))
        return np.column_stack([x, y])

    def pixels_of_flat(self, shape: tuple[int, int]) -> NDArray[np.float64]:
        """Columns and rows (N, 2) of the nodes in a picture of the whole opening, row 0 at the back.

        Parameters
        ----------
        shape : rows and columns
        """
        scale = np.array(shape[::-1]) / self.opening_mm
        return np.asarray((self.flat * [1.0, -1.0] + np.array(self.opening_mm) / 2.0) * scale)

    def onto_flat(
        self, picture: NDArray[np.uint8], placed: Placed, shape: tuple[int, int]
    ) -> NDArray[np.uint8]:
        """The picture as it must be printed so that the part shows it, seen from above.

        Parameters
        ----------
        picture : (h, w, 4) uint8
        placed : where it lies on the part
        shape : rows and columns of the whole opening

        Returns
        -------
        (rows, columns, 4) uint8, row 0 at the back
        """
        corners = self.pixels_of_flat(shape)
        source = placed.pixels_at(self.formed)
        return paint(corners[self.triangles], source[self.triangles], picture, shape)


def carried_by(run: Forecast, *, foot_mm: float) -> Carried:
    """The sheet of a forecast.

    Parameters
    ----------
    run : the forecast
    foot_mm : the part ends there
    """
    middle = (run.flat.min(axis=0) + run.flat.max(axis=0)) / 2.0
    low = run.points[run.triangles][:, :, 2].min(axis=1)
    part = run.on_buck[run.triangles].all(axis=1) & (low > foot_mm + 1e-6)
    size = np.ptp(run.flat, axis=0)
    return Carried(
        flat=run.flat - middle,
        formed=run.points,
        triangles=run.triangles,
        part=part,
        folded=_near_folds(run),
        opening_mm=(float(size[0]), float(size[1])),
        middle_mm=np.asarray(middle),
    )


def _near_folds(run: Forecast) -> NDArray[np.bool_]:
    """Triangles (T,) within `FOLD_CELLS` cells of one that is folded, turned over or overdrawn."""
    stuck = np.isin(run.formed.state, (FOLDED, OVERDRAWN))
    bad = run.formed.turned | stuck[run.triangles].any(axis=1)
    if not bad.any():
        return np.zeros(len(run.triangles), np.bool_)
    middles = run.points[run.triangles].mean(axis=1)
    cells = run.cells_mm[run.triangles].mean(axis=1)
    away, _ = cKDTree(middles[bad]).query(middles)
    return np.asarray(away <= FOLD_CELLS * cells)
