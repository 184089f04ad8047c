"""What the search for a setup measures in place of a large mesh."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from buckwright.errors import InputError
from buckwright.kernel import kernel
from buckwright.mesh.triangles import Mesh
from buckwright.pose.setups.surface_points import SurfacePoints, spread_points
from buckwright.pose.setups.symmetry import mirror_normals, own_axes
from buckwright.pose.setups.walls import may_be_shell

__all__ = ["Proxy", "proxy_of", "simplified"]

_COARSE_FACES, _SKETCH_FACES = 20_000, 5_000
_MOST_CELLS_A_SIDE = 400
_POINTS = 16_000
_FEW = 4
_BLUR = 0.1  # of a cell; measured on a 1 M sculpt: trapped areas within 5 %, rank correlation .99
_RESTING = 24
_RESTING_SHARE = 0.01
# Facets of a hull that differ by less belong to one foot: a flat foot in a scan is level to about this.
_ONE_FOOT_DEG = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Proxy:
    """A sculpt as the search sees it, in its own axes (see `own_axes`).

    Attributes
    ----------
    turn : (3, 3) float64, rotation from the sculpt's coordinates to its own axes
    shade : the mesh, simplified if it is large
    sketch : the same with about 5 000 faces, for a first look
    points : on the full mesh, at which it is judged what is kept and what is lost
    few : every fourth of them, for a first look
    extremes : (H, 3) float64, points with the same convex hull as the full mesh, mm
    resting : (R, 3) float64, unit pull directions in which the sculpt stands stably on a facet of its hull
    mirrors : (M, 3) float64, unit normals of its planes of symmetry
    blur_mm, sketch_blur_mm : how far the simplified surfaces may lie off the true one
    area_mm2, volume_mm3 : of the full mesh; the volume means something for a closed one, however it is wound
    hull_mm3 : volume of its convex hull
    size_mm : side of a cube of that volume, to which costs are measured
    """

    turn: NDArray[np.float64]
    shade: Mesh
    sketch: Mesh
    points: SurfacePoints
    few: SurfacePoints
    extremes: NDArray[np.float64]
    resting: NDArray[np.float64]
    mirrors: NDArray[np.float64]
    blur_mm: float
    sketch_blur_mm: float
    area_mm2: float
    volume_mm3: float
    hull_mm3: float
    size_mm: float

    @property
    def shell(self) -> bool:
        """Whether the sculpt is little else than thin walls."""
        return bool(len(self.points.walls.other))


def proxy_of(mesh: Mesh) -> Proxy:
    """Turn a mesh into its own axes and simplify it; up to 30 000 faces are kept as they are.

    Parameters
    ----------
    mesh : the sculpt in its own frame

    Raises
    ------
    InputError
        The mesh has no area, or an infinite one.

    Notes
    -----
    Vertices that share a cubic cell become their mean (vertex clustering); the cell is sized for about 20 000
    faces, but is at least 1/400 of the longest side. Linear in the number of faces.
    """
    area = float(mesh.areas().sum())
    if not 0.0 < area < np.inf:
        raise InputError("there is no pull direction to find: the sculpt has no faces with area")
    around, _, across = _hull(mesh.vertices, area)
    given = spread_points(mesh, _POINTS, size_mm=across)
    turn = own_axes(given.places)
    turned = Mesh(np.ascontiguousarray(mesh.vertices @ turn.T), mesh.faces)
    points = SurfacePoints(
        np.ascontiguousarray(given.places @ turn.T),
        np.ascontiguousarray(given.normals @ turn.T),
        given.area_mm2,
        given.detail,
    )
    outer = turned.vertices if around is None else turned.vertices[around.vertices]
    hull, volume, size = _hull(outer, area)
    corners = outer if hull is None else outer[hull.vertices]
    resting = np.zeros((0, 3)) if hull is None else _resting(hull, points)
    mirrors = mirror_normals(points.places, np.concatenate([np.eye(3), turn.T]), size_mm=size)
    few = points.thinned(_FEW)
    own_mm3 = abs(mesh.volume_mm3())
    if own_mm3 > 0.0 and may_be_shell(own_mm3, area, hull_mm3=volume):
        points, few = points.with_walls(size), few.with_walls(size)
    side, sketch_side = _cell_mm(turned, area, _COARSE_FACES), _cell_mm(turned, area, _SKETCH_FACES)
    shade = _clustered(turned, side) if side else turned
    return Proxy(
        turn=turn,
        shade=shade,
        sketch=_clustered(shade, sketch_side) if sketch_side else shade,
        points=points,
        few=few,
        extremes=corners,
        resting=resting,
        mirrors=mirrors,
        blur_mm=_BLUR * side,
        sketch_blur_mm=_BLUR * sketch_side,
        area_mm2=area,
        volume_mm3=own_mm3,
        hull_mm3=volume,
        size_mm=size,
    )


def simplified(mesh: Mesh) -> Mesh:
    """A mesh of about 20 000 faces in place of a large one; one of up to 30 000 stays as it is."""
    side = _cell_mm(mesh, float(mesh.areas().sum()), _COARSE_FACES)
    return _clustered(mesh, side) if side else mesh


def _cell_mm(mesh: Mesh, area: float, faces: int) -> float:
    """Side of the cells in which vertices are put together; 0 where the mesh is small enough."""
    if mesh.face_count <= 1.5 * faces:
        return 0.0
    # a surface crosses about 1.5 cells per cell side squared, and has two faces per vertex
    return max(float(np.sqrt(3.0 * area / faces)), float(mesh.size.max()) / _MOST_CELLS_A_SIDE)


def _hull(vertices: NDArray[np.float64], area: float) -> tuple[ConvexHull | None, float, float]:
    """The convex hull, its volume, and the side of a cube of that volume; of what is flat by its area."""
    try:
        hull = ConvexHull(vertices)
    except (QhullError, ValueError):  # flat, or too few points
        hull = None
    volume = 0.0 if hull is None else float(hull.volume)
    size = max(np.cbrt(volume), 0.1 * np.sqrt(area))
    return hull, max(volume, float(size) ** 3), float(size)


def _resting(hull: ConvexHull, points: SurfacePoints) -> NDArray[np.float64]:
    """Pull directions (R, 3) in which the sculpt stands on a facet with its middle above that facet."""
    corners = hull.points[hull.simplices]
    normals = np.asarray(hull.equations[:, :3])
    areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
    middle = points.places.mean(axis=0)
    ways: list[NDArray[np.float64]] = []
    for seed in _broad(normals, areas):
        foot = normals @ seed > np.cos(np.radians(_ONE_FOOT_DEG))
        down = (areas[foot, None] * normals[foot]).sum(axis=0)
        down /= np.linalg.norm(down)
        known = any(way @ down < -np.cos(np.radians(_ONE_FOOT_DEG)) for way in ways)
        broad = areas[foot].sum() >= _RESTING_SHARE * areas.sum()
        if broad and not known and _stands(corners[foot].reshape(-1, 3), down, middle):
            ways.append(-down)
    return np.array(ways).reshape(-1, 3)


def _broad(normals: NDArray[np.float64], areas: NDArray[np.float64]) -> NDArray[np.float64]:
    """Normals around which the hull has much area, the most first; each stands for about half a degree."""
    _, first, group = np.unique(np.round(normals, 2), axis=0, return_index=True, return_inverse=True)
    area = np.bincount(group.reshape(-1), weights=areas)
    most = np.argsort(-area, kind="stable")
    # a foot may be shared out among four neighbouring groups
    return normals[first[most[area[most] >= _RESTING_SHARE / 4 * areas.sum()][: 4 * _RESTING]]]


def _stands(foot: NDArray[np.float64], down: NDArray[np.float64], middle: NDArray[np.float64]) -> bool:
    """Whether the plumb line through the middle goes through the hull of the foot's corners."""
    across = np.linalg.svd(down[None, :])[2][1:]
    corners = (foot - middle) @ across.T
    turns = np.sort(np.arctan2(corners[:, 1], corners[:, 0]))
    gaps = np.diff(np.append(turns, turns[0] + 2.0 * np.pi))
    return bool(gaps.max() < np.pi)


