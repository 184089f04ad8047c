"""A solid under the draft envelope, meshed as finely as the envelope requires.

The plan is covered by square cells that split where the envelope bends, where a rim runs through or
where the layer of sculpt over a void is thin. Corners of cells and points of the rims are joined by
a Delaunay triangulation; each node stands at the height of the envelope where that rises over the
sculpt, and inside the sculpt elsewhere, so that the sculpt's own triangles stay on top.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from buckwright.mesh.delaunay import delaunay_triangles
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.shape.fill.cones import ConeField
from buckwright.shape.fill.feet import nearer_feet
from buckwright.shape.fill.plan_cells import (
    CORNERS,
    NINE,
    OVER_MM,
    Cells,
    CellSizes,
    PlanGrid,
    PlanPoints,
    PlanSurvey,
    along,
    split_cells,
)
from buckwright.shape.fill.rims import Rims
from buckwright.shape.fill.thinning import EDGE, HIDDEN, ROOF, WALL, Nodes, thinned
from buckwright.shape.height_solid import closed_below

__all__ = ["CellSizes", "EnvelopeSolid", "build_envelope_solid"]

_UNDER_RIM_MM = 6e-5  # the patch stays below the sculpt's edges by a few steps of what files can resolve
_BESIDE_MM = 1e-5
_GUARD_ROUNDS = 24
# Keep the diametral circle of each rim piece empty so that Delaunay keeps the piece (Gabriel condition):
# with pieces of half a cell, no point of that circle is more than 0.354 cells from the nearer end.
_RIM_SPACING, _RIM_CLEAR = 0.5, 0.36
# Bisections of a cell's side in the search for the foot of a wall: to 1/256 of the side.
_FOOT_HALVINGS = 8
# Behind a rim the patch sinks below the surface by this share of the distance: flatter than most lips are.
_LIP_SLOPE = 1.0
# At rims and feet a thinned wall moves by so much less: lower there, it would bare steep faces of the sculpt.
_EDGE_SHARE = 0.1
# A thinned patch keeps to the upper part of the layer that hides it.
_HIDDEN_SHARE = 0.75
# A thinned wall has at most so much less draft than wanted: half of what the verdict lets pass.
_SPARED_DEG = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class EnvelopeSolid:
    """What `build_envelope_solid` made.

    Attributes
    ----------
    mesh : closed solid that reaches below z = 0 (trim it), or None where nothing is to be filled
    cells : (N, 4) float64, x, y, side of the leaves that hold fill and the height of fill over the sculpt, mm
    """

    mesh: Mesh | None
    cells: NDArray[np.float64]


def build_envelope_solid(
    field: ConeField,
    rims: Rims,
    columns: Columns,
    *,
    settings: CellSizes,
    wanted_faces: NDArray[np.bool_] | None = None,
    meanwhile: Callable[[], object] | None = None,
    tick: Callable[[float], None] | None = None,
) -> EnvelopeSolid:
    """Mesh the solid between z = 0 and the draft envelope where there is no sculpt already.

    Parameters
    ----------
    field : cones on the rims
    rims : what `field` was made of
    columns : of the sculpt
    settings : fineness
    wanted_faces : (F,) bool, fill only voids under these faces; all by default
    meanwhile : work that is done here while the plan is triangulated, which takes one processor
    tick : called with the share done, 0..1; may raise to stop the work

    Returns
    -------
    EnvelopeSolid : the solid, and the plan cells that hold fill

    Notes
    -----
    On walls the nodes are exact, so the error lies between nodes only: a wall is at most about `bend_mm` out
    of place, too high in concave creases and too low on convex ones. Nodes that the wall does not need are
    taken out again, which moves it by at most `thin_share` of that. Where a vertex of the sculpt would be
    covered for that reason, a node is put there. Time and size grow with the length of the rims over
    `rim_cell_mm` and with the area of voids over `cell_mm` squared.
    """
    low = -field.steepness * settings.cell_mm * 3.0
    survey = PlanSurvey(field, rims.outward[field.order], columns, wanted_faces, low)
    grid = PlanGrid.over(field, columns, settings)
    active = grid.active_cells(survey)
    if not active.any():
        return EnvelopeSolid(None, np.zeros((0, 4)))
    told = tick or (lambda _share: None)
    told(0.1)
    leaves = split_cells(grid, active, survey, settings)
    told(0.3)
    points, leaning = _rim_nodes(field, rims, columns, _RIM_SPACING * settings.rim_cell_mm)
    told(0.45)
    nodes = _nodes(grid, leaves, points, leaning, survey, settings)
    told(0.6)
    with ThreadPoolExecutor(1) as other:
        triangulated = other.submit(_triangulate, grid, active, nodes.plane, settings)
        bare = _bare_vertices(grid, active, survey)
        if meanwhile is not None:
            meanwhile()
    triangles = triangulated.result()
    if settings.thin_share > 0.0:
        triangles = thinned(nodes, triangles, steepest=_steepest(field.steepness))
    mesh = _guarded(nodes, triangles, *bare, low)
    return EnvelopeSolid(mesh, _filled_cells(grid, leaves))


def _rim_nodes(
    field: ConeField, rims: Rims, columns: Columns, spacing: float
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Points of the rims that no other cone covers, (N, 3), and whether there is a void beneath."""
    if not len(field.segments):
        return np.zeros((0, 3)), np.zeros(0, np.bool_)
    points, which = along(field.segments, spacing)
    points, first = np.unique(np.round(points, 9), axis=0, return_index=True)
    envelope, _ = field.evaluate(points)
    segment = field.order[which[first]]
    # sampled slightly outside, where an upright wall above the rim does not count as being over it
    aside = points + np.column_stack([rims.outward[segment] * _BESIDE_MM, np.zeros(len(points))])
    bare = (envelope <= points[:, 2] + 1e-6) & columns.clear(aside)
    return points[bare], rims.leaning[segment][bare]


