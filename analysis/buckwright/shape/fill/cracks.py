"""Close the last cracks that the union of sculpt and fill leaves under thin lips."""

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from buckwright.mesh.adjacency import shells
from buckwright.mesh.checking import shell_volumes_mm3
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns

__all__ = ["crack_plugs"]

_DIRECTIONS = 16
_OVERLAP_MM = 0.03
_MOST_LID_MM = 0.3
"""Most that a plug may end below the top surface."""
_UNDER_MM = 1e-4
_LARGE_MM = 1.0
_ROOT_MM = 1.0
"""How deep a plug is rooted: below the floor of a crack everything is solid after a full fill."""
_WITHIN = 0.9

_LEAST_MM2 = 0.005
"""A smaller crack does not catch the sheet: house rule."""
_NO_WIDTH_MM2 = 1e-6
"""In plan. No sheet enters a slit without width, and its plugs are slivers that leave as many more."""
_NEAR_MM = 2.0
_GIVE_MM = 0.05
"""Lower steps than this are not cracks: half a thin print layer, house rule."""


def crack_plugs(
    mesh: Mesh, *, open_within_mm: float, near_mm: NDArray[np.float64] | None = None
) -> list[Manifold]:
    """Make solids that fill what is covered and farther from open sky than a given distance.

    Parameters
    ----------
    mesh : closed, stands on z = 0
    open_within_mm : a covered place with open sky within this sideways distance is left alone; such places
        are the lips that the fill spares on purpose
    near_mm : (N, 2) float64, mm, search only near these points of the plan; everywhere by default

    Returns
    -------
    list of Manifold : prisms to unite with the solid; usually none. Cracks below 0.005 mm2 and slits without
        width are left.

    Notes
    -----
    Over each upward face of such a crack, out to its mouth, a prism reaches up into the layer that the sky
    sees. Closed cavities do not count as cracks. The faces are few and tiny: what the mesh of the fill
    missed.
    """
    if near_mm is not None:
        mesh = mesh.submesh(_over(mesh, near_mm))
    columns = Columns(mesh)
    label, count = shells(mesh)
    # the shells of a partial mesh are open; a plug creates no cavity beside itself
    bodies = shell_volumes_mm3(mesh, label, count) > 0.0 if near_mm is None else np.ones(count, np.bool_)
    points = mesh.centroids() + np.array([0.0, 0.0, _GIVE_MM])
    looks_up = (mesh.area_vectors()[:, 2] > 0.0) & (points[:, 2] > _GIVE_MM)
    open_up = np.flatnonzero(looks_up & bodies[label])
    covered = open_up[~columns.clear(points[open_up])]
    shut_in = _shut_in(columns, points, covered, open_within_mm)
    floors = _to_the_mouth(mesh, covered, shut_in) if len(shut_in) else shut_in
    return _plugs(mesh, columns, floors) if len(floors) else []


