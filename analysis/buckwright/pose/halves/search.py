"""Search for planes that part a sculpt into two halves, each of which comes off a buck of its own."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import InputError
from buckwright.mesh.triangles import Mesh
from buckwright.pose.setups.costs import cost_of
from buckwright.pose.setups.measuring import Figures, measure
from buckwright.pose.setups.proxy import Proxy, proxy_of
from buckwright.survey.pull import spread_directions, unit_vector

__all__ = ["MOST", "PartingPlane", "find_planes", "hidden_in_one_piece", "planes_across"]

MOST = 3
"""So many planes are told."""

_DIRECTIONS = 160
_COARSE_PIXELS, _FINE_PIXELS = 96, 224
# Where planes are tried, as shares of the extent; what is nearer the ends is a cap, not a half.
_SHARES = np.linspace(0.2, 0.8, 7)
_FINE_STEPS = np.linspace(-0.1, 0.1, 9)
_STARTS = 6
_WHOLE_DIRECTIONS, _WHOLE_STARTS = 80, 3
_APART_DEG = 20.0
_SHARE_APART = 0.15
# A plane of symmetry, or one across an axis of the file, goes before one that is better by less. House rule.
_MARGIN = 0.02
_ON_AXIS_DEG = 0.1
# What each thing counts against hiding all detail, which counts 1. House rules, as those of setups.
_FILL = 0.5
_TRAPPED = 0.5
_DRAW = 0.04
_FOOTPRINT = 0.02
_SEAM = 0.05
# The seam counts what lies within this share of the size.
_BAND = 0.02


@dataclass(frozen=True, slots=True)
class PartingPlane:
    """A plane that halves a sculpt.

    Attributes
    ----------
    normal : unit vector in the sculpt's own axes; the first half lies on its side
    offset_mm : of the plane from the origin, along the normal
    halves : figures of the first half, pulled along the normal, and of the second, pulled against it
    hidden_share : share of all detail that neither half shows well
    seam_share : detail on the seam, as a share of a seam as long as four sides of the sculpt's cube that runs
        through nothing but detail
    symmetrical : whether the halves are mirror images
    cost : of the objective; less is better
    """

    normal: tuple[float, float, float]
    offset_mm: float
    halves: tuple[Figures, Figures]
    hidden_share: float
    seam_share: float
    symmetrical: bool
    cost: float

    def to_dict(self) -> dict[str, Any]:
        """One entry of the section `halves` of report.json."""
        return {
            "normal": list(self.normal),
            "offset_mm": self.offset_mm,
            "hidden_share": self.hidden_share,
            "fill_volume_mm3": sum(half.fill_volume_mm3 for half in self.halves),
            "trapped_area_mm2": sum(half.trapped_area_mm2 for half in self.halves),
            "height_mm": [half.height_mm for half in self.halves],
            "footprint_mm2": [half.footprint_mm2 for half in self.halves],
            "seam_share": self.seam_share,
            "symmetrical": self.symmetrical,
            "score": self.cost,
        }


def find_planes(
    mesh: Mesh,
    *,
    draft_deg: float,
    directions: int = _DIRECTIONS,
    starts: int = _STARTS,
    proxy: Proxy | None = None,
    tick: Callable[[float], None] | None = None,
) -> tuple[PartingPlane, ...]:
    """Find up to three clearly different planes, the best first.

    Parameters
    ----------
    mesh : the sculpt in its own frame, mm
    draft_deg : wanted draft
    directions : how many to spread over a half sphere, >= 1
    starts : how many of the planes that are measured roughly are measured finely, >= 1
    proxy : of the mesh, where it is known
    tick : called with the share done, 0..1; may raise to stop the search

    Raises
    ------
    InputError
        Nothing to part (no faces with area).

    Notes
    -----
    A plane costs the share of detail that neither half shows, and 0.5 times the fill of both over the hull's
    volume, 0.5 times their trapped share of the surface, 0.04 times each half's draw (height over the root of
    its footprint), 0.02 times each footprint over the square of the size, 0.05 times the detail on the seam.
    Both halves are measured as setups are, each pulled off the plane. Seven offsets of evenly spread
    directions and of axes and planes of symmetry are measured roughly, the best six finely at nine offsets
    around the best. Time does not grow with the faces beyond the making of the proxy.
    """
    proxy = proxy_of(mesh) if proxy is None else proxy
    special = np.concatenate([proxy.mirrors, proxy.turn.T, np.eye(3)])
    pool = np.concatenate([special, spread_directions(np.array([0.0, 0.0, 1.0]), 90.0, directions)])
    steps = len(pool) + starts * 4
    rough: list[PartingPlane] = []
    for n, direction in enumerate(pool):
        rough += _measured(proxy, direction, _SHARES, draft_deg=draft_deg, exact=False)
        if tick is not None:
            tick((n + 1) / steps)
    best = _different(proxy, sorted(rough, key=lambda plane: plane.cost), starts)
    found: list[PartingPlane] = []
    for n, start in enumerate(best):
        found += _refined(proxy, start, draft_deg=draft_deg)
        if tick is not None:
            tick((len(pool) + 4 * (n + 1)) / steps)
    return _chosen(proxy, found)


def planes_across(
    mesh: Mesh, normal: Any, offset_mm: float | None, *, draft_deg: float, proxy: Proxy | None = None
) -> tuple[PartingPlane, ...]:
    """The plane across a direction: at an offset, or where it costs least.

    Parameters
    ----------
    mesh : the sculpt in its own frame, mm
    normal : (3,) any length over 0
    offset_mm : of the plane from the origin along the normal; None leaves it open
    draft_deg : wanted draft
    proxy : of the mesh, where it is known

    Raises
    ------
    InputError
        The plane does not cut the sculpt.
    """
    proxy = proxy_of(mesh) if proxy is None else proxy
    direction = proxy.turn @ unit_vector(normal)
    low, high = _extent(proxy, direction)
    if offset_mm is None:
        coarse = _measured(proxy, direction, _SHARES, draft_deg=draft_deg, exact=False)
        if not coarse:
            raise InputError("the sculpt is too thin across that direction to be halved")
        best = min(coarse, key=lambda plane: plane.cost)
        return (min(_refined(proxy, best, draft_deg=draft_deg), key=lambda plane: plane.cost),)
    share = (offset_mm - low) / (high - low)
    if not 0.0 < share < 1.0:
        raise InputError(
            f"the plane at {offset_mm:g} mm does not cut the sculpt, which reaches from {low:.1f} "
            f"to {high:.1f} mm along that direction; set halves.offset_mm between them"
        )
    planes = _measured(proxy, direction, np.array([share]), draft_deg=draft_deg, exact=True)
    if not planes:
        raise InputError("the plane leaves nothing of one half; move it")
    return tuple(planes)


def hidden_in_one_piece(proxy: Proxy, *, draft_deg: float, directions: int = _WHOLE_DIRECTIONS) -> float:
    """Share of the detail that a good setup in one piece hides.

    Parameters
    ----------
    proxy : the sculpt
    draft_deg : wanted draft
    directions : how many to spread over a sphere, >= 1

    Notes
    -----
    The setup that costs least (`cost_of`) among evenly spread directions, axes and ways to stand, each left
    whole and sunk to its widest outline: measured roughly, the best three finely. The search for setups goes
    on in small steps from there and forecasts a sheet on each; what is hidden hardly changes by that.
    """
    axes = np.concatenate([proxy.turn.T, np.eye(3)])
    spread = spread_directions(np.array([0.0, 0.0, 1.0]), 180.0, directions)
    pool = np.concatenate([proxy.resting, axes, -axes, spread])

    def least(direction: NDArray[np.float64], *, exact: bool) -> tuple[float, float]:
        figures = measure(
            proxy,
            np.ascontiguousarray(direction),
            (0.0, "widest"),
            draft_deg=draft_deg,
            pixels=_FINE_PIXELS if exact else _COARSE_PIXELS,
            exact=exact,
            rough=not exact,
        )
        cost = partial(cost_of, size_mm=proxy.size_mm, area_mm2=proxy.area_mm2, shell=proxy.shell)
        costs = [(cost(one), one.lost_share) for one in figures]
        return min(costs, default=(np.inf, 1.0))

    order = np.argsort([least(direction, exact=False)[0] for direction in pool], kind="stable")
    return min(least(pool[n], exact=True) for n in order[:_WHOLE_STARTS])[1]


def _extent(proxy: Proxy, direction: NDArray[np.float64]) -> tuple[float, float]:
    heights = proxy.extremes @ direction
    return float(heights.min()), float(heights.max())


def _measured(
    proxy: Proxy,
    direction: NDArray[np.float64],
    shares: NDArray[np.float64],
    *,
    draft_deg: float,
    exact: bool,
) -> list[PartingPlane]:
    """Planes across one direction, in the proxy's axes."""
    low, high = _extent(proxy, direction)
    sinks = (high - low) * shares
    first, second = (
        _halves(proxy, way, depths, draft_deg=draft_deg, exact=exact)
        for way, depths in ((direction, sinks), (-direction, (high - low) - sinks))
    )
    return [
        _plane(proxy, direction, low + sink, (one, other))
        for sink, one, other in zip(sinks.tolist(), first, second, strict=True)
        if one is not None and other is not None
    ]


