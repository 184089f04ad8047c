"""Square cells of the plan, halved until the draft envelope is straight enough in each."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation

from buckwright.relief.columns import Columns
from buckwright.shape.fill.cones import ConeField

__all__ = [
    "CORNERS",
    "NINE",
    "OVER_MM",
    "CellSizes",
    "Cells",
    "PlanGrid",
    "PlanPoints",
    "PlanSurvey",
    "along",
    "split_cells",
]

OVER_MM = 6e-5
"""The envelope counts as fill where it rises over the sculpt by more than this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CellSizes:
    """Fineness of the envelope solid.

    Attributes
    ----------
    cell_mm : side of the largest cell
    halvings : how often a cell may be halved
    wall_cell_mm : cells with walls of fill are at most this large
    rim_cell_mm : cells on a rim are at most this large
    bend_mm : allowed sideways error of the walls, as (smallest, largest)
    bend_share : the same as a share of the cell's side; within the limits of `bend_mm`
    thin_share : how far a wall may move when nodes are taken out of it again, as a share of the largest
        `bend_mm`; 0 takes none out
    over_mm : how far the patch may stand over the sculpt in front of the foot of a wall
    sink_mm : greatest depth below the sculpt's surface where nothing is to be filled
    """

    cell_mm: float = 0.8
    halvings: int = 4
    wall_cell_mm: float = 0.4
    rim_cell_mm: float = 0.2
    bend_mm: tuple[float, float] = (0.003, 0.008)
    bend_share: float = 0.02
    thin_share: float = 0.375
    over_mm: float = 0.02
    sink_mm: float = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class PlanPoints:
    """Envelope and sculpt at points of the plane; heights in mm, one value per point."""

    envelope: NDArray[np.float64]
    top: NDArray[np.float64]
    layer: NDArray[np.float64]  # thickness of the sculpt's uppermost layer
    present: NDArray[np.bool_]  # there is sculpt at all
    void: NDArray[np.bool_]  # there is air under that layer that is to be filled
    fill: NDArray[np.bool_]  # the envelope rises over the sculpt
    outside: NDArray[np.bool_]  # on the outer side of the rim that sets the envelope

    def only(self, index: Any) -> "PlanPoints":
        """Some of the points.

        Parameters
        ----------
        index : what an array takes as an index

        Returns
        -------
        PlanPoints
        """
        return PlanPoints(*(getattr(self, field.name)[index] for field in fields(self)))

    @classmethod
    def joined(cls, points: Sequence["PlanPoints"]) -> "PlanPoints":
        """Points one after the other, in one row.

        Parameters
        ----------
        points : at least one, of any shape

        Returns
        -------
        PlanPoints : arrays of shape (N,)
        """
        return cls(
            *(np.concatenate([getattr(g, field.name).ravel() for g in points]) for field in fields(cls))
        )