def _nodes(
    grid: PlanGrid,
    leaves: list[Cells],
    rims: NDArray[np.float64],
    leaning: NDArray[np.bool_],
    survey: PlanSurvey,
    settings: CellSizes,
) -> Nodes:
    """Corners of the leaves, feet of the walls and rim points, with their heights.

    On filled ground and in front of the foot of a wall a node stands on the envelope, so that walls meet
    the sculpt where they should. Behind an overhanging rim it stays below the sculpt's surface, the closer
    the nearer to the rim, and over or beside a void it stays within the layer that covers the void: otherwise
    voids would be left open under the sculpt.
    """
    keys, g, layer = _corners(grid, leaves)
    plane = grid.place(grid.unkey(keys))
    away = np.full(len(plane), np.inf)
    lip = np.zeros(len(plane), np.bool_)
    if len(rims):
        away[:], nearest = cKDTree(rims[:, :2]).query(plane)
        lip = leaning[nearest]
        apart = away > _RIM_CLEAR * settings.rim_cell_mm
        plane, away, layer, lip, g = plane[apart], away[apart], layer[apart], lip[apart], g.only(apart)
    depth: NDArray[np.float64] = np.minimum(g.layer, layer) * 0.5
    behind = ~g.outside & (lip | np.isfinite(layer))
    depth[behind] = np.minimum(depth, np.clip(_LIP_SLOPE * away, 0.0, settings.sink_mm))[behind]
    height = np.where(
        g.fill, g.envelope, np.maximum(g.envelope, np.where(g.present, g.top - depth, g.envelope))
    )
    may_move = settings.thin_share * settings.bend_mm[1]
    sideways = may_move * np.sqrt(1.0 + survey.field.steepness**2)
    lowest, highest = _bounds(g, height, layer, sideways, survey.low)
    kind = np.where(g.fill | ~g.present, WALL, np.where(np.isfinite(layer), ROOF, HIDDEN))
    foot = _foot_nodes(grid, leaves, survey)
    if len(rims):
        foot = foot[cKDTree(rims[:, :2]).query(foot[:, :2])[0] > _RIM_CLEAR * settings.rim_cell_mm]
    edge = np.concatenate([foot, rims])
    edge_z = edge[:, 2] - _UNDER_RIM_MM
    return Nodes(
        plane=np.concatenate([plane, edge[:, :2]]),
        height=np.concatenate([height, edge_z]),
        lowest=np.concatenate([lowest, edge_z - _EDGE_SHARE * sideways]),
        highest=np.concatenate([highest, edge_z]),
        kind=np.concatenate([kind, np.full(len(edge), EDGE)]).astype(np.int8),
    )


