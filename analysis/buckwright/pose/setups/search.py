"""Search for a setup: the pull and the depth of sinking that lose and cost least."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buckwright.errors import InputError
from buckwright.mesh.triangles import Mesh
from buckwright.pose.setups.costs import RELIEF_SHARE, cost_of
from buckwright.pose.setups.measuring import Figures, Sink, measure
from buckwright.pose.setups.preview import thin_share
from buckwright.pose.setups.proxy import Proxy, proxy_of
from buckwright.survey.pull import spread_directions, unit_vector

__all__ = ["MOST", "Setup", "find_setups", "setups_along"]

MOST = 5
"""So many setups are told."""

_COARSE_PIXELS, _FINE_PIXELS, _LAST_PIXELS = 96, 192, 320
# Directions from which the search goes on, and how far they are apart.
_STARTS = 5
_START_APART_DEG = 15.0
_STEPS_DEG = (4.0, 2.0, 1.0, 0.5)
_MOST_MOVES = 4
# Setups differ clearly when their pulls differ by this much.
_APART_DEG = 20.0
# Sinking by less than this share of the size is next to none.
_DEPTH_APART = 0.05
# Two setups whose figures differ by less are the same to a maker, as by a symmetry that was not looked for.
_ALIKE = 0.02
# A setup on a flat foot, along an axis of the file, or in a plane of symmetry goes before one better by less.
_MARGIN = 0.01
_ON_AXIS_DEG = 0.1
# What shows less than this share of the detail that the best setup shows is no choice: an open relief on its
# edge, or a sliver of it above the platen. House rule.
_LEAST = 1.0 / 3.0
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Setup:
    """One way to set the sculpt up.

    Attributes
    ----------
    direction : unit vector in the sculpt's own frame, from the platen towards the sheet
    figures : what it costs and loses
    cost : of the objective; less is better
    thin_share, thin_spread : share of the sheet that is left in the thinnest twentieth, see `thin_share`
    note : what it is, in a few words
    """

    direction: tuple[float, float, float]
    figures: Figures
    cost: float
    thin_share: float
    thin_spread: float
    note: str

    def to_dict(self) -> dict[str, Any]:
        """One entry of the section `setups` of report.json."""
        figures = self.figures
        return {
            "direction": list(self.direction),
            "sink_mm": figures.sink_mm,
            "fill_volume_mm3": figures.fill_volume_mm3,
            "cut_volume_mm3": figures.cut_volume_mm3,
            "height_mm": figures.height_mm,
            "footprint_mm2": figures.footprint_mm2,
            "trapped_area_mm2": figures.trapped_area_mm2,
            "detail_buried_mm2": figures.buried_area_mm2,
            "detail_lost_share": figures.lost_share,
            "thin_share": self.thin_share,
            "thin_share_spread": self.thin_spread,
            "score": self.cost,
            "note": self.note,
        }


@dataclass(slots=True)
class _Search:
    """What is known so far: every direction with its best depth."""

    proxy: Proxy
    sinks: tuple[Sink, ...]
    draft_deg: float
    tick: Callable[[float], None] | None
    steps: int
    previews: bool
    done: int = 0
    found: list[tuple[NDArray[np.float64], Figures, float]] = field(default_factory=list)

    def look(
        self, direction: NDArray[np.float64], pixels: int, *, exact: bool = False, rough: bool = False
    ) -> float:
        """Measure a direction, keep what it gives, and tell the least cost."""
        self.done += 1
        if self.tick is not None:
            self.tick(min(self.done / self.steps, 1.0))
        proxy = self.proxy
        entries = [
            (direction, one, cost_of(one, size_mm=proxy.size_mm, area_mm2=proxy.area_mm2, shell=proxy.shell))
            for one in measure(
                proxy,
                direction,
                self.sinks,
                draft_deg=self.draft_deg,
                pixels=pixels,
                exact=exact,
                rough=rough,
            )
        ]
        self.found += entries
        return min((cost for _, _, cost in entries), default=np.inf)


def find_setups(
    mesh: Mesh,
    *,
    draft_deg: float,
    sink_mm: Sink = "auto",
    cone_deg: float = 180.0,
    about: ArrayLike = (0.0, 0.0, 1.0),
    directions: int = 500,
    previews: bool = True,
    tick: Callable[[float], None] | None = None,
) -> tuple[Setup, ...]:
    """Find up to five clearly different setups that show something of the sculpt, the best first.

    Parameters
    ----------
    mesh : the sculpt in its own frame
    draft_deg : wanted draft
    sink_mm : depth of sinking, mm, 'widest', or 'auto': both none and the widest outline are tried
    cone_deg : how far from `about` to look, 0..180 degrees; 180 is everywhere
    about : (3,) axis of the cone, any length over 0
    directions : how many to spread over the cone, >= 1
    previews : whether the sheet is forecast coarsely on each; else its figures are nan
    tick : called with the share done, 0..1; may raise to stop the search

    Raises
    ------
    InputError
        Nothing to search (no faces with area), a setting out of range, or a depth that leaves nothing.

    Notes
    -----
    See `cost_of` for what is sought. Evenly spread directions are measured roughly; from the best five the
    search goes on by a pattern search in ever smaller steps, so that the spread does not matter. Axes of
    the file and of the sculpt, normals of its planes of symmetry and the ways in which it stands stably on
    a facet of its hull are measured as finely as the result, with exact columns. All is done in the
    sculpt's own axes, so that it hardly matters how the file is turned. Time grows with `directions` and,
    beyond 30 000 faces, only by the making of the proxy, which is linear in the faces.
    """
    axis = unit_vector(about)
    if not 0.0 <= cone_deg <= 180.0 or directions < 1:
        raise InputError("the search for a setup needs a cone of 0..180 degrees and at least one direction")
    proxy = proxy_of(mesh)
    axis = proxy.turn @ axis
    special = _within(_special(proxy), axis, cone_deg)
    steps = directions + len(special) + 30 * _STARTS + 4 * MOST
    search = _Search(proxy, _depths(sink_mm), draft_deg, tick, steps, previews)
    pool = spread_directions(axis, cone_deg, directions)
    rough = [search.look(direction, _COARSE_PIXELS, rough=True) for direction in pool]
    search.found.clear()
    exact = [search.look(direction, _FINE_PIXELS, exact=True) for direction in special]
    sure = list(search.found)
    starts = _apart(np.concatenate([special, pool]), np.array(exact + rough), _STARTS)
    ends = [_walked(search, start, axis, cone_deg) for start in starts]
    search.found[:] = sure
    laid = _within(_snapped(proxy, ends), axis, cone_deg)
    for direction in _distinct(np.array([*special, *ends, *laid]))[len(special) :]:
        search.look(direction, _FINE_PIXELS, exact=True)
    if not search.found:
        raise InputError("sinking the sculpt as deep as that leaves nothing of it; sink it less")
    return _chosen(search)


def setups_along(
    mesh: Mesh, direction: ArrayLike, *, draft_deg: float, sink_mm: Sink = "auto"
) -> tuple[Setup, ...]:
    """The setups along one direction, the best first.

    Parameters
    ----------
    mesh : the sculpt in its own frame
    direction : (3,) any length over 0
    draft_deg, sink_mm : as for `find_setups`

    Raises
    ------
    InputError
        Nothing to measure (no faces with area), or no direction.
    """
    proxy = proxy_of(mesh)
    search = _Search(proxy, _depths(sink_mm), draft_deg, None, 1, True)
    search.look(proxy.turn @ unit_vector(direction), _LAST_PIXELS, exact=True)
    entries = sorted(search.found, key=lambda entry: entry[2])
    if not entries:
        return ()
    best = entries[0]
    others = [entry for entry in entries[1:] if _differs(proxy, entry, best) and _shows_enough(entry, best)]
    return tuple(_setup(search, *entry) for entry in (best, *others))


def _depths(sink_mm: Sink) -> tuple[Sink, ...]:
    return (0.0, "widest") if sink_mm == "auto" else (sink_mm,)


def _special(proxy: Proxy) -> NDArray[np.float64]:
    """Directions that are always measured finely, in the proxy's axes."""
    axes = np.concatenate([proxy.turn.T, proxy.mirrors, np.eye(3)])
    # a foot is exact; of what lies within a hair of it nothing else is measured
    return _distinct(np.concatenate([proxy.resting, axes, -axes]))