def _halves(
    proxy: Proxy, way: NDArray[np.float64], depths: NDArray[np.float64], *, draft_deg: float, exact: bool
) -> list[Figures | None]:
    """Figures of what stands above each depth; None where nothing is left."""
    figures = measure(
        proxy,
        np.ascontiguousarray(way),
        tuple(depths.tolist()),
        draft_deg=draft_deg,
        pixels=_FINE_PIXELS if exact else _COARSE_PIXELS,
        exact=exact,
        rough=not exact,
    )
    by_depth = {one.sink_mm: one for one in figures}
    return [by_depth.get(depth) for depth in depths.tolist()]


def _plane(
    proxy: Proxy, direction: NDArray[np.float64], offset: float, halves: tuple[Figures, Figures]
) -> PartingPlane:
    # what one half has cut off the other shows: only what is lost twice is hidden
    hidden = max(halves[0].lost_share + halves[1].lost_share - 1.0, 0.0)
    seam = _seam(proxy, direction, offset)
    mirrored = _is_mirror(proxy, direction, offset)
    size = proxy.size_mm
    cost = hidden + _SEAM * seam
    for half in halves:
        cost += (
            _FILL * half.fill_volume_mm3 / size**3
            + _TRAPPED * half.trapped_area_mm2 / proxy.area_mm2
            + _DRAW * half.height_mm / max(half.footprint_mm2, 1e-6 * size**2) ** 0.5
            + _FOOTPRINT * half.footprint_mm2 / size**2
        )
    x, y, z = (float(value) for value in direction @ proxy.turn)
    return PartingPlane((x, y, z), offset, halves, hidden, seam, mirrored, float(cost))