def _over(mesh: Mesh, near_mm: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Faces (F,) whose box in plan comes near any of the points."""
    low, high = mesh.bounds
    shape = (np.ceil((high[:2] - low[:2]) / _NEAR_MM)).astype(np.int64) + 1
    marked = np.zeros(shape, np.bool_)
    at = np.clip(((near_mm - low[:2]) / _NEAR_MM).astype(np.int64), 0, shape - 1)
    marked[at[:, 0], at[:, 1]] = True
    count = np.zeros(shape + 1, np.int64)
    count[1:, 1:] = binary_dilation(marked, np.ones((3, 3), np.bool_)).cumsum(0).cumsum(1)
    corners = mesh.corners()[..., :2]
    i0, j0 = np.moveaxis(((corners.min(axis=1) - low[:2]) / _NEAR_MM).astype(np.int64), 1, 0)
    i1, j1 = np.moveaxis(((corners.max(axis=1) - low[:2]) / _NEAR_MM).astype(np.int64) + 1, 1, 0)
    held: NDArray[np.bool_] = count[i1, j1] - count[i0, j1] - count[i1, j0] + count[i0, j0] > 0
    return held


def _shut_in(
    columns: Columns, points: NDArray[np.float64], asked: NDArray[np.int64], open_within_mm: float
) -> NDArray[np.int64]:
    """Those of the given faces that have no open sky within reach."""
    for angle in np.arange(_DIRECTIONS) * (2.0 * np.pi / _DIRECTIONS):
        way = open_within_mm * np.array([np.cos(angle), np.sin(angle), 0.0])
        asked = asked[~columns.clear(points[asked] + way)]
    return asked


def _to_the_mouth(mesh: Mesh, covered: NDArray[np.int64], shut_in: NDArray[np.int64]) -> NDArray[np.int64]:
    """The covered faces connected, if only by a corner, to enclosed ones; no specks."""
    corners = mesh.faces[covered].ravel()
    rows = np.repeat(np.arange(len(covered)), 3)
    touch = coo_array(
        (np.ones(len(rows), np.int8), (rows, corners)), shape=(len(covered), mesh.vertex_count)
    ).tocsr()
    count, label = connected_components(touch @ touch.T, directed=False)
    shut, vectors = np.isin(covered, shut_in), mesh.area_vectors()[covered]
    wide = np.bincount(label[shut], vectors[shut, 2], count) > _NO_WIDTH_MM2
    large = np.bincount(label, np.linalg.norm(vectors, axis=1), count) > _LEAST_MM2
    held = (wide & large)[label]
    return covered[held]


def _plugs(mesh: Mesh, columns: Columns, floors: NDArray[np.int64]) -> list[Manifold]:
    """A prism over each face, rooted below it and ending within the topmost layer of the solid above it.

    Cracks lie over each other, and after a full fill everything below the top surface is solid.
    """
    corners = mesh.vertices[mesh.faces[floors]]
    middle = corners.mean(axis=1, keepdims=True)
    away = corners - middle
    # sampled inside the face: above a corner in the back wall of the crack is the whole sculpt
    asked = (middle + away * _WITHIN).reshape(-1, 3)
    top, _ = columns.top(asked)
    under, _ = columns.below(np.column_stack([asked[:, :2], top]))
    # Where nothing is above (the mesh ends there), the prism ends on its own face.
    roofed = np.isfinite(under)
    top, under = np.where(roofed, top, asked[:, 2]), np.where(roofed, under, asked[:, 2])
    lid_z = (top - np.minimum((top - under) * 0.5, _MOST_LID_MM)).reshape(-1, 3)
    length = np.maximum(np.linalg.norm(away[..., :2], axis=2, keepdims=True), 1e-9)
    wide = away.copy()
    wide[..., :2] *= 1.0 + _OVERLAP_MM / length
    down = _over_seen_vertices(mesh, columns, middle + wide, lid_z)
    plugs = _prisms(middle + np.where((down > 0.0)[:, None, None], away, wide), lid_z)
    near = (down > 0.0) & np.isfinite(down)
    return plugs + _prisms((middle + wide)[near], lid_z[near] - down[near, None])


def _prisms(low: NDArray[np.float64], lid_z: NDArray[np.float64]) -> list[Manifold]:
    """From `_ROOT_MM` below the lowest of the corners (N, 3, 3) up to `lid_z` (N, 3), but not below them."""
    lid, foot = low.copy(), low.copy()
    lid[..., 2] = np.maximum(lid_z, low[..., 2])
    foot[..., 2] = np.maximum(low[..., 2].min(axis=1, keepdims=True) - _ROOT_MM, 0.0)
    plugs = [Manifold.hull_points(points) for points in np.concatenate([foot, lid], axis=1)]
    return [plug for plug in plugs if plug.volume() > 0.0]


def _over_seen_vertices(
    mesh: Mesh, columns: Columns, corners: NDArray[np.float64], lid_z: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far each lid, (N,), must drop so as not to cover a vertex that the sky sees; inf if it is large."""
    middle = corners[..., :2].mean(axis=1)
    radius = np.linalg.norm(corners[..., :2] - middle[:, None], axis=2).max(axis=1)
    large = radius > _LARGE_MM
    near = cKDTree(mesh.vertices[:, :2]).query_ball_point(middle, np.where(large, 0.0, radius))
    which = np.repeat(np.arange(len(corners)), [len(one) for one in near])
    points = mesh.vertices[np.concatenate([np.asarray(one, np.int64) for one in near])]
    over = lid_z.max(axis=1)[which] - points[:, 2] + _UNDER_MM
    seen = np.flatnonzero(over > 0.0)
    seen = seen[columns.clear(points[seen])]
    down = np.where(large, np.inf, 0.0)
    np.maximum.at(down, which[seen], over[seen])
    return down