def _distinct(directions: NDArray[np.float64]) -> NDArray[np.float64]:
    kept: list[NDArray[np.float64]] = []
    for direction in directions:
        if all(_between_deg(direction, other) > _ON_AXIS_DEG for other in kept):
            kept.append(direction)
    return np.array(kept).reshape(-1, 3)


def _between_deg(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    return float(np.degrees(2.0 * np.arcsin(min(np.linalg.norm(one - other) / 2.0, 1.0))))


def _within(
    directions: NDArray[np.float64], axis: NDArray[np.float64], cone_deg: float
) -> NDArray[np.float64]:
    inside: NDArray[np.bool_] = directions @ axis >= np.cos(np.radians(cone_deg)) - 1e-9
    return directions[inside]


def _apart(
    directions: NDArray[np.float64], costs: NDArray[np.float64], count: int
) -> Iterator[NDArray[np.float64]]:
    """The best directions that lie well apart."""
    left = np.argsort(costs, kind="stable")
    for _ in range(count):
        if not len(left):
            return
        best = directions[left[0]]
        yield best
        left = left[directions[left] @ best < np.cos(np.radians(_START_APART_DEG))]


def _walked(
    search: _Search, start: NDArray[np.float64], axis: NDArray[np.float64], cone_deg: float
) -> NDArray[np.float64]:
    """Pattern search: to the best neighbour while there is a better one, then in smaller steps."""
    best, least = start, search.look(start, _FINE_PIXELS)
    for step_deg in _STEPS_DEG:
        for _ in range(_MOST_MOVES):
            near = _within(_neighbours(best, step_deg), axis, cone_deg)
            costs = [search.look(direction, _FINE_PIXELS) for direction in near]
            if not costs or min(costs) >= least:
                break
            best, least = near[int(np.argmin(costs))], min(costs)
    return best


def _neighbours(direction: NDArray[np.float64], step_deg: float) -> NDArray[np.float64]:
    """Four directions around one."""
    across = np.linalg.svd(direction[None, :])[2][1:] * np.tan(np.radians(step_deg))
    near = direction + np.concatenate([across, -across])
    around: NDArray[np.float64] = near / np.linalg.norm(near, axis=1)[:, None]
    return around


def _snapped(proxy: Proxy, directions: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    """The same directions laid into each plane of symmetry."""
    laid = [way - (way @ normal) * normal for way in directions for normal in proxy.mirrors]
    return np.array([way / np.linalg.norm(way) for way in laid if np.linalg.norm(way) > 0.5]).reshape(-1, 3)


def _chosen(search: _Search) -> tuple[Setup, ...]:
    """Up to five setups that differ clearly, the best first."""
    proxy, left = search.proxy, sorted(search.found, key=lambda entry: entry[2])
    chosen: list[tuple[NDArray[np.float64], Figures, float]] = []
    while left and len(chosen) < MOST:
        bound = left[0][2] * (1.0 + _MARGIN)
        within = [entry for entry in left if entry[2] <= bound]
        best = min(
            within, key=lambda entry: (not _stands(proxy, entry), -_plainness(proxy, entry[0]), entry[2])
        )
        if not chosen:
            left = [entry for entry in left if _shows_enough(entry, best)]
        chosen.append(best)
        left = [entry for entry in left if _differs(proxy, entry, best)]
    search.found.clear()
    setups = []
    for direction, figures, _ in chosen:
        sinks: tuple[Sink, ...] = ("widest",) if figures.sink_mm == figures.widest_mm else (figures.sink_mm,)
        again = replace(search, sinks=sinks, found=[])
        again.look(direction, _LAST_PIXELS, exact=True)
        setups += [_setup(search, *entry) for entry in again.found]
    return tuple(setups)


def _stands(proxy: Proxy, entry: tuple[NDArray[np.float64], Figures, float]) -> bool:
    """Whether a setup stands on a facet of the hull as it is."""
    direction, figures, _ = entry
    return figures.sink_mm == 0.0 and bool((proxy.resting @ direction > 1.0 - 1e-12).any())


def _plainness(proxy: Proxy, direction: NDArray[np.float64]) -> int:
    """3 along +Z of the file, 2 along another of its axes, 1 in a plane of symmetry, else 0."""
    if _between_deg(direction, proxy.turn[:, 2]) < _ON_AXIS_DEG:
        return 3
    if any(_between_deg(direction, way) < _ON_AXIS_DEG for way in (*proxy.turn.T, *-proxy.turn.T)):
        return 2
    return int(any(abs(direction @ normal) < np.sin(np.radians(_ON_AXIS_DEG)) for normal in proxy.mirrors))


def _shows_enough(
    one: tuple[NDArray[np.float64], Figures, float], best: tuple[NDArray[np.float64], Figures, float]
) -> bool:
    """Whether a setup shows enough of the sculpt to be worth a maker's thought."""
    return 1.0 - one[1].lost_share >= _LEAST * (1.0 - best[1].lost_share)


def _differs(
    proxy: Proxy,
    one: tuple[NDArray[np.float64], Figures, float],
    other: tuple[NDArray[np.float64], Figures, float],
) -> bool:
    """Whether two setups are clearly different."""
    (way, figures, cost), (other_way, other_figures, other_cost) = one, other
    shallow = _DEPTH_APART * proxy.size_mm
    if (figures.sink_mm > shallow) != (other_figures.sink_mm > shallow):
        return True
    alike = (
        abs(figures.height_mm - other_figures.height_mm) < _ALIKE * proxy.size_mm
        and abs(figures.footprint_mm2 - other_figures.footprint_mm2) < _ALIKE * proxy.size_mm**2
        and abs(cost - other_cost) < _ALIKE
    )
    if alike:
        return False
    mirrored = [way, *(way - 2.0 * (way @ normal) * normal for normal in proxy.mirrors)]
    return min(_between_deg(image, other_way) for image in mirrored) >= _APART_DEG


def _setup(search: _Search, direction: NDArray[np.float64], figures: Figures, cost: float) -> Setup:
    proxy = search.proxy
    tick = search.tick
    share = min(search.done / search.steps, 1.0)
    asked = None if tick is None else lambda _share: tick(share)
    thin = spread = np.nan
    if search.previews:
        thin, spread = thin_share(proxy, direction, figures.sink_mm, draft_deg=search.draft_deg, tick=asked)
    way = direction @ proxy.turn
    way[np.abs(way) < _ROUNDING] = 0.0  # what is along an axis is exactly along it
    x, y, z = (float(value) for value in way / np.linalg.norm(way))
    return Setup((x, y, z), figures, cost, thin, spread, _note(figures))


def _note(figures: Figures) -> str:
    if figures.sink_mm > 0.0:
        return f"sunk {figures.sink_mm:.1f} mm, which cuts off {figures.cut_volume_mm3 / 1000.0:.1f} cm3"
    if figures.foot_share >= RELIEF_SHARE:
        return "as it is, on its flat foot"
    return "as it is, without a flat foot"