class PlanSurvey:
    """Queries envelope and columns; points are visited in the order given."""

    def __init__(
        self,
        field: ConeField,
        outward: NDArray[np.float64],
        columns: Columns,
        wanted_faces: NDArray[np.bool_] | None,
        low: float,
    ) -> None:
        self.field, self.outward, self.columns = field, outward, columns
        self.wanted, self.low = wanted_faces, low

    def __call__(self, points: NDArray[np.float64]) -> PlanPoints:
        """Envelope and sculpt at points (N, 2), mm."""
        envelope, source = self.field.evaluate(points, at_least=np.full(len(points), self.low))
        top, _ = self.columns.top(points)
        under, face = self.columns.below(np.column_stack([points, top]))
        present = np.isfinite(top) & np.isfinite(under)
        void = present & (under > 1e-6)
        if self.wanted is not None:
            void &= np.where(face >= 0, self.wanted[face], False)
        layer = np.where(present, top - np.where(present, under, 0.0), 0.0)
        ground = np.where(np.isfinite(top), top, 0.0)
        fill = envelope > np.maximum(ground, 0.0) + OVER_MM
        return PlanPoints(envelope, ground, layer, present, void, fill, self._before(points, source))

    def _before(self, points: NDArray[np.float64], source: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Whether a point lies on the outer side of the rim that sets its envelope."""
        before = np.zeros(len(points), np.bool_)
        hit = np.flatnonzero(source >= 0)
        segment = self.field.segments[source[hit]]
        across = points[hit] - (segment[:, :2] + segment[:, 3:5]) * 0.5
        before[hit] = np.einsum("ij,ij->i", across, self.outward[source[hit]]) > 0.0
        return before


@dataclass(frozen=True, slots=True, eq=False)
class PlanGrid:
    """Base cells, and the integer lattice (half the finest cell) on which all nodes lie."""

    origin: NDArray[np.float64]
    shape: tuple[int, int]
    unit: float
    base: int  # lattice steps along a base cell
    rim_cells: NDArray[np.bool_]  # base cells through which a rim runs
    rim_points: NDArray[np.float64]

    @classmethod
    def over(cls, field: ConeField, columns: Columns, settings: CellSizes) -> "PlanGrid":
        """Lay a grid over the sculpt and as far as walls of fill can reach.

        Parameters
        ----------
        field : cones on the rims
        columns : of the sculpt
        settings : fineness

        Returns
        -------
        PlanGrid
        """
        low, high = columns.mesh.bounds
        reach = max(high[2], 0.0) / field.steepness + 2.0 * settings.cell_mm
        origin = low[:2] - reach
        nx, ny = np.ceil((high[:2] + reach - origin) / settings.cell_mm).astype(int)
        base = 2 ** (settings.halvings + 1)
        points = along(field.segments, settings.rim_cell_mm * 0.5)[0][:, :2]
        cells = np.zeros((ny, nx), np.bool_)
        index = np.floor((points - origin) / settings.cell_mm).astype(int)
        cells[index[:, 1], index[:, 0]] = True
        return cls(origin, (int(ny), int(nx)), settings.cell_mm / base, base, cells, points)

    def active_cells(self, survey: PlanSurvey) -> NDArray[np.bool_]:
        """Base cells that hold fill or void, and one ring of cells around them.

        Parameters
        ----------
        survey : queries envelope and sculpt

        Returns
        -------
        (ny, nx) bool, the shape of the grid
        """
        ny, nx = self.shape
        half = self.base // 2
        j, i = np.mgrid[0 : 2 * ny + 1, 0 : 2 * nx + 1]
        ground = survey(self.place(np.column_stack([i.ravel(), j.ravel()]) * half))
        hot = (ground.fill | ground.void).reshape(2 * ny + 1, 2 * nx + 1)
        cells = self.rim_cells.copy()
        for dj in range(3):
            for di in range(3):
                cells |= hot[dj : dj + 2 * ny - 1 : 2, di : di + 2 * nx - 1 : 2]
        return binary_dilation(cells, np.ones((3, 3), np.bool_))

    def place(self, lattice: NDArray[np.int64]) -> NDArray[np.float64]:
        """Lattice points in mm.

        Parameters
        ----------
        lattice : (N, 2) int64, column and row

        Returns
        -------
        (N, 2) float64, mm
        """
        placed: NDArray[np.float64] = self.origin + lattice * self.unit
        return placed

    def keys(self, lattice: NDArray[np.int64]) -> NDArray[np.int64]:
        """One whole number per lattice point.

        Parameters
        ----------
        lattice : (N, 2) int64, column and row

        Returns
        -------
        (N,) int64, unique and increasing row by row
        """
        keys: NDArray[np.int64] = lattice[:, 1] * (self.shape[1] * self.base + 1) + lattice[:, 0]
        return keys

    def unkey(self, keys: NDArray[np.int64]) -> NDArray[np.int64]:
        """Lattice points of whole numbers, the inverse of `keys`.

        Parameters
        ----------
        keys : (N,) int64

        Returns
        -------
        (N, 2) int64, column and row
        """
        width = self.shape[1] * self.base + 1
        return np.column_stack([keys % width, keys // width])


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Cells of one size: lower corners on the lattice, side in lattice steps, state of 3 x 3 points."""

    corner: NDArray[np.int64]
    side: int
    ground: PlanPoints  # arrays of shape (N, 9)


NINE = np.array([(i, j) for j in (0, 1, 2) for i in (0, 1, 2)])
CORNERS = np.array([0, 2, 6, 8])
_QUARTERS = np.array([(0, 0), (1, 0), (0, 1), (1, 1)])
_CORNERS_OF_QUARTERS = np.array([[0, 1, 3, 4], [1, 2, 4, 5], [3, 4, 6, 7], [4, 5, 7, 8]])
_CORNER_BEFORE = np.array([0, 0, 1, 0, 0, 1, 2, 2, 3])
# points between two nodes; the triangulation may take either diagonal, so both must pass
_BETWEEN = ((1, (0, 2)), (3, (0, 6)), (5, (2, 8)), (7, (6, 8)), (4, (0, 8)), (4, (2, 6)))


def _look(grid: PlanGrid, corner: NDArray[np.int64], side: int, survey: PlanSurvey) -> Cells:
    """Query the nine points of each cell, each shared point once."""
    points = (corner[:, None, :] + NINE[None] * (side // 2)).reshape(-1, 2)
    keys, back = np.unique(grid.keys(points), return_inverse=True)
    g = survey(grid.place(grid.unkey(keys)))
    return Cells(corner, side, g.only(back.reshape(-1, 9)))


def split_cells(
    grid: PlanGrid, active: NDArray[np.bool_], survey: PlanSurvey, settings: CellSizes
) -> list[Cells]:
    """Halve cells until each is good enough or as small as allowed.

    Parameters
    ----------
    grid : the lattice
    active : (ny, nx) bool, base cells to start from
    survey : queries envelope and sculpt
    settings : fineness

    Returns
    -------
    list of Cells : the leaves, one entry per size, largest first
    """
    j, i = np.nonzero(active)
    corner = np.column_stack([i, j]).astype(np.int64) * grid.base
    side = grid.base
    leaves = []
    while len(corner):
        cells = _look(grid, corner, side, survey)
        split = _needs_split(grid, cells, settings, survey.field.steepness)
        leaves.append(Cells(corner[~split], side, cells.ground.only(~split)))
        side //= 2
        corner = (corner[split][:, None, :] + _QUARTERS[None] * side).reshape(-1, 2)
        if side == 2:
            leaves.append(_smallest(grid, corner, cells.ground.only(split), survey))
            break
    return leaves


def _smallest(grid: PlanGrid, corner: NDArray[np.int64], parents: PlanPoints, survey: PlanSurvey) -> Cells:
    """Cells that are not split: their corners are known from the parents, and only their middles are asked.

    A side counts as the corner before it.
    """
    middles = survey(grid.place(corner + 1))
    known = parents.only(np.s_[:, _CORNERS_OF_QUARTERS])
    spread = []
    for field in fields(PlanPoints):
        of_points = getattr(known, field.name).reshape(-1, 4)[:, _CORNER_BEFORE]
        of_points[:, 4] = getattr(middles, field.name)
        spread.append(of_points)
    return Cells(corner, 2, PlanPoints(*spread))


def _needs_split(grid: PlanGrid, cells: Cells, settings: CellSizes, steepness: float) -> NDArray[np.bool_]:
    """Whether linear interpolation between the corners would be wrong."""
    g = cells.ground
    size = cells.side * grid.unit
    rim = np.zeros(len(cells.corner), np.bool_)
    if size > settings.rim_cell_mm * 1.001:
        rim = _holds_point(grid, cells)
    near = g.fill.any(axis=1) & (g.envelope.max(axis=1) > 0.0)
    large = near & (size > settings.wall_cell_mm * 1.001)
    bend = np.zeros(len(cells.corner))
    thin = np.zeros(len(cells.corner), np.bool_)
    inside = _inside_height(g, settings.sink_mm)
    standing = np.where(g.fill, g.envelope, np.maximum(g.envelope, np.where(g.outside, -np.inf, inside)))
    over = np.zeros(len(cells.corner), np.bool_)
    for at, of in _BETWEEN:
        miss = np.abs(g.envelope[:, of].mean(axis=1) - g.envelope[:, at])
        matters = g.envelope[:, [at, *of]].max(axis=1) > 0.0
        bend = np.maximum(bend, np.where(matters, miss / steepness, 0.0))
        between = inside[:, of].mean(axis=1)
        wrong = (between >= g.top[:, at]) | (between <= g.top[:, at] - g.layer[:, at])
        thin |= g.void[:, at] & ~g.fill[:, at] & wrong
        over |= ~g.fill[:, at] & (standing[:, of].mean(axis=1) > g.top[:, at] + settings.over_mm)
    allowed = float(np.clip(settings.bend_share * size, *settings.bend_mm))
    thin &= size > settings.rim_cell_mm * 1.001
    return rim | large | thin | (near & ((bend > allowed) | over))


def _holds_point(grid: PlanGrid, cells: Cells) -> NDArray[np.bool_]:
    """Cells that contain a point of a rim."""
    at = np.floor((grid.rim_points - grid.origin) / (grid.unit * cells.side)).astype(np.int64)
    held: NDArray[np.bool_] = np.isin(grid.keys(cells.corner // cells.side), np.unique(grid.keys(at)))
    return held


def _inside_height(g: PlanPoints, sink_mm: float) -> NDArray[np.float64]:
    """A height inside the uppermost layer of the sculpt."""
    height: NDArray[np.float64] = g.top - np.minimum(g.layer * 0.5, sink_mm)
    return height


def along(segments: NDArray[np.float64], spacing: float) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Both ends of every segment and points between them.

    Parameters
    ----------
    segments : (S, 6) float64, both ends of each, mm
    spacing : greatest distance in plan between points of a segment, mm, > 0

    Returns
    -------
    (N, 3) float64, (N,) int64 : points, mm, and the segment of each
    """
    start, end = segments[:, :3], segments[:, 3:]
    pieces = np.maximum(np.ceil(np.linalg.norm((end - start)[:, :2], axis=1) / spacing), 1).astype(int)
    which = np.repeat(np.arange(len(segments)), pieces + 1)
    step = np.arange(len(which)) - np.repeat(np.cumsum(pieces + 1) - (pieces + 1), pieces + 1)
    share = (step / pieces[which])[:, None]
    return start[which] * (1.0 - share) + end[which] * share, which
