"""How many equal bucks stand in one opening, and where.

Between two bucks the sheet has to come down twice: makers leave 1.75 to 2 times the height, never less than
the height, and no less than 25 mm even for flat ones. Suppliers of resin say so too; none of it could be
confirmed.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Beside",
    "GroupPlan",
    "Place",
    "beside_outlines",
    "outlines_of",
    "placed",
    "places_of",
    "plan_group",
    "spacing_for",
]

_SPACING_SHARE = 1.75
_LEAST_SPACING_MM = 25.0  # makers form half-masks at that distance (read)
_MOST_COUNTED = 400


@dataclass(frozen=True, slots=True)
class Place:
    """Middle of a base, from the middle of the opening, mm, and whether it is a quarter turned."""

    x: float
    y: float
    turned: bool


@dataclass(frozen=True, slots=True)
class Beside:
    """Bucks of another job in the same opening.

    Attributes
    ----------
    name : what they are
    base_mm : width and depth of a base
    copies, most : how many are wanted, and how many fit beside the others
    places : of all of them; empty where they do not fit
    """

    name: str
    base_mm: tuple[float, float]
    copies: int
    most: int
    places: tuple[Place, ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "name": self.name,
            "base_mm": list(self.base_mm),
            "copies": self.copies,
            "most": self.most,
            "places": [_place_dict(one) for one in self.places],
        }


def _place_dict(place: Place) -> dict[str, Any]:
    return {"x_mm": place.x, "y_mm": place.y, "turned": place.turned}


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupPlan:
    """Several bucks in one opening.

    Attributes
    ----------
    copies : how many are wanted
    most : how many fit in rows and columns
    base_mm : width and depth of one base
    spacing_mm, edge_mm : between bucks, and to the frame
    opening_mm : clear width and depth; what the group needs where none is given
    opening_given : whether it is the machine's or the job's
    round_opening : whether it is round
    needs_mm : width and depth that the copies need, each way of laying them that comes near
    places : of the copies; empty where they do not fit
    beside : bucks of other jobs
    """

    copies: int
    most: int
    base_mm: tuple[float, float]
    spacing_mm: float
    edge_mm: float
    opening_mm: tuple[float, float]
    opening_given: bool
    round_opening: bool
    needs_mm: tuple[tuple[float, float], ...]
    places: tuple[Place, ...]
    beside: tuple[Beside, ...] = ()

    @property
    def fits(self) -> bool:
        """Whether all bucks fit."""
        return bool(self.places)

    @property
    def count(self) -> int:
        """Bucks that are wanted in all."""
        return self.copies + sum(one.copies for one in self.beside)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and depth around all bases."""
        stood = [(one, self.base_mm) for one in self.places]
        stood += [(one, kind.base_mm) for kind in self.beside for one in kind.places]
        sizes = [base[::-1] if one.turned else base for one, base in stood]
        xs = [one.x + side * w / 2.0 for (one, _), (w, _) in zip(stood, sizes) for side in (-1.0, 1.0)]
        ys = [one.y + side * d / 2.0 for (one, _), (_, d) in zip(stood, sizes) for side in (-1.0, 1.0)]
        return max(xs) - min(xs), max(ys) - min(ys)

    def to_dict(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "copies": self.copies,
            "fits": self.fits,
            "most": self.most,
            "spacing_mm": self.spacing_mm,
            "edge_mm": self.edge_mm,
            "opening_mm": list(self.opening_mm),
            "needs_mm": [list(size) for size in self.needs_mm],
            "places": [_place_dict(one) for one in self.places],
            "others": [one.to_dict() for one in self.beside],
        }


@dataclass(frozen=True, slots=True)
class _Grid:
    """Bucks in columns and rows, all the same way round, and the opening that they need."""

    columns: int
    rows: int
    turned: bool
    needs_mm: tuple[float, float]

    def in_opening(self, opening_mm: tuple[float, float], edge: float, *, round_one: bool) -> bool:
        """Whether it fits; in a round opening its corners keep the edge."""
        width, depth = self.needs_mm
        if round_one:
            corner = math.hypot(width / 2.0 - edge, depth / 2.0 - edge)
            return corner + edge <= opening_mm[0] / 2.0 + 1e-9
        return width <= opening_mm[0] + 1e-9 and depth <= opening_mm[1] + 1e-9


def spacing_for(height_mm: float) -> float:
    """Clear distance between two bucks of a height, mm.

    Parameters
    ----------
    height_mm : of the bucks

    Examples
    --------
    >>> spacing_for(25.0), spacing_for(10.0)
    (43.75, 25.0)
    """
    return max(_SPACING_SHARE * height_mm, _LEAST_SPACING_MM)


