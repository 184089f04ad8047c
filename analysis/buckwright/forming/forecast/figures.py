"""Figures of a formed sheet that do not hang on single nodes, and the order of contact."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from buckwright.forming.forecast.disc_means import may_be_least
from buckwright.forming.forecast.formed import CLAMPED, Formed
from buckwright.forming.forecast.part import Part
from buckwright.forming.forecast.thresholds import DISC_MM, THIN_SHARE

__all__ = [
    "PERCENTILES",
    "Figures",
    "figures_of",
    "order_of_contact",
    "percentiles",
    "weakest_spot",
]

PERCENTILES = (5, 25, 50, 75, 95)
"""Percentiles of the thickness of the part, by area."""
_CANDIDATES = 0.1  # share of the part, its thinnest, that the middle of the weakest disc is looked for in
_SAMPLE_MM = 1.0  # triangles are sampled at least so finely


@dataclass(frozen=True, slots=True)
class Figures:
    """Thickness of the part where it is known.

    Attributes
    ----------
    thin_mm : 5 % of the part is thinner
    weakest_mm, weakest_at_mm : the least mean over a disc of 10 mm, and its middle (3,)
    percentiles_mm : by area, at the `PERCENTILES`
    mean_mm : by area
    areal_draw_ratio : formed over flat area
    not_known_share : share of the part left out, because the sheet folds, tears or bridges there
    """

    thin_mm: float
    weakest_mm: float
    weakest_at_mm: tuple[float, float, float]
    percentiles_mm: tuple[float, ...]
    mean_mm: float
    areal_draw_ratio: float
    not_known_share: float

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json."""
        names = (f"{p}" for p in PERCENTILES)
        return {
            "thin": {"mm": self.thin_mm, "share_of_part": THIN_SHARE},
            "weakest": {"mm": self.weakest_mm, "where_mm": list(self.weakest_at_mm), "disc_mm": DISC_MM},
            "thickness_percentiles_mm": dict(zip(names, self.percentiles_mm, strict=True)),
            "mean_mm": self.mean_mm,
            "areal_draw_ratio": self.areal_draw_ratio,
            "not_known_share": self.not_known_share,
        }


def figures_of(
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    part: Part,
    thickness_mm: NDArray[np.float64],
    area_mm2: NDArray[np.float64],
    volume_mm3: NDArray[np.float64],
    sheet_mm: float,
) -> Figures:
    """The figures of a part.

    Parameters
    ----------
    points, triangles : (N, 3) float64, mm; (T, 3) int32, the formed sheet
    part : its triangles
    thickness_mm : (N,) float64
    area_mm2, volume_mm3 : (T,) float64, of each triangle
    sheet_mm : thickness of the flat sheet

    Returns
    -------
    Figures
    """
    known = part.known
    share = np.bincount(triangles[known].ravel(), np.repeat(area_mm2[known] / 3.0, 3), len(points))
    total, volume = float(area_mm2[known].sum()), float(volume_mm3[known].sum())
    thin, *levels = percentiles(thickness_mm, share, (100 * THIN_SHARE, *PERCENTILES))
    weakest, where = weakest_spot(points[triangles[known]], volume_mm3[known])
    return Figures(
        thin_mm=thin,
        weakest_mm=weakest,
        weakest_at_mm=where,
        percentiles_mm=tuple(levels),
        mean_mm=volume / total,
        areal_draw_ratio=total * sheet_mm / volume,
        not_known_share=1.0 - total / float(area_mm2[part.whole].sum()),
    )