def _seam(proxy: Proxy, direction: NDArray[np.float64], offset: float) -> float:
    """Detail on the seam: surface in a thin band, each point weighed by its detail, over the band's width."""
    band = _BAND * proxy.size_mm
    near = np.abs(proxy.points.places @ direction - offset) < band
    lean = np.abs(proxy.points.normals[near] @ direction)
    # a level surface lies in the band with more of its area than the seam is long
    length = float((proxy.points.detail[near] * np.sqrt(np.maximum(1.0 - lean**2, 0.0))).sum())
    return length * proxy.points.area_mm2 / (2.0 * band) / (4.0 * proxy.size_mm)


def _is_mirror(proxy: Proxy, direction: NDArray[np.float64], offset: float) -> bool:
    middle = float(proxy.points.places.mean(axis=0) @ direction)
    along = np.abs(proxy.mirrors @ direction) > np.cos(np.radians(_ON_AXIS_DEG))
    return bool(along.any()) and abs(offset - middle) < _BAND * proxy.size_mm


def _refined(proxy: Proxy, start: PartingPlane, *, draft_deg: float) -> list[PartingPlane]:
    """Planes around a rough one, measured finely; through the middle where the direction is a mirror's."""
    direction = proxy.turn @ np.array(start.normal)
    low, high = _extent(proxy, direction)
    share = (start.offset_mm - low) / (high - low)
    shares = [*(share + _FINE_STEPS).tolist()]
    if (np.abs(proxy.mirrors @ direction) > np.cos(np.radians(_ON_AXIS_DEG))).any():
        shares.append((float(proxy.points.places.mean(axis=0) @ direction) - low) / (high - low))
    tried = np.clip(np.array(shares), 0.02, 0.98)
    return _measured(proxy, direction, np.unique(tried), draft_deg=draft_deg, exact=True)


def _different(proxy: Proxy, planes: list[PartingPlane], count: int) -> list[PartingPlane]:
    """The first planes of a list that differ clearly from those before them."""
    kept: list[PartingPlane] = []
    for plane in planes:
        if len(kept) == count:
            break
        if all(_differs(proxy, plane, other) for other in kept):
            kept.append(plane)
    return kept


def _differs(proxy: Proxy, one: PartingPlane, other: PartingPlane) -> bool:
    way, other_way = proxy.turn @ np.array(one.normal), proxy.turn @ np.array(other.normal)
    images = [way, *(way - 2.0 * (way @ normal) * normal for normal in proxy.mirrors)]
    turned = np.degrees(np.arccos(min(max(abs(float(image @ other_way)) for image in images), 1.0)))
    if turned >= _APART_DEG:
        return True
    same = 1.0 if way @ other_way > 0.0 else -1.0
    return abs(one.offset_mm - same * other.offset_mm) > _SHARE_APART * proxy.size_mm


def _chosen(proxy: Proxy, found: list[PartingPlane]) -> tuple[PartingPlane, ...]:
    """Up to three that differ clearly, the best first; within a margin the plainer one."""
    left = sorted(found, key=lambda plane: plane.cost)
    chosen: list[PartingPlane] = []
    while left and len(chosen) < MOST:
        bound = left[0].cost + _MARGIN
        within = [plane for plane in left if plane.cost <= bound]
        best = min(within, key=lambda plane: (not plane.symmetrical, not _on_axis(plane), plane.cost))
        chosen.append(best)
        left = [plane for plane in left if _differs(proxy, plane, best)]
    return tuple(chosen)


def _on_axis(plane: PartingPlane) -> bool:
    return bool(max(abs(part) for part in plane.normal) > np.cos(np.radians(_ON_AXIS_DEG)))