def _bounds(
    g: PlanPoints, height: NDArray[np.float64], layer: NDArray[np.float64], sideways: float, low: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where the patch may pass: near the envelope, or within the layer of sculpt that hides it."""
    on_wall = g.fill | ~g.present
    hidden_low = np.minimum(height, g.top - _HIDDEN_SHARE * np.minimum(g.layer, layer))
    lowest = np.where(on_wall, height - sideways, hidden_low)
    highest = np.where(on_wall, height + sideways, (height + g.top) * 0.5)
    beyond = on_wall & (height <= low)
    return np.where(beyond, -np.inf, lowest), np.where(beyond, low * 0.5, highest)


def _steepest(steepness: float) -> float:
    """Slope of a wall with so much less draft that it still counts as wanted."""
    return float(1.0 / np.tan(np.arctan(1.0 / steepness) - np.radians(_SPARED_DEG)))


def _foot_nodes(grid: PlanGrid, leaves: list[Cells], survey: PlanSurvey) -> NDArray[np.float64]:
    """Points (N, 3) where walls of fill meet the sculpt along the sides of the cells: the walls' feet."""
    ends = []
    for cells in leaves:
        corner = (cells.corner[:, None, :] + NINE[CORNERS][None] * (cells.side // 2)).reshape(-1, 4, 2)
        fill = cells.ground.fill[:, CORNERS]
        for i, j in ((0, 1), (1, 3), (3, 2), (2, 0)):
            for a, b in ((i, j), (j, i)):
                crossed = fill[:, a] & ~fill[:, b]
                ends.append(np.column_stack([grid.keys(corner[crossed, a]), grid.keys(corner[crossed, b])]))
    sides = np.unique(np.concatenate(ends), axis=0)
    filled, bare = grid.place(grid.unkey(sides[:, 0])), grid.place(grid.unkey(sides[:, 1]))
    bare = nearer_feet(filled, bare, survey.field, survey.columns, over_mm=OVER_MM, halvings=_FOOT_HALVINGS)
    g = survey(bare)
    above = g.envelope > 0.0
    return np.column_stack([bare, np.minimum(g.envelope, g.top)])[above]


def _corners(
    grid: PlanGrid, leaves: list[Cells]
) -> tuple[NDArray[np.int64], PlanPoints, NDArray[np.float64]]:
    """Corners of the leaves, envelope and sculpt there, and the thinnest layer over a void around each."""
    corners, thinnest = [], []
    for cells in leaves:
        g = cells.ground
        corners.append((cells.corner[:, None, :] + NINE[CORNERS][None] * (cells.side // 2)).reshape(-1, 2))
        thinnest.append(np.repeat(np.where(g.void, g.layer, np.inf).min(axis=1), 4))
    keys, first, back = np.unique(grid.keys(np.concatenate(corners)), return_index=True, return_inverse=True)
    layer = np.full(len(keys), np.inf)
    np.minimum.at(layer, back, np.concatenate(thinnest))
    return (
        keys,
        PlanPoints.joined([cells.ground.only(np.s_[:, CORNERS]) for cells in leaves]).only(first),
        layer,
    )


def _guarded(
    nodes: Nodes,
    triangles: NDArray[np.int32],
    bare: NDArray[np.float64],
    most: NDArray[np.float64],
    low: float,
) -> Mesh:
    """Put a node, at most so high, wherever a bare vertex of the sculpt would be covered.

    A new node only lowers the patch, so each round checks the vertices that were covered before and the
    triangles that were split.
    """
    plane, height = nodes.plane, nodes.height
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
    return closed_below(plane, height, triangles, low - 1.0)


def _bare_vertices(
    grid: PlanGrid, active: NDArray[np.bool_], survey: PlanSurvey
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Vertices of the sculpt that must stay on top, and the greatest height of the patch there."""
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
    grid: PlanGrid, active: NDArray[np.bool_], plane: NDArray[np.float64], settings: CellSizes
) -> NDArray[np.int32]:
    """Delaunay triangles over the active cells, counter-clockwise."""
    triangles = delaunay_triangles(plane - grid.origin)
    middle = plane[triangles].mean(axis=1)
    at = np.floor((middle - grid.origin) / settings.cell_mm).astype(np.int64)
    return np.ascontiguousarray(triangles[active[at[:, 1], at[:, 0]]])


def _filled_cells(grid: PlanGrid, leaves: list[Cells]) -> NDArray[np.float64]:
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
