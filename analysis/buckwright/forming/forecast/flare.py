"""Where the formed sheet leaves the wall above the foot: the flare, which the trim line must clear."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_erosion
from scipy.spatial import cKDTree

from buckwright.forming.forecast.thresholds import CLEAR_MM
from buckwright.relief.raster import Relief

__all__ = ["Flare", "flare_at", "stand_off_mm"]

# House rules, all three.
_SEEN_SHARE = 0.02  # of the trim line; less is a node or two
_MOST_SHARE = 0.5  # of the height above the trim line is searched for a better one
_STEPS = 24  # steps of that search
_DOWN = 8  # steps in which the clear height below the trim line is looked for


@dataclass(frozen=True, slots=True)
class Flare:
    """How far off the wall the sheet is at the trim line.

    Attributes
    ----------
    stands_off_mm : largest distance from the wall
    share : share of the length of the trim line along which the sheet is off the wall
    clear_mm : how much higher the sheet lies on the wall all round; None if nowhere in the lower half of the
        part
    margin_mm : how far under the trim line the sheet still lies on the wall all round, looked for down to
        `CLEAR_MM`; None where there is no riser under it
    at_mm : (3,) where it leaves the wall first, or stands off farthest; None where it does not
    """

    stands_off_mm: float
    share: float
    clear_mm: float | None
    margin_mm: float | None = None
    at_mm: tuple[float, float, float] | None = None

    @property
    def matters(self) -> bool:
        """Whether trimming at that height would take part of the flare along."""
        return self.share > _SEEN_SHARE

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json.

        Returns
        -------
        dict : the attributes
        """
        place = None if self.at_mm is None else list(self.at_mm)
        told = {"stands_off_mm": self.stands_off_mm, "share": self.share, "clear_mm": self.clear_mm}
        return told | {"margin_mm": self.margin_mm, "nearest_flare_mm": place}


def stand_off_mm(
    points: NDArray[np.float64], triangles: NDArray[np.int32], relief: Relief, z_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far a sheet cut at a height is off the buck that rises to that height.

    Parameters
    ----------
    points : (N, 3) float64, mm, the formed sheet
    triangles : (T, 3) int32
    relief : the buck with its base
    z_mm : height of the cut

    Returns
    -------
    (K,) float64, (K,) float64 : for each piece of the cut its distance in plan to the nearest pixel of the
    relief that is as high, and its length, mm

    Notes
    -----
    The distance is short by up to a pixel and never long by more than half of one.
    """
    away, length, _ = _pieces(points, triangles, relief, z_mm)
    return away, length


def _pieces(
    points: NDArray[np.float64], triangles: NDArray[np.int32], relief: Relief, z_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Distance, length and middle (2,) of each piece of the cut."""
    pieces = _cut(points, triangles, z_mm)
    high = relief.height >= z_mm
    if not len(pieces) or not high.any():
        return np.zeros(0), np.zeros(0), np.zeros((0, 2))
    middles = pieces.mean(1)
    # the nearest high pixel is one at the rim of the high ones, except for pieces right above them
    centres, under = relief.centres(), relief.pixel_of(middles)
    rim = centres[high & ~binary_erosion(high)]
    away = np.maximum(cKDTree(rim).query(middles)[0] - 0.5 * relief.pixel_mm, 0.0)
    inside = np.abs(centres[under] - middles).max(1) <= 0.5 * relief.pixel_mm * (1.0 + 1e-9)
    away[inside & high[under]] = 0.0
    return away, np.linalg.norm(pieces[:, 1] - pieces[:, 0], axis=1), middles


def flare_at(
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    relief: Relief,
    *,
    trim_mm: float,
    tolerance_mm: float,
    floor_mm: float | None = None,
) -> Flare:
    """Judge the sheet at the trim line.

    Parameters
    ----------
    points, triangles : (N, 3) float64, mm and (T, 3) int32, the formed sheet over the same zero as the relief
    relief : the buck with its base
    trim_mm : height of the trim line
    tolerance_mm : smaller distances count as touching; the sheet's mesh cuts round walls by up to a quarter
        of a cell
    floor_mm : upper side of the flange, down to which the riser reaches; None to leave the margin out

    Returns
    -------
    Flare
    """
    away, length, middles = _pieces(points, triangles, relief, trim_mm)
    share = _share(away, length, tolerance_mm)
    far = float(away.max(initial=0.0))
    if share <= _SEEN_SHARE:
        lies = Flare(far, share, 0.0)
        if floor_mm is None or floor_mm >= trim_mm:
            return lies
        return _margin(lies, points, triangles, relief, trim_mm, floor_mm, tolerance_mm)
    x, y = middles[int(np.argmax(away))].tolist()
    off = Flare(far, share, None, 0.0, (x, y, trim_mm))
    rise = _MOST_SHARE * (float(relief.height.max()) - trim_mm)
    for higher in np.linspace(0.0, rise, _STEPS + 1)[1:]:
        if _share(*stand_off_mm(points, triangles, relief, trim_mm + higher), tolerance_mm) <= _SEEN_SHARE:
            return replace(off, clear_mm=float(higher))
    return off


def _margin(
    flare: Flare,
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    relief: Relief,
    trim_mm: float,
    floor_mm: float,
    tolerance_mm: float,
) -> Flare:
    """How far down the sheet stays on the wall: above the flange, and no farther than is wanted."""
    clear = 0.0
    for down in np.linspace(0.0, CLEAR_MM, _DOWN + 1)[1:].tolist():
        z = trim_mm - down
        away, length, middles = _pieces(points, triangles, relief, z)
        if z <= floor_mm or _share(away, length, tolerance_mm) > _SEEN_SHARE:
            x, y = middles[int(np.argmax(away))].tolist()
            return replace(flare, margin_mm=clear, at_mm=(x, y, z))
        clear = down
    return replace(flare, margin_mm=clear)


def _share(away: NDArray[np.float64], length: NDArray[np.float64], tolerance_mm: float) -> float:
    total = float(length.sum())
    return float(length[away > tolerance_mm].sum()) / total if total > 0.0 else 0.0


def _cut(points: NDArray[np.float64], triangles: NDArray[np.int32], z_mm: float) -> NDArray[np.float64]:
    """Pieces in plan (K, 2, 2) where a level plane cuts the triangles."""
    high = points[triangles, 2] >= z_mm
    crossing = triangles[(high.sum(1) % 3) != 0]
    high = points[crossing, 2] >= z_mm
    # the corner alone on its side of the plane, and the other two
    alone = np.argmax(high == (high.sum(1) == 1)[:, None], axis=1)
    rows = np.arange(len(crossing))
    a = points[crossing[rows, alone]]
    ends = []
    for k in (1, 2):
        b = points[crossing[rows, (alone + k) % 3]]
        t = (z_mm - a[:, 2]) / (b[:, 2] - a[:, 2])
        ends.append(a[:, :2] + t[:, None] * (b[:, :2] - a[:, :2]))
    return np.stack(ends, axis=1) if len(crossing) else np.zeros((0, 2, 2))