def _clustered(mesh: Mesh, side: float) -> Mesh:
    """A coarser mesh: vertices that share a cubic cell become their mean."""
    low, high = mesh.bounds
    cells = np.floor((high - low) / side).astype(np.int64) + 1
    cell_of = np.empty(mesh.vertex_count, np.int64)
    sums, renamed, count = _cluster(mesh.vertices, low, 1.0 / side, cells, cell_of)
    faces = renamed[cell_of][mesh.faces]
    real = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    return Mesh(sums[:count, :3] / sums[:count, 3:], np.ascontiguousarray(faces[real]))


@kernel
def _cluster(vertices, low, scale, cells, cell_of):  # type: ignore[no-untyped-def]
    """Sum and number of the vertices in every used cell, new number of each cell, how many are used."""
    renamed = np.full(cells[0] * cells[1] * cells[2], -1, np.int32)
    sums = np.zeros((vertices.shape[0], 4))
    count = 0
    for n in range(vertices.shape[0]):
        i = int((vertices[n, 0] - low[0]) * scale)
        j = int((vertices[n, 1] - low[1]) * scale)
        k = int((vertices[n, 2] - low[2]) * scale)
        cell = (min(k, cells[2] - 1) * cells[1] + min(j, cells[1] - 1)) * cells[0] + min(i, cells[0] - 1)
        cell_of[n] = cell
        if renamed[cell] < 0:
            renamed[cell] = count
            count += 1
        m = renamed[cell]
        for axis in range(3):
            sums[m, axis] += vertices[n, axis]
        sums[m, 3] += 1.0
    return sums, renamed, count
