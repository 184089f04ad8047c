"""Search for the pull direction that releases best. Only here and at the door is the pull not +Z."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buckwright.errors import InputError
from buckwright.kernel import kernel
from buckwright.mesh.triangles import Mesh
from buckwright.relief.raster import relief_of
from buckwright.survey.proxy import Proxy, area_of, proxy_of
from buckwright.survey.undercut import find_trapped

__all__ = ["PullCandidate", "PullSearch", "frame_for", "search_pull"]

Sink = float | Callable[[Mesh], float]

_GOLDEN_ANGLE = np.pi * (3.0 - np.sqrt(5.0))
_COARSE_PIXELS = 256
_EXACT_PIXELS = 1000
_REFINED = 3
_ROUNDS = 3
_ROUND_DIRECTIONS = 12
_APART_DEG = 5.0
_TIE = 0.01
_FLAT = 1e-6
_STEEPEST = 20.0
_STRAIGHT_DOWN = 1e-12


@dataclass(frozen=True, slots=True)
class PullCandidate:
    """One direction with its figures.

    Attributes
    ----------
    direction : unit vector in the sculpt's own frame, from the platen towards the sheet
    trapped_area_mm2 : trapped area above the base plane
    height_mm : height of what stands above the base plane
    footprint_mm2 : its area seen down the pull
    confirmed : whether the figures are those of the full mesh (area exact, footprint on 1000 pixels) or of
        the search
    """

    direction: tuple[float, float, float]
    trapped_area_mm2: float
    height_mm: float
    footprint_mm2: float
    confirmed: bool

    def to_dict(self) -> dict[str, Any]:
        """One entry of `pull.candidates` in report.json.

        Returns
        -------
        dict : the attributes, the direction as a list
        """
        return {
            "direction": list(self.direction),
            "trapped_area_mm2": self.trapped_area_mm2,
            "height_mm": self.height_mm,
            "footprint_mm2": self.footprint_mm2,
            "confirmed": self.confirmed,
        }


@dataclass(frozen=True, slots=True)
class PullSearch:
    """Outcome of a search.

    Attributes
    ----------
    candidates : best first, at least 5 degrees apart
    tried : number of directions scored
    coarse_faces : faces of the simplified mesh that they were scored on
    tie_mm2 : trapped areas closer than this counted as equal
    """

    candidates: tuple[PullCandidate, ...]
    tried: int
    coarse_faces: int
    tie_mm2: float

    @property
    def direction(self) -> tuple[float, float, float]:
        """The best direction."""
        return self.candidates[0].direction

    def to_dict(self) -> dict[str, Any]:
        """The `pull` section of report.json.

        Returns
        -------
        dict : direction, candidates and the figures of the search
        """
        return {
            "direction": list(self.direction),
            "candidates": [candidate.to_dict() for candidate in self.candidates],
            "tried": self.tried,
            "coarse_faces": self.coarse_faces,
            "tie_mm2": self.tie_mm2,
        }


def search_pull(
    mesh: Mesh,
    *,
    cone_deg: float = 90.0,
    about: ArrayLike = (0.0, 0.0, 1.0),
    directions: int = 500,
    sink_mm: Sink = 0.0,
    keep: int = 10,
    confirm: int = 3,
    tick: Callable[[float], None] | None = None,
) -> PullSearch:
    """Find the direction with the least trapped area above the base plane.

    Parameters
    ----------
    mesh : the sculpt in its own frame
    cone_deg : how far from `about` to look, 0..180 degrees; 90 is the half sphere
    about : (3,) axis of the cone, any length over 0
    directions : how many to spread over the cone, >= 1
    sink_mm : height of the base plane over the lowest point, or a function that finds it from the mesh turned
        so that the direction is +Z; what lies below does not count
    keep : how many candidates to list, >= 1
    confirm : how many of the best are measured again on the full mesh, >= 0
    tick : called with the share done, 0..1; may raise to stop the search

    Returns
    -------
    PullSearch : candidates best first

    Raises
    ------
    InputError
        Nothing to search (no faces with area), or a setting out of range.

    Notes
    -----
    Directions on a Fibonacci spiral, and those in which the sculpt rests on a broad facet of its hull (a flat
    foot is an optimum that evenly spread directions miss), are scored by 20 000 faces of the sculpt under the
    shade of a simplified one, with a raster of 256 pixels; the best are refined in shrinking cones. Least
    trapped area wins; within 1 % (of the smaller area, or .1 % of the sculpt's) the lowest height, then the
    largest footprint.
    """
    axis = _unit(about)
    if not 0.0 <= cone_deg <= 180.0 or directions < 1 or keep < 1 or confirm < 0:
        raise InputError("the pull search needs a cone of 0..180 degrees and at least one direction to keep")
    proxy = proxy_of(mesh)
    told = _Progress(tick, directions + _REFINED * _ROUNDS * _ROUND_DIRECTIONS + 40 * min(confirm, keep))
    tie = 0.1 * _TIE * proxy.area_mm2
    pool = np.concatenate([_spiral(axis, cone_deg, directions), proxy.resting_within(axis, cone_deg)])
    scores = _score_all(proxy, pool, sink_mm, told)
    pool, scores = _refined(proxy, pool, scores, (axis, cone_deg), sink_mm, tie, told)
    chosen = _ranked(pool, scores, tie, keep)
    sure, rest = chosen[:confirm], chosen[confirm:]
    exact = np.array([_confirm(mesh, pool[n], sink_mm, told) for n in sure]).reshape(-1, 3)
    listed = [
        _candidate(pool[sure[k]], exact[k], confirmed=True) for k in _ranked(pool[sure], exact, tie, keep)
    ]
    listed += [_candidate(pool[n], scores[n], confirmed=False) for n in rest]
    return PullSearch(tuple(listed), len(pool), proxy.shade.face_count, tie)


def frame_for(direction: ArrayLike) -> NDArray[np.float64]:
    """Rotation that takes a direction to +Z by the shortest way.

    Parameters
    ----------
    direction : (3,) any length over 0

    Returns
    -------
    (3, 3) float64, rotation matrix R: ``R @ direction`` points along +Z

    Raises
    ------
    InputError
        The direction has no length, or is not three finite numbers.

    Notes
    -----
    +Z itself gives the identity, and the roll about the pull stays as near to that of the sculpt as it can.
    Straight down is turned over about the x axis.

    Examples
    --------
    >>> import numpy as np
    >>> turn = frame_for((1.0, 0.0, 0.0))
    >>> bool(np.allclose(turn @ (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)))
    True
    >>> bool(np.array_equal(frame_for((0.0, 0.0, 2.0)), np.eye(3)))
    True
    """
    x, y, z = _unit(direction)
    if z < -1.0 + _STRAIGHT_DOWN:
        return np.array([[1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, -1.0]])
    share = 1.0 / (1.0 + z)
    return np.array(
        [[1.0 - x * x * share, -x * y * share, -x], [-x * y * share, 1.0 - y * y * share, -y], [x, y, z]]
    )


class _Progress:
    """Counts steps and reports the share that is done."""

    def __init__(self, tick: Callable[[float], None] | None, steps: int) -> None:
        self._tick, self._steps, self._done = tick, max(steps, 1), 0

    def step(self, count: int = 1) -> None:
        """Count some steps as done."""
        self._done += count
        if self._tick is not None:
            self._tick(min(self._done / self._steps, 1.0))


def _unit(direction: ArrayLike) -> NDArray[np.float64]:
    vector = np.asarray(direction, dtype=np.float64)
    length = float(np.linalg.norm(vector))
    if vector.shape != (3,) or not 0.0 < length < np.inf:
        raise InputError(f"a direction must be three numbers, not all zero, got {direction!r}")
    return vector / length


def _spiral(axis: NDArray[np.float64], cone_deg: float, count: int) -> NDArray[np.float64]:
    """Evenly spread directions (N, 3) within a cone; the first is the axis itself."""
    low = np.cos(np.radians(cone_deg))
    z = 1.0 - (1.0 - low) * np.arange(count) / max(count - 1, 1)
    turn = np.arange(count) * _GOLDEN_ANGLE
    level = np.sqrt(np.maximum(1.0 - z * z, 0.0))
    directions: NDArray[np.float64] = np.column_stack([level * np.cos(turn), level * np.sin(turn), z])
    turned: NDArray[np.float64] = directions @ frame_for(axis)
    return turned


def _turned(mesh: Mesh, direction: NDArray[np.float64]) -> Mesh:
    return Mesh(np.ascontiguousarray(mesh.vertices @ frame_for(direction).T), mesh.faces)


def _score_all(
    proxy: Proxy, directions: NDArray[np.float64], sink_mm: Sink, told: _Progress
) -> NDArray[np.float64]:
    """Trapped area, height and footprint for every direction, (N, 3)."""
    scores = np.empty((len(directions), 3))
    for n, direction in enumerate(directions):
        scores[n] = _score(proxy, direction, sink_mm)
        told.step()
    return scores


def _score(proxy: Proxy, direction: NDArray[np.float64], sink_mm: Sink) -> tuple[float, float, float]:
    """Trapped area, height and footprint along a direction, by raster."""
    shade = _turned(proxy.shade, direction)
    extremes = proxy.extremes @ frame_for(direction).T
    low, high = extremes.min(axis=0), extremes.max(axis=0)
    floor = float(low[2]) + float(sink_mm(shade) if callable(sink_mm) else sink_mm)
    flat = floor + _FLAT * float((high - low).max())
    pixel = max(float((high - low)[:2].max()), 1e-9) / _COARSE_PIXELS
    relief = relief_of(shade, pixel_mm=pixel, bounds_xy=np.stack([low[:2], high[:2]]))
    sample = shade if proxy.sample is proxy.shade else _turned(proxy.sample, direction)
    seen = relief.face if proxy.sample is proxy.shade else np.full((1, 1), -1, np.int32)
    trapped = _trapped_area(
        sample.vertices, sample.faces, flat, *relief.origin, pixel, relief.height, seen, proxy.blur_mm
    )
    footprint = float(np.count_nonzero(relief.height > flat)) * pixel**2
    return trapped * proxy.weight, max(float(high[2]) - floor, 0.0), footprint


def _confirm(
    mesh: Mesh, direction: NDArray[np.float64], sink_mm: Sink, told: _Progress
) -> tuple[float, float, float]:
    """Trapped area (exact), height and footprint of the full mesh."""
    turned = _turned(mesh, direction)
    floor = float(turned.bounds[0, 2]) + float(sink_mm(turned) if callable(sink_mm) else sink_mm)
    size = turned.size
    flat = floor + _FLAT * float(size.max())
    reach = find_trapped(turned, floor_z=flat)
    area = area_of(turned.vertices, turned.faces, reach.trapped)
    relief = relief_of(turned, pixel_mm=float(max(size[0], size[1], 1e-9)) / _EXACT_PIXELS)
    footprint = float(np.count_nonzero(relief.height > flat)) * relief.pixel_mm**2
    told.step(40)
    return area, max(float(turned.bounds[1, 2]) - floor, 0.0), footprint


def _refined(
    proxy: Proxy,
    pool: NDArray[np.float64],
    scores: NDArray[np.float64],
    cone: tuple[NDArray[np.float64], float],
    sink_mm: Sink,
    tie: float,
    told: _Progress,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Look around the best directions in shrinking cones; returns the widened pool and its scores."""
    axis, cone_deg = cone
    spread = np.degrees(np.sqrt(2.0 * (1.0 - np.cos(np.radians(cone_deg))) / max(len(pool), 1)))
    for start in _ranked(pool, scores, tie, _REFINED):
        best, radius = pool[start], spread * 1.5
        for _ in range(_ROUNDS):
            near = _spiral(best, min(radius, 180.0), _ROUND_DIRECTIONS + 1)[1:]
            near = near[near @ axis >= np.cos(np.radians(cone_deg)) - 1e-9]
            pool = np.concatenate([pool, near])
            scores = np.concatenate([scores, _score_all(proxy, near, sink_mm, told)])
            close = np.flatnonzero(pool @ best >= np.cos(np.radians(radius)) - 1e-12)
            best = pool[close[_first(scores[close], tie)]]
            radius /= 2.5
    return pool, scores


def _first(scores: NDArray[np.float64], tie: float) -> int:
    """Index of the best row of (trapped area, height, footprint)."""
    least = float(scores[:, 0].min())
    equal = np.flatnonzero(scores[:, 0] <= least + max(tie, _TIE * least))
    lowest = float(scores[equal, 1].min())
    equal = equal[scores[equal, 1] <= lowest * (1.0 + _TIE)]
    return int(equal[scores[equal, 2].argmax()])


def _ranked(
    pool: NDArray[np.float64], scores: NDArray[np.float64], tie: float, keep: int
) -> NDArray[np.int64]:
    """Indices of the best directions, best first, none within 5 degrees of a better one."""
    left = np.arange(len(pool))
    chosen: list[int] = []
    while len(left) and len(chosen) < keep:
        best = int(left[_first(scores[left], tie)])
        chosen.append(best)
        left = left[pool[left] @ pool[best] < np.cos(np.radians(_APART_DEG))]
    return np.array(chosen, np.int64)


def _candidate(
    direction: NDArray[np.float64], figures: NDArray[np.float64], *, confirmed: bool
) -> PullCandidate:
    x, y, z = (float(value) for value in direction)
    return PullCandidate((x, y, z), float(figures[0]), float(figures[1]), float(figures[2]), confirmed)


@kernel
def _trapped_area(vertices, faces, floor, ox, oy, pixel, height, seen, blur):  # type: ignore[no-untyped-def]
    """Area above the floor that overhangs or has something above it in the raster."""
    rows, columns = height.shape
    total = 0.0
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        az, bz, cz = vertices[a, 2], vertices[b, 2], vertices[c, 2]
        z = (az + bz + cz) / 3.0
        if max(az, bz, cz) <= floor or z <= floor:
            continue
        ux, uy = vertices[b, 0] - vertices[a, 0], vertices[b, 1] - vertices[a, 1]
        vx, vy = vertices[c, 0] - vertices[a, 0], vertices[c, 1] - vertices[a, 1]
        uz, vz = bz - az, cz - az
        nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        area = np.sqrt(nx * nx + ny * ny + nz * nz) / 2.0
        # after turning, rounding tilts exactly vertical walls either way
        if nz < -1e-9 * area:
            total += area
            continue
        x = (vertices[a, 0] + vertices[b, 0] + vertices[c, 0]) / 3.0
        y = (vertices[a, 1] + vertices[b, 1] + vertices[c, 1]) / 3.0
        i = min(max(int((x - ox) / pixel), 0), columns - 1)
        j = min(max(int((y - oy) / pixel), 0), rows - 1)
        if seen.shape[0] == rows and seen[j, i] == f:
            continue
        # the raster samples pixel centres: extend the face's plane there, but not beyond its own heights
        dx, dy = ox + (i + 0.5) * pixel - x, oy + (j + 0.5) * pixel - y
        reached = z - (nx * dx + ny * dy) / nz if nz > 0.0 else z
        reached = min(max(reached, min(az, bz, cz) - pixel), max(az, bz, cz) + pixel)
        # a surface off by `blur` along its normal is off by more along the pull where it is steep
        if height[j, i] > reached + pixel + blur * min(2.0 * area / max(nz, 1e-300), _STEEPEST):
            total += area
    return total
