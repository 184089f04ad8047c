"""Where planes may cut along one axis: away from vents, and through as little detail as can be."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.adjacency import edge_table
from buckwright.mesh.triangles import Mesh

__all__ = ["STEP_MM", "Detail", "detail_of", "split_places"]

STEP_MM = 1.0
"""Spacing of the places that are tried."""
_NUDGES_MM = np.array(sorted(np.linspace(-0.45, 0.45, 19), key=abs))
"""How far places may move to keep off vents: a twentieth of a millimetre apart, well below what prints
(judgement)."""
_SHORT_MM = 25.0
"""Pieces shorter than this are avoided: they are hard to hold and glue. House rule."""
_SMOOTH = 3
_BARRED = 1e4
_FEWEST_MORE = 2
"""So many further pieces are tried before a plane may pass closer to a vent than wanted."""


@dataclass(frozen=True, slots=True, eq=False)
class Detail:
    """How much the surface bends, edge by edge.

    Attributes
    ----------
    at : (E, 3) float64, middles of the edges
    bend : (E,) float64, angle times length, rad mm
    """

    at: NDArray[np.float64]
    bend: NDArray[np.float64]

    def along(self, axis: int, places: NDArray[np.float64], inside: NDArray[np.bool_]) -> NDArray[np.float64]:
        """Bending of the surface within a step of each place, over its mean; (P,) float64."""
        edges = np.append(places - STEP_MM / 2.0, places[-1] + STEP_MM / 2.0)
        amount, _ = np.histogram(self.at[inside, axis], edges, weights=self.bend[inside])
        smooth = np.convolve(np.pad(amount, _SMOOTH // 2, mode="edge"), np.ones(_SMOOTH) / _SMOOTH, "valid")
        mean = float(smooth.mean())
        even: NDArray[np.float64] = smooth / mean if mean > 0.0 else np.zeros(len(places))
        return even


def detail_of(mesh: Mesh, *, above_mm: float) -> Detail:
    """The bending of a closed surface above a height, where a joint would show.

    Parameters
    ----------
    mesh : closed, mm
    above_mm : edges lower than this count for nothing

    Returns
    -------
    Detail
    """
    table = edge_table(mesh.faces)
    normals = mesh.area_vectors()
    normals = normals / np.maximum(np.linalg.norm(normals, axis=1), 1e-30)[:, None]
    low, high = (mesh.vertices[table.edges[:, k]] for k in range(2))
    middle = (low + high) * 0.5
    shown = (table.face_count > 1) & (middle[:, 2] > above_mm)
    one, other = table.faces[shown].T
    cosine = np.einsum("ij,ij->i", normals[one], normals[other])
    length = np.linalg.norm(high[shown] - low[shown], axis=1)
    return Detail(middle[shown], np.arccos(np.clip(cosine, -1.0, 1.0)) * length)


def split_places(
    low: float,
    high: float,
    most_mm: float,
    *,
    cost: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    clear_mm: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    wanted_clear_mm: float,
) -> list[float]:
    """Cut an interval into the fewest parts that fit, where it costs least.

    Parameters
    ----------
    low, high : ends of the body, mm
    most_mm : longest part
    cost : places (P,) -> (P,) what a cut there spoils
    clear_mm : places (P,) -> (P,) distance of a plane there from the nearest vent
    wanted_clear_mm : least such distance

    Returns
    -------
    list of float : places of the planes, rising; empty where the whole fits

    Notes
    -----
    Shortest path over places a millimetre apart, each moved by less than half of that where it then keeps its
    distance from vents. Up to two parts more than the fewest are spent to keep the
    distance from vents; where even that fails, the planes pass as far from them as they can.
    """
    span = high - low
    if span <= most_mm:
        return []
    steps = np.arange(low + STEP_MM, high - STEP_MM / 2.0, STEP_MM)
    price = cost(steps) + 0.1
    places, clear = _nudged(steps, clear_mm, wanted_clear_mm)
    fewest = int(np.ceil(span / most_mm - 1e-9))
    barred = clear < wanted_clear_mm
    for parts in range(fewest, fewest + _FEWEST_MORE + 1):
        found = _path(low, high, most_mm, places, np.where(barred, np.inf, price), parts - 1)
        if found is not None:
            return found
    near = price + _BARRED * np.maximum(wanted_clear_mm - clear, 0.0)
    found = _path(low, high, most_mm, places, near, fewest - 1)
    return found or [low + span * (n + 1) / fewest for n in range(fewest - 1)]


def _nudged(
    places: NDArray[np.float64],
    clear_mm: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    wanted_mm: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Places moved as little as gives them the wanted distance, or else the most, and their distances."""
    clear = np.array([clear_mm(places + nudge) for nudge in _NUDGES_MM])
    chosen = np.minimum(clear, wanted_mm).argmax(axis=0)
    return places + _NUDGES_MM[chosen], clear[chosen, np.arange(len(places))]


def _path(
    low: float, high: float, most: float, places: NDArray[np.float64], price: NDArray[np.float64], cuts: int
) -> list[float] | None:
    """The cheapest places for so many cuts, or None."""
    best = np.where(places - low <= most, price + _short(places - low), np.inf)
    came: list[NDArray[np.int64]] = []
    for _ in range(cuts - 1):
        gap = places[None, :] - places[:, None]
        step = np.where((gap > 0.0) & (gap <= most), best[:, None] + _short(gap), np.inf)
        came.append(step.argmin(axis=0))
        best = step.min(axis=0) + price
    total = np.where(high - places <= most, best + _short(high - places), np.inf)
    at = int(total.argmin())
    if not np.isfinite(total[at]):
        return None
    path = [at]
    for back in reversed(came):
        path.append(int(back[path[-1]]))
    return [float(places[n]) for n in reversed(path)]


def _short(length: NDArray[np.float64]) -> NDArray[np.float64]:
    """What a short part costs."""
    cost: NDArray[np.float64] = np.maximum(_SHORT_MM - length, 0.0) * 10.0 / _SHORT_MM
    return cost
