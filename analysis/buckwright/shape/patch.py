"""A solid under the draft envelope, meshed as finely as the envelope asks.

The plan is covered by square cells that split where the envelope bends, where a rim runs through or
where the layer of sculpt over a void is thin. Corners of cells and points of the rims are joined by
a Delaunay triangulation; each node stands at the height of the envelope where that rises over the
sculpt, and inside the sculpt elsewhere, so that the sculpt's own triangles stay on top.
"""

from dataclasses import dataclass

import numpy as np
from manifold3d import triangulate
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation
from scipy.spatial import Delaunay, cKDTree

from buckwright.mesh.adjacency import boundary_loops
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.shape.cones import ConeField

__all__ = ["Patch", "PatchSettings", "build_patch"]

_UNDER_RIM_MM = 1e-5  # keeps the patch just under the sculpt's own edge: contact is slow and fragile
_GUARD_ROUNDS = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchSettings:
    """Fineness of the patch.

    Attributes
    ----------
    cell_mm : side of the largest cell
    halvings : how often a cell may be halved
    wall_cell_mm : cells with walls of fill are at most this large
    rim_cell_mm : cells on a rim are at most this large
    bend_mm : allowed sideways error of the walls, as (least, greatest)
    bend_share : the same in shares of a cell's side; a cell is held to this within those limits
    sink_mm : greatest depth below the sculpt's surface where nothing is to be filled
    """

    cell_mm: float = 0.8
    halvings: int = 4
    wall_cell_mm: float = 0.4
    rim_cell_mm: float = 0.2
    bend_mm: tuple[float, float] = (0.003, 0.008)
    bend_share: float = 0.02
    sink_mm: float = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """What `build_patch` made.

    Attributes
    ----------
    mesh : closed solid that reaches below z = 0 (trim it), or None where nothing is to be filled
    cells : (N, 4) x, y, side of the leaves that hold fill and the height of fill over the sculpt, mm
    """

    mesh: Mesh | None
    cells: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class _Ground:
    """What is known at points of the plane."""

    envelope: NDArray[np.float64]
    top: NDArray[np.float64]
    layer: NDArray[np.float64]  # thickness of the sculpt's uppermost layer
    void: NDArray[np.bool_]  # there is air under that layer that is to be filled
    fill: NDArray[np.bool_]  # the envelope rises over the sculpt


class _Survey:
    """Asks envelope and columns; points are visited in the order given."""

    def __init__(
        self, field: ConeField, columns: Columns, wanted_faces: NDArray[np.bool_] | None, low: float
    ) -> None:
        self.field, self.columns, self.wanted, self.low = field, columns, wanted_faces, low

    def __call__(self, points: NDArray[np.float64]) -> _Ground:
        envelope, _ = self.field.evaluate(points, at_least=np.full(len(points), self.low))
        top, _ = self.columns.top(points)
        under, face = self.columns.below(np.column_stack([points, top]))
        present = np.isfinite(top) & np.isfinite(under)
        void = present & (under > 1e-6)
        if self.wanted is not None:
            void &= np.where(face >= 0, self.wanted[face], False)
        layer = np.where(present, top - np.where(present, under, 0.0), 0.0)
        ground = np.where(np.isfinite(top), top, 0.0)
        fill = envelope > np.maximum(ground, 0.0) + _UNDER_RIM_MM
        return _Ground(envelope, ground, layer, void, fill)


