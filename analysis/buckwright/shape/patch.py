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
from scipy.spatial import Delaunay, cKDTree

from buckwright.mesh.adjacency import boundary_loops
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.shape.cones import ConeField
from buckwright.shape.plan_cells import (
    CORNERS,
    NINE,
    Cells,
    PatchSettings,
    PlanGrid,
    PlanSurvey,
    along,
    inside_height,
    split_cells,
)

__all__ = ["Patch", "PatchSettings", "build_patch"]

_UNDER_RIM_MM = 1e-5  # keeps the patch just under the sculpt's own edge: contact is slow and fragile
_GUARD_ROUNDS = 24


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
    survey = PlanSurvey(field, columns, wanted_faces, low)
    grid = PlanGrid.over(field, columns, settings)
    active = grid.active_cells(survey)
    if not active.any():
        return Patch(None, np.zeros((0, 4)))
    leaves = split_cells(grid, active, survey, settings)
    rims = _rim_nodes(field, columns, settings.rim_cell_mm)
    plane, height = _nodes(grid, leaves, rims, survey, settings)
    mesh = _guarded(grid, active, plane, height, survey, settings, low)
    return Patch(mesh, _filled_cells(grid, leaves))


def _rim_nodes(field: ConeField, columns: Columns, spacing: float) -> NDArray[np.float64]:
    """Points of the rims that no other cone covers, (N, 3)."""
    if not len(field.segments):
        return np.zeros((0, 3))
    points = np.unique(np.round(along(field.segments, spacing), 9), axis=0)
    envelope, _ = field.evaluate(points)
    bare = (envelope <= points[:, 2] + 1e-6) & ~np.isfinite(columns.above(points))
    return points[bare]


def _nodes(
    grid: PlanGrid,
    leaves: list[Cells],
    rims: NDArray[np.float64],
    survey: PlanSurvey,
    settings: PatchSettings,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Corners of the leaves and rim points with their heights: (N, 2), (N,)."""
    corners, quiet = [], []
    for cells in leaves:
        g = cells.ground
        calm = g.void.any(axis=1) & ~g.fill.any(axis=1)
        corners.append((cells.corner[:, None, :] + NINE[CORNERS][None] * (cells.side // 2)).reshape(-1, 2))
        quiet.append(np.repeat(np.where(calm, 1, np.where(g.fill.any(axis=1), -9, 0)), 4))
    keys, back = np.unique(grid.keys(np.concatenate(corners)), return_inverse=True)
    score = np.zeros(len(keys))
    np.add.at(score, back, np.concatenate(quiet))
    plane = grid.place(grid.unkey(keys))
    g = survey(plane)
    buried = g.void | (score > 0)
    height = np.where(
        g.fill,
        g.envelope,
        np.where(buried, np.maximum(g.envelope, inside_height(g, settings.sink_mm)), g.envelope),
    )
    if len(rims):
        far = cKDTree(rims[:, :2]).query(plane, distance_upper_bound=0.4 * settings.rim_cell_mm)[0]
        free: NDArray[np.bool_] = ~np.isfinite(far)
        plane = np.concatenate([plane[free], rims[:, :2]])
        height = np.concatenate([height[free], rims[:, 2] - _UNDER_RIM_MM])
    return plane, height


def _guarded(
    grid: PlanGrid,
    active: NDArray[np.bool_],
    plane: NDArray[np.float64],
    height: NDArray[np.float64],
    survey: PlanSurvey,
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
    grid: PlanGrid, active: NDArray[np.bool_], survey: PlanSurvey
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
    grid: PlanGrid, active: NDArray[np.bool_], plane: NDArray[np.float64], settings: PatchSettings
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