def plan_group(
    base_mm: tuple[float, float],
    copies: int,
    *,
    spacing_mm: float,
    edge_mm: float,
    opening_mm: tuple[float, float] | None,
    round_one: bool = False,
) -> GroupPlan:
    """Lay copies of a buck in an opening.

    Parameters
    ----------
    base_mm : width and depth of a base
    copies : how many are wanted
    spacing_mm, edge_mm : clear distances between bucks and to the frame
    opening_mm : clear width and depth; None takes what the copies need
    round_one : whether the opening is round

    Returns
    -------
    GroupPlan

    Notes
    -----
    Columns and rows, all bucks the same way round, either way. Of those that hold the copies the one is taken
    that leaves most room to the frame on its narrowest side; without an opening, the one that needs the least
    area. A last row that is not full stays in its grid.

    Examples
    --------
    >>> tray = plan_group((80.0, 55.0), 6, spacing_mm=43.75, edge_mm=25.0, opening_mm=(280.0, 220.0))
    >>> tray.fits, tray.most
    (False, 4)
    """
    grids = list(_grids(base_mm, copies, spacing_mm, edge_mm))
    grids.sort(key=lambda one: (one.needs_mm[0] * one.needs_mm[1], one.turned))
    size = grids[0].needs_mm if opening_mm is None else opening_mm
    fitting = [one for one in grids if one.in_opening(size, edge_mm, round_one=round_one)]
    # the way that leaves most sheet on its narrowest side
    fitting.sort(key=lambda one: max(one.needs_mm[0] - size[0], one.needs_mm[1] - size[1]))
    return GroupPlan(
        copies=copies,
        most=copies if opening_mm is None else _most(base_mm, spacing_mm, edge_mm, size, round_one=round_one),
        base_mm=base_mm,
        spacing_mm=spacing_mm,
        edge_mm=edge_mm,
        opening_mm=size,
        opening_given=opening_mm is not None,
        round_opening=round_one and opening_mm is not None,
        needs_mm=tuple(dict.fromkeys(one.needs_mm for one in grids)),
        places=_places(fitting[0], base_mm, spacing_mm, copies) if fitting else (),
    )


def _sides(base_mm: tuple[float, float], turned: bool) -> tuple[float, float]:
    return base_mm[::-1] if turned else base_mm


def _grids(base_mm: tuple[float, float], copies: int, spacing: float, edge: float) -> Iterator[_Grid]:
    """Every full grid that holds so many, without an empty row."""
    for turned in (False, True) if base_mm[0] != base_mm[1] else (False,):
        for columns in range(1, copies + 1):
            rows = math.ceil(copies / columns)
            if (columns - 1) * rows >= copies:
                continue  # one column less does as well
            yield _Grid(columns, rows, turned, _needs(_sides(base_mm, turned), columns, rows, spacing, edge))


def _needs(
    sides: tuple[float, float], columns: int, rows: int, spacing: float, edge: float
) -> tuple[float, float]:
    width = columns * sides[0] + (columns - 1) * spacing + 2.0 * edge
    depth = rows * sides[1] + (rows - 1) * spacing + 2.0 * edge
    return width, depth


def _most(
    base_mm: tuple[float, float],
    spacing: float,
    edge: float,
    opening_mm: tuple[float, float],
    *,
    round_one: bool,
) -> int:
    """The largest grid that fits."""
    best = 0
    for turned in (False, True):
        sides = _sides(base_mm, turned)
        for columns in range(1, _MOST_COUNTED + 1):
            rows = 0
            while rows < _MOST_COUNTED and _Grid(
                columns, rows + 1, turned, _needs(sides, columns, rows + 1, spacing, edge)
            ).in_opening(opening_mm, edge, round_one=round_one):
                rows += 1
            if not rows:
                break
            best = max(best, columns * rows)
    return best


def _places(grid: _Grid, base_mm: tuple[float, float], spacing: float, copies: int) -> tuple[Place, ...]:
    width, depth = _sides(base_mm, grid.turned)
    across, along = width + spacing, depth + spacing
    places = [
        Place(
            (column - (grid.columns - 1) / 2.0) * across, ((grid.rows - 1) / 2.0 - row) * along, grid.turned
        )
        for row in range(grid.rows)
        for column in range(grid.columns)
    ]
    return tuple(places[:copies])


def places_of(plan: GroupPlan | None) -> tuple[Place, ...]:
    """Places of all copies; of one buck, and of copies that do not fit, the middle of the opening.

    Parameters
    ----------
    plan : of the group; None for one buck
    """
    return plan.places if plan is not None and plan.fits else (Place(0.0, 0.0, turned=False),)


def placed(points: NDArray[np.float64], place: Place) -> NDArray[np.float64]:
    """Points around the middle of a base at the place of a copy.

    Parameters
    ----------
    points : (N, 2) float64, mm
    place : of the copy

    Returns
    -------
    (N, 2) float64
    """
    turned = np.column_stack([-points[:, 1], points[:, 0]]) if place.turned else points
    moved: NDArray[np.float64] = turned + np.array([place.x, place.y])
    return moved


def beside_outlines(
    plan: GroupPlan | None, outlines: Sequence[Sequence[NDArray[np.float64]]]
) -> list[NDArray[np.float64]]:
    """Outlines of the bases of other jobs at their places.

    Parameters
    ----------
    plan : of the group; None for one buck
    outlines : of each kind, (N, 2) each, around the middle of its base

    Returns
    -------
    list of (N, 2) float64
    """
    kinds = () if plan is None else plan.beside
    pairs = zip(kinds, outlines, strict=True) if kinds else ()
    return [ring for kind, rings in pairs for ring in outlines_of(rings, kind.places)]


def outlines_of(
    outlines: Sequence[NDArray[np.float64]], places: Sequence[Place]
) -> list[NDArray[np.float64]]:
    """Outlines of one base at every place.

    Parameters
    ----------
    outlines : (N, 2) each, around the middle of the base
    places : of the copies

    Returns
    -------
    list of (N, 2) float64
    """
    return [placed(np.asarray(ring), place) for place in places for ring in outlines]