def build_patch(
    field: ConeField,
    columns: Columns,
    *,
    settings: PatchSettings,
    wanted_faces: NDArray[np.bool_] | None = None,
) -> Patch:
    """Mesh the solid between z = 0 and the draft envelope where it is not sculpt already.

    Parameters
    ----------
    field : cones on the rims
    columns : the sculpt
    settings : fineness
    wanted_faces : (F,) fill only voids under these faces

    Notes
    -----
    On walls the nodes are exact, so the error lies between nodes only: a wall is about `bend_mm`
    out of place at most, too high in concave creases and too low on convex ones. Where a vertex of the
    sculpt would be covered for that reason, a node is put there. Time and size grow with the length
    of the rims over `rim_cell_mm` and with the area of voids over `cell_mm` squared.
    """
    low = -field.steepness * settings.cell_mm * 3.0
    survey = _Survey(field, columns, wanted_faces, low)
    grid = _Grid.over(field, columns, settings)
    active = grid.active_cells(survey, settings)
    if not active.any():
        return Patch(None, np.zeros((0, 4)))
    leaves = _split(grid, active, survey, settings)
    rims = _rim_nodes(field, columns, settings.rim_cell_mm)
    plane, height = _nodes(grid, leaves, rims, survey, settings)
    mesh = _guarded(grid, active, plane, height, survey, settings, low)
    return Patch(mesh, _filled_cells(grid, leaves, survey))


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """Base cells and the whole-number lattice of half the finest cell on which all nodes lie."""

    origin: NDArray[np.float64]
    shape: tuple[int, int]
    unit: float
    base: int  # lattice steps along a base cell
    rim_cells: NDArray[np.bool_]  # base cells through which a rim runs
    rim_points: NDArray[np.float64]

    @classmethod
    def over(cls, field: ConeField, columns: Columns, settings: PatchSettings) -> "_Grid":
        low, high = columns.mesh.bounds
        reach = max(high[2], 0.0) / field.steepness + 2.0 * settings.cell_mm
        origin = low[:2] - reach
        nx, ny = np.ceil((high[:2] + reach - origin) / settings.cell_mm).astype(int)
        base = 2 ** (settings.halvings + 1)
        points = _along(field.segments, settings.rim_cell_mm * 0.5)[:, :2]
        cells = np.zeros((ny, nx), np.bool_)
        index = np.floor((points - origin) / settings.cell_mm).astype(int)
        cells[index[:, 1], index[:, 0]] = True
        return cls(origin, (int(ny), int(nx)), settings.cell_mm / base, base, cells, points)

    def active_cells(self, survey: _Survey, settings: PatchSettings) -> NDArray[np.bool_]:
        """Base cells that hold fill or void, and one ring of cells around them."""
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
        """Lattice numbers to mm."""
        placed: NDArray[np.float64] = self.origin + lattice * self.unit
        return placed

    def keys(self, lattice: NDArray[np.int64]) -> NDArray[np.int64]:
        """One whole number per lattice point."""
        keys: NDArray[np.int64] = lattice[:, 1] * (self.shape[1] * self.base + 1) + lattice[:, 0]
        return keys

    def unkey(self, keys: NDArray[np.int64]) -> NDArray[np.int64]:
        """Back from whole numbers to lattice points."""
        width = self.shape[1] * self.base + 1
        return np.column_stack([keys % width, keys // width])


@dataclass(frozen=True, slots=True, eq=False)
class _Cells:
    """Cells of one size: lower corners on the lattice, side in lattice steps, state of 3 x 3 points."""

    corner: NDArray[np.int64]
    side: int
    ground: _Ground  # arrays of shape (N, 9)


_NINE = np.array([(i, j) for j in (0, 1, 2) for i in (0, 1, 2)])
_CORNERS = np.array([0, 2, 6, 8])
# points between two nodes; which diagonal the triangulation takes is not known, so both must serve
_BETWEEN = ((1, (0, 2)), (3, (0, 6)), (5, (2, 8)), (7, (6, 8)), (4, (0, 8)), (4, (2, 6)))


def _look(grid: _Grid, corner: NDArray[np.int64], side: int, survey: _Survey) -> _Cells:
    """Survey the nine points of each cell, each shared point once."""
    points = (corner[:, None, :] + _NINE[None] * (side // 2)).reshape(-1, 2)
    keys, back = np.unique(grid.keys(points), return_inverse=True)
    g = survey(grid.place(grid.unkey(keys)))
    spread = [getattr(g, name)[back].reshape(-1, 9) for name in ("envelope", "top", "layer", "void", "fill")]
    return _Cells(corner, side, _Ground(*spread))


def _split(grid: _Grid, active: NDArray[np.bool_], survey: _Survey, settings: PatchSettings) -> list[_Cells]:
    """Halve cells until each is good enough or as small as allowed."""
    j, i = np.nonzero(active)
    corner = np.column_stack([i, j]).astype(np.int64) * grid.base
    side = grid.base
    leaves = []
    while len(corner):
        cells = _look(grid, corner, side, survey)
        if side == 2:
            leaves.append(cells)
            break
        split = _needs_split(grid, cells, settings, survey.field.steepness)
        g = cells.ground
        kept = _Ground(*(getattr(g, n)[~split] for n in ("envelope", "top", "layer", "void", "fill")))
        leaves.append(_Cells(corner[~split], side, kept))
        half = side // 2
        quarter = np.array([(0, 0), (half, 0), (0, half), (half, half)])
        corner = (corner[split][:, None, :] + quarter[None]).reshape(-1, 2)
        side = half
    return leaves


def _needs_split(grid: _Grid, cells: _Cells, settings: PatchSettings, steepness: float) -> NDArray[np.bool_]:
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
    quiet = ~g.fill.any(axis=1)
    for at, of in _BETWEEN:
        miss = np.abs(g.envelope[:, of].mean(axis=1) - g.envelope[:, at])
        matters = g.envelope[:, [at, *of]].max(axis=1) > 0.0
        bend = np.maximum(bend, np.where(matters, miss / steepness, 0.0))
        between = inside[:, of].mean(axis=1)
        wrong = (between >= g.top[:, at]) | (between <= g.top[:, at] - g.layer[:, at])
        thin |= g.void[:, at] & wrong
    allowed = float(np.clip(settings.bend_share * size, *settings.bend_mm))
    return rim | large | (near & (bend > allowed)) | (quiet & thin & (size > settings.rim_cell_mm))


def _holds_point(grid: _Grid, cells: _Cells) -> NDArray[np.bool_]:
    """Cells that hold a point of a rim."""
    at = np.floor((grid.rim_points - grid.origin) / (grid.unit * cells.side)).astype(np.int64)
    held: NDArray[np.bool_] = np.isin(grid.keys(cells.corner // cells.side), np.unique(grid.keys(at)))
    return held


def _inside_height(g: _Ground, sink_mm: float) -> NDArray[np.float64]:
    """A height inside the uppermost layer of the sculpt."""
    height: NDArray[np.float64] = g.top - np.minimum(g.layer * 0.5, sink_mm)
    return height


def _along(segments: NDArray[np.float64], spacing: float) -> NDArray[np.float64]:
    """Both ends of every segment and points between them no farther apart than `spacing`."""
    start, end = segments[:, :3], segments[:, 3:]
    pieces = np.maximum(np.ceil(np.linalg.norm((end - start)[:, :2], axis=1) / spacing), 1).astype(int)
    which = np.repeat(np.arange(len(segments)), pieces + 1)
    step = np.arange(len(which)) - np.repeat(np.cumsum(pieces + 1) - (pieces + 1), pieces + 1)
    share = (step / pieces[which])[:, None]
    along: NDArray[np.float64] = start[which] * (1.0 - share) + end[which] * share
    return along


def _rim_nodes(field: ConeField, columns: Columns, spacing: float) -> NDArray[np.float64]:
    """Points of the rims that no other cone covers, (N, 3)."""
    if not len(field.segments):
        return np.zeros((0, 3))
    points = np.unique(np.round(_along(field.segments, spacing), 9), axis=0)
    envelope, _ = field.evaluate(points)
    bare = (envelope <= points[:, 2] + 1e-6) & ~np.isfinite(columns.above(points))
    return points[bare]


def _nodes(
    grid: _Grid,
    leaves: list[_Cells],
    rims: NDArray[np.float64],
    survey: _Survey,
    settings: PatchSettings,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Corners of the leaves and rim points with their heights: (N, 2), (N,)."""
    corners, quiet = [], []
    for cells in leaves:
        g = cells.ground
        calm = g.void.any(axis=1) & ~g.fill.any(axis=1)
        corners.append((cells.corner[:, None, :] + _NINE[_CORNERS][None] * (cells.side // 2)).reshape(-1, 2))
        quiet.append(np.repeat(np.where(calm, 1, np.where(g.fill.any(axis=1), -9, 0)), 4))
    keys, back = np.unique(grid.keys(np.concatenate(corners)), return_inverse=True)
    calm = np.zeros(len(keys))
    np.add.at(calm, back, np.concatenate(quiet))
    plane = grid.place(grid.unkey(keys))
    g = survey(plane)
    buried = g.void | (calm > 0)
    height = np.where(
        g.fill,
        g.envelope,
        np.where(buried, np.maximum(g.envelope, _inside_height(g, settings.sink_mm)), g.envelope),
    )
    if len(rims):
        far = cKDTree(rims[:, :2]).query(plane, distance_upper_bound=0.4 * settings.rim_cell_mm)[0]
        free = ~np.isfinite(far)
        plane = np.concatenate([plane[free], rims[:, :2]])
        height = np.concatenate([height[free], rims[:, 2] - _UNDER_RIM_MM])
    return plane, height


def _guarded(
    grid: _Grid,
    active: NDArray[np.bool_],
    plane: NDArray[np.float64],
    height: NDArray[np.float64],
    survey: _Survey,
    settings: PatchSettings,
    low: float,
) -> Mesh:
    """Triangulate, and put a node wherever a bare vertex of the sculpt would be covered.

    A new node only lowers the patch, so each round looks at the vertices that were covered before
    and at the triangles that were split.
    """
    bare, most = _bare_vertices(grid, active, survey)
    triangles = _triangulate(grid, active, plane, settings)
    looked_at = np.arange(len(triangles))
    for _ in range(_GUARD_ROUNDS):
        points = np.column_stack([plane, height])
        top, found = Columns(Mesh(points, triangles[looked_at])).top(bare)
        covered = top > bare[:, 2] - _UNDER_RIM_MM * 0.5
        if not covered.any():
            break
        bare, most, found, depth = bare[covered], most[covered], found[covered], (top - bare[:, 2])[covered]
        order = np.lexsort((-depth, found))
        first = order[np.unique(found[order], return_index=True)[1]]
        parents = looked_at[found[first]]
        new = len(plane) + np.arange(len(first), dtype=np.int32)
        plane = np.concatenate([plane, bare[first, :2]])
        height = np.concatenate([height, most[first]])
        a, b, c = triangles[parents].T
        count = len(triangles)
        triangles = np.concatenate([triangles, np.column_stack([b, c, new]), np.column_stack([c, a, new])])
        triangles[parents] = np.column_stack([a, b, new])
        looked_at = np.concatenate([parents, np.arange(count, len(triangles))])
    return _closed(plane, height, triangles, low - 1.0)


def _bare_vertices(
    grid: _Grid, active: NDArray[np.bool_], survey: _Survey
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Vertices of the sculpt that must stay on top, and the height that the patch may have there."""
    vertices = survey.columns.mesh.vertices
    at = np.floor((vertices[:, :2] - grid.origin) / (grid.unit * grid.base)).astype(np.int64)
    near = active[at[:, 1], at[:, 0]] & (vertices[:, 2] > 0.0)
    points = vertices[near]
    points = points[~np.isfinite(survey.columns.above(points))]
    envelope, _ = survey.field.evaluate(points, at_least=np.full(len(points), survey.low))
    bare = envelope <= points[:, 2] + 1e-9
    points, envelope = points[bare], envelope[bare]
    return points, np.minimum(np.maximum(envelope, points[:, 2] - 0.02), points[:, 2] - _UNDER_RIM_MM)


def _triangulate(
    grid: _Grid, active: NDArray[np.bool_], plane: NDArray[np.float64], settings: PatchSettings
) -> NDArray[np.int32]:
    """Delaunay triangles over the active cells, counter-clockwise."""
    triangles = Delaunay(plane - grid.origin).simplices.astype(np.int32)
    a, b, c = (plane[triangles[:, i]] for i in range(3))
    area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    triangles[area < 0.0] = triangles[area < 0.0][:, ::-1]
    at = np.floor(((a + b + c) / 3.0 - grid.origin) / settings.cell_mm).astype(np.int64)
    inside = active[at[:, 1], at[:, 0]] & (np.abs(area) > 0.0)
    return np.ascontiguousarray(triangles[inside])


def _closed(
    plane: NDArray[np.float64], height: NDArray[np.float64], triangles: NDArray[np.int32], bottom: float
) -> Mesh:
    """Give a plan triangulation vertical sides and a flat bottom that uses the points of the border only."""
    count = len(plane)
    loops = boundary_loops(triangles)
    ring = np.concatenate(loops)
    under = count + np.arange(len(ring), dtype=np.int32)
    top = np.column_stack([plane, height])
    flat = np.column_stack([plane[ring], np.full(len(ring), bottom)])
    lid = under[triangulate([plane[loop] for loop in loops])][:, ::-1]
    ends = np.cumsum([len(loop) for loop in loops])
    after = np.arange(1, len(ring) + 1)
    after[ends - 1] = np.concatenate([[0], ends[:-1]])
    a, b, a_low, b_low = ring, ring[after], under, under[after]
    sides = np.concatenate([np.column_stack([b, a, a_low]), np.column_stack([b, a_low, b_low])])
    faces = np.concatenate([triangles, lid, sides]).astype(np.int32)
    return Mesh(np.concatenate([top, flat]), faces).submesh(np.ones(len(faces), np.bool_))


def _filled_cells(grid: _Grid, leaves: list[_Cells], survey: _Survey) -> NDArray[np.float64]:
    """Centre, side and height of fill over the sculpt of the leaves whose middle is filled."""
    found = []
    for cells in leaves:
        g = cells.ground
        rise = g.envelope[:, 4] - np.maximum(g.top[:, 4], 0.0)
        hit = g.fill[:, 4]
        middle = grid.place(cells.corner[hit] + cells.side // 2)
        side = np.full(hit.sum(), cells.side * grid.unit)
        found.append(np.column_stack([middle, side, rise[hit]]))
    return np.concatenate(found)
