"""Holes of a platen under a buck: which stay open, which are to be masked, and which vents reach an open one.

The grid is taken to have a hole in the middle of the platen, under the middle of the base. A buck that is set
down elsewhere meets other holes, so a count is one for this place.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse import csgraph

from buckwright.errors import InputError

__all__ = ["Air", "PlatenHoles", "air_of", "hole_grid", "in_outlines", "sort_holes"]

# A grid of more is a slip of the pen: house rule.
_MOST_HOLES = 20_000

type Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class PlatenHoles:
    """Holes of a platen around the middle of the base.

    Attributes
    ----------
    places_mm : (N, 2) float64
    hole_mm : diameter
    masked : (N,) bool, not wholly inside the opening: air would come in past the sheet
    covered : (N,) bool, inside the opening, its middle under the base
    """

    places_mm: Points
    hole_mm: float
    masked: NDArray[np.bool_]
    covered: NDArray[np.bool_]

    @property
    def beside(self) -> NDArray[np.bool_]:
        """(N,) bool, open beside the base."""
        return ~self.masked & ~self.covered


@dataclass(frozen=True, slots=True, eq=False)
class Air:
    """Where the air of each vent can go.

    Attributes
    ----------
    reached : (V,) bool, the vent reaches an open hole
    under : holes under the base that a channel runs over
    """

    reached: NDArray[np.bool_]
    under: int


def hole_grid(platen_mm: tuple[float, float], *, round_one: bool, pitch_mm: float, hole_mm: float) -> Points:
    """Holes of a platen, one of them in its middle, none cut by its edge.

    Parameters
    ----------
    platen_mm : width and depth; a round platen has its diameter for both
    round_one : whether it is round
    pitch_mm : distance of neighbours along both axes, more than the diameter
    hole_mm : diameter

    Returns
    -------
    (N, 2) float64, mm, row by row

    Raises
    ------
    InputError
        There would be more than 20,000.

    Examples
    --------
    >>> len(hole_grid((101.0, 51.0), round_one=False, pitch_mm=25.0, hole_mm=1.0))
    15
    """
    reach = [int((side - hole_mm) / 2.0 / pitch_mm + 1e-9) for side in platen_mm]
    if (2 * reach[0] + 1) * (2 * reach[1] + 1) > _MOST_HOLES:
        raise InputError(
            f"holes every {pitch_mm:g} mm on a platen of {platen_mm[0]:g} x {platen_mm[1]:g} mm are more "
            f"than {_MOST_HOLES:,}; check hole_pitch_mm"
        )
    x, y = (pitch_mm * np.arange(-count, count + 1) for count in reach)
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    if round_one:
        grid = grid[np.hypot(*grid.T) <= (platen_mm[0] - hole_mm) / 2.0 + 1e-9]
    return grid


def sort_holes(
    places: Points,
    hole_mm: float,
    *,
    opening_mm: tuple[float, float],
    round_one: bool,
    base: Sequence[Points],
) -> PlatenHoles:
    """Tell holes to mask from those that stay open.

    Parameters
    ----------
    places : (N, 2) middles around the middle of the opening, mm
    hole_mm : diameter
    opening_mm : clear width and depth of the clamp frame, or of the mask plate's cut-out
    round_one : whether the opening is round
    base : outlines of the base, (K, 2) each, even-odd

    Returns
    -------
    PlatenHoles
    """
    if round_one:
        inside = np.hypot(*places.T) <= (opening_mm[0] - hole_mm) / 2.0 + 1e-9
    else:
        inside = (np.abs(places) <= (np.array(opening_mm) - hole_mm) / 2.0 + 1e-9).all(axis=1)
    return PlatenHoles(places, hole_mm, ~inside, inside & in_outlines(places, base))


def air_of(
    holes: PlatenHoles,
    nodes: Points,
    links: NDArray[np.int64],
    exits: NDArray[np.bool_],
    *,
    base: Sequence[Points],
    vents: int,
    width_mm: float,
    gap: bool,
) -> Air:
    """Follow the air of each vent along channels and the gap round the base to open holes of the platen.

    Parameters
    ----------
    holes : from `sort_holes`
    nodes : (M, 2) float64, ends of the channels around the middle of the base, the vents first, mm
    links : (L, 2) int, nodes that a channel joins
    exits : (M,) bool, nodes at which a channel comes out: beside the base, or over a hole that was named
    base : outlines of the base, (K, 2) each, even-odd
    vents : how many of the nodes are vents
    width_mm : of a channel
    gap : whether there is room between base and frame all round

    Returns
    -------
    Air

    Notes
    -----
    A graph of nodes, the gap as one node, and the open air under the platen as one. A channel reaches a hole
    that lies under it by at least half of its diameter.
    """
    room, plenum = len(nodes), len(nodes) + 1
    pairs = [links.reshape(-1, 2)]
    named = in_outlines(nodes, base)
    out = np.flatnonzero(exits)
    pairs.append(np.column_stack([out, np.where(named[out], plenum, room)]))
    if gap and holes.beside.any():
        pairs.append(np.array([[room, plenum]]))
    covered, under = holes.places_mm[holes.covered], 0
    if len(covered) and len(links):
        ends = nodes[links]
        away = _from_segments(covered, ends[:, 0], ends[:, 1])
        over = away <= width_mm / 2.0
        under = int(over.any(axis=1).sum())
        first = links[over.any(axis=0), 0]
        pairs.append(np.column_stack([first, np.full(len(first), plenum)]))
    joined = np.concatenate(pairs).astype(np.int64)
    graph = sparse.coo_array((np.ones(len(joined)), joined.T), shape=(plenum + 1, plenum + 1))
    _, label = csgraph.connected_components(graph, directed=False)
    return Air(label[:vents] == label[plenum], under)


def in_outlines(points: Points, outlines: Sequence[Points]) -> NDArray[np.bool_]:
    """Which points lie within outlines, by even and odd.

    Parameters
    ----------
    points : (N, 2)
    outlines : closed, (M, 2) each

    Returns
    -------
    (N,) bool
    """
    found = np.zeros(len(points), np.bool_)
    for ring in outlines:
        found ^= _within(points, np.asarray(ring))
    return found


def _within(points: Points, ring: Points) -> NDArray[np.bool_]:
    """Even-odd: crossings with a ray along +x."""
    start, end = ring, np.roll(ring, -1, axis=0)
    x, y = points[:, :1], points[:, 1:]
    straddles = (start[:, 1] > y) != (end[:, 1] > y)
    rise = np.where(end[:, 1] == start[:, 1], 1.0, end[:, 1] - start[:, 1])
    at = start[:, 0] + (y - start[:, 1]) / rise * (end[:, 0] - start[:, 0])
    crossed: NDArray[np.bool_] = (straddles & (x < at)).sum(axis=1) % 2 == 1
    return crossed


def _from_segments(points: Points, start: Points, end: Points) -> Points:
    """Distance of each point (P, 2) to each segment (S, 2): (P, S)."""
    along = end - start
    square = np.maximum((along**2).sum(axis=1), 1e-12)
    share = np.clip(((points[:, None] - start) * along).sum(axis=2) / square, 0.0, 1.0)
    away: Points = np.linalg.norm(points[:, None] - (start + share[..., None] * along), axis=2)
    return away