def weakest_spot(
    corners: NDArray[np.float64], volume_mm3: NDArray[np.float64]
) -> tuple[float, tuple[float, float, float]]:
    """The least mean thickness over a disc, volume over area, and its middle.

    Parameters
    ----------
    corners : (T, 3, 3) float64, mm, triangles of the part; at least one
    volume_mm3 : (T,) float64

    Returns
    -------
    float, (x, y, z) : mm

    Notes
    -----
    All within half the diameter counts, so on a ridge or in a groove both its sides. Triangles are split into
    samples about a millimetre apart, so that the disc is as round on a coarse net as on a fine one.
    """
    places, area, volume = _samples(corners, volume_mm3)
    order = np.argsort(volume / area)
    passed = np.cumsum(area[order])
    tried = order[: int(np.searchsorted(passed, _CANDIDATES * passed[-1])) + 1]
    # one middle, the thinnest, in each cube of half a sample's size: within it the mean hardly changes
    cubes = np.floor(places[tried] / (0.5 * _SAMPLE_MM)).astype(np.int64)
    tried = tried[np.sort(np.unique(cubes, axis=0, return_index=True)[1])]
    tried = tried[may_be_least(places, area, volume, tried, radius_mm=0.5 * DISC_MM)]
    tree = cKDTree(places)
    near: Any = tree.query_ball_point(places[tried], 0.5 * DISC_MM, return_sorted=False)
    counts = np.array([len(some) for some in near])
    all_near = np.concatenate([np.asarray(some, np.int64) for some in near])
    begin = np.concatenate([[0], np.cumsum(counts)[:-1]])
    mean = np.add.reduceat(volume[all_near], begin) / np.add.reduceat(area[all_near], begin)
    best = int(np.argmin(mean))
    x, y, z = places[tried[best]].tolist()
    return float(mean[best]), (x, y, z)


def _samples(
    corners: NDArray[np.float64], volume_mm3: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Middles (S, 3) of equal parts of each triangle, with the area and volume of each, (S,)."""
    a, b, c = corners.transpose(1, 0, 2)
    area = np.maximum(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1), 1e-12)
    longest = np.sqrt(np.max([((p - q) ** 2).sum(1) for p, q in ((a, b), (b, c), (c, a))], axis=0))
    pieces = np.maximum(np.ceil(longest / _SAMPLE_MM), 1).astype(np.int64)
    found = []
    for n in np.unique(pieces):
        which = pieces == n
        weights = _centroids(int(n))
        places = np.einsum("sk,tkx->tsx", weights, corners[which]).reshape(-1, 3)
        each = np.repeat(which.nonzero()[0], len(weights))
        found.append((places, area[each] / n**2, volume_mm3[each] / n**2))
    places, areas, volumes = (np.concatenate(part) for part in zip(*found, strict=True))
    return places, areas, volumes


def _centroids(n: int) -> NDArray[np.float64]:
    """Barycentric middles of the n^2 equal parts of a triangle."""
    i, j = (v.ravel() for v in np.meshgrid(np.arange(n), np.arange(n), indexing="ij"))
    up = i + j < n
    down = i + j < n - 1
    first = np.concatenate([i[up] + 1.0 / 3.0, i[down] + 2.0 / 3.0]) / n
    second = np.concatenate([j[up] + 1.0 / 3.0, j[down] + 2.0 / 3.0]) / n
    return np.stack([1.0 - first - second, first, second], axis=1)


def percentiles(
    values: NDArray[np.float64], weights: NDArray[np.float64], levels: tuple[float, ...]
) -> tuple[float, ...]:
    """Values below which given percentages of the weight lie.

    Parameters
    ----------
    values, weights : (N,) float64, N >= 1; weights >= 0, not all 0
    levels : per cent, 0 to 100

    Returns
    -------
    tuple of float : one value per level, each one of `values`

    Examples
    --------
    >>> import numpy as np
    >>> percentiles(np.array([3.0, 1.0, 2.0]), np.ones(3), (5, 50, 95))
    (1.0, 2.0, 3.0)
    """
    order = np.argsort(values)
    passed = np.cumsum(weights[order])
    places = np.searchsorted(passed, np.array(levels) / 100.0 * passed[-1])
    return tuple(float(values[order[min(int(k), len(order) - 1)]]) for k in places)


def order_of_contact(formed: Formed) -> NDArray[np.float64]:
    """Step of contact as a share of all steps; the moment of landing counts, not the seconds.

    Parameters
    ----------
    formed : the run

    Returns
    -------
    (N,) float64, 0 to 1; -1 in the frame, nan where the sheet never arrives
    """
    order = formed.touched / max(len(formed.pressure_per_mm), 1)
    order[formed.state == CLAMPED] = -1.0
    order[~np.isfinite(formed.touched)] = np.nan
    return order
