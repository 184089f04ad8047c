"""The mesh as a file can hold it: STL and 3MF store single-precision numbers, so round on purpose."""

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csgraph

from buckwright.errors import OutputError
from buckwright.mesh.adjacency import EdgeTable, edge_table
from buckwright.mesh.triangles import Mesh
from buckwright.mesh.welding import equal_points

__all__ = ["GRID_MM", "StoredMesh", "storable"]

GRID_MM = 2.0**-16
"""Spacing of the grid, 0.000015 mm: 24 bits of mantissa hold it exactly up to 256 mm from the origin."""

_MOST_STEPS = 8
_ROOM_MM = 0.002  # wider than the farthest place where a corner may be put

CRUMB_MM3 = 1e-6
"""A piece that loses its neck to the rounding and is smaller than this is dropped; nobody could print it."""


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class StoredMesh(Mesh):
    """A mesh in the form that files hold; `storable` returns it unchanged."""


def storable(mesh: Mesh) -> StoredMesh:
    """Round the corners to single precision, weld those that coincide, drop what vanishes.

    Parameters
    ----------
    mesh : triangles, mm

    Returns
    -------
    StoredMesh : the same surface within 0.00001 mm (up to 256 mm from the origin; half a step of single
        precision beyond). Faces keep their order. Every edge has two faces if that is so in `mesh`.

    Raises
    ------
    OutputError
        Too many corners coincide for keeping them apart.

    Notes
    -----
    Left to the writers, two corners closer than the rounding would become one point with two numbers, and a
    reader that welds by position would find other edges than were written. Welding here makes every reader
    see the same topology. Two faces that fall together back to back enclose nothing and are dropped too.
    Where walls or cracks thinner than the rounding would leave edges of four faces, the corners concerned are
    not welded but kept apart by a few steps of the grid. The set of such corners only grows, and with no
    corner welded the edges are those of `mesh`, so it ends. Linear time: only the faces at corners that share
    a point are checked again.
    """
    if isinstance(mesh, StoredMesh):
        return mesh
    stored = _stored(mesh)
    return StoredMesh(stored.vertices, stored.faces)


def _stored(mesh: Mesh) -> Mesh:
    points = _rounded(mesh.vertices)
    first, group = equal_points(points)
    if len(first) == len(points):
        return Mesh(points.astype(np.float64), mesh.faces)
    # A mesh that is not closed by itself is stored as it is.
    if _is_closed(mesh.faces):
        apart = _to_be_kept_apart(mesh.faces, group)
        points = _kept_apart(points, group, apart)
        first, group = equal_points(points)
    return _welded(points[first].astype(np.float64), group[mesh.faces])


def _to_be_kept_apart(faces: NDArray[np.int32], group: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Corners that share a point but would, welded, make edges of more than two faces."""
    shared = (np.bincount(group) > 1)[group]
    # all other edges keep their faces
    near = faces[shared[faces].any(axis=1)]
    number = group.astype(np.int32)
    apart = np.zeros(len(group), np.bool_)
    fresh = int(group.max()) + 1
    while True:
        welded = number[near]
        table = edge_table(np.ascontiguousarray(_without_pairs(welded[_whole(welded)])))
        crowded = np.zeros(fresh + len(group), np.bool_)
        crowded[table.edges[table.face_count > 2]] = True
        new = np.flatnonzero(crowded[number] & shared & ~apart)
        if not len(new):
            return apart
        apart[new] = True
        number[new] = fresh + new


def _rounded(vertices: NDArray[np.float64]) -> NDArray[np.float32]:
    on_grid: NDArray[np.float32] = (np.round(vertices / GRID_MM) * GRID_MM).astype(np.float32)
    return on_grid + np.float32(0.0)  # + 0 turns -0 into 0


def _is_closed(faces: NDArray[np.int32]) -> bool:
    return bool((edge_table(faces).face_count == 2).all())


def _welded(corners: NDArray[np.float64], faces: NDArray[np.int32]) -> Mesh:
    """The mesh without faces that have lost a corner."""
    whole = _whole(faces)
    if not whole.all():
        kept = np.ascontiguousarray(_without_pairs(faces[whole]))
        table = edge_table(kept)
        kept = _without_crumbs(corners, kept, table) if (table.face_count == 2).all() else kept
        return Mesh(corners, kept).submesh(np.ones(len(kept), bool))
    return Mesh(corners, np.ascontiguousarray(faces, dtype=np.int32))


def _without_crumbs(
    points: NDArray[np.float64], faces: NDArray[np.int32], table: EdgeTable
) -> NDArray[np.int32]:
    """Drop closed pieces of next to no volume, left behind when a thin neck closes."""
    pairs = table.faces
    links = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(faces), len(faces)))
    count, piece = csgraph.connected_components(links, directed=False)
    if count == 1:
        return faces
    a, b, c = np.moveaxis(points[faces] - points[faces[:, 0]].mean(axis=0), 1, 0)
    volume = np.bincount(piece, weights=np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0, minlength=count)
    large: NDArray[np.bool_] = np.abs(volume) > CRUMB_MM3
    large |= not large.any()
    return faces[large[piece]]


def _whole(faces: NDArray[np.int32]) -> NDArray[np.bool_]:
    a, b, c = faces.T
    whole: NDArray[np.bool_] = (a != b) & (b != c) & (c != a)
    return whole


def _kept_apart(
    points: NDArray[np.float32], group: NDArray[np.int32], apart: NDArray[np.bool_]
) -> NDArray[np.float32]:
    """Move marked corners that share a point to the nearest free places of the grid."""
    chosen = np.flatnonzero(apart)
    moved = points.copy()
    taken = {tuple(point) for point in points[_near(points, points[chosen])].tolist()}
    met = np.zeros(int(group.max()) + 1, np.bool_)
    met[group[~apart]] = True
    for corner in chosen:
        if met[group[corner]]:
            moved[corner] = _free_place(points[corner], taken)
            taken.add(tuple(moved[corner].tolist()))
        met[group[corner]] = True
    return moved


def _near(points: NDArray[np.float32], places: NDArray[np.float32]) -> NDArray[np.int64]:
    """Points within `_ROOM_MM` of any of the places, to the coarseness of a grid."""
    box = 1.0 / _ROOM_MM

    def keys(at: NDArray[np.float64]) -> NDArray[np.int64]:
        i, j, k = np.moveaxis(np.floor(at * box).astype(np.int64), 1, 0)
        key: NDArray[np.int64] = (i * 73_856_093) ^ (j * 19_349_663) ^ (k * 83_492_791)
        return key

    around = np.array(list(product((-1, 1), repeat=3))) * (0.5 * _ROOM_MM)
    wanted = np.unique(np.concatenate([keys(places + shift) for shift in around]))
    return np.flatnonzero(np.isin(keys(points.astype(np.float64)), wanted))


def _free_place(point: NDArray[np.float32], taken: set[tuple[float, ...]]) -> NDArray[np.float32]:
    """The first place around a point, in shells of the grid, where no corner is."""
    step = np.maximum(np.float32(GRID_MM), np.spacing(np.abs(point)))
    for reach in range(1, _MOST_STEPS):
        for shift in product(range(-reach, reach + 1), repeat=3):
            place: NDArray[np.float32] = point + step * np.array(shift, np.float32)
            if max(map(abs, shift)) == reach and tuple(place.tolist()) not in taken:
                return place
    raise OutputError("the buck cannot be stored: too many corners lie in one place")


def _without_pairs(faces: NDArray[np.int32]) -> NDArray[np.int32]:
    """Remove faces on the same three corners that face opposite ways, one for one."""
    alike = _maybe_alike(faces)
    if not alike.any():
        return faces
    kept = np.ones(len(faces), np.bool_)
    kept[alike] = _unpaired(faces[alike])
    return faces[kept]


def _maybe_alike(faces: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Faces (F,) that may share all three corners with another: as good as no others."""
    low, middle, high = np.sort(faces, axis=1).astype(np.uint64).T
    mixed = (low * np.uint64(0x9E3779B97F4A7C15)) ^ (middle * np.uint64(0xC2B2AE3D27D4EB4F))
    code = (mixed ^ (mixed >> np.uint64(29))) * np.uint64(0xBF58476D1CE4E5B9) + high
    ordered = np.sort(code)
    found: NDArray[np.bool_] = np.isin(code, ordered[1:][ordered[1:] == ordered[:-1]])
    return found


def _unpaired(faces: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Faces (F,) that are left when those on the same corners and facing opposite ways go in pairs."""
    # With the lowest corner first, a face reads low-middle-high one way and low-high-middle the other.
    turned = faces[np.arange(len(faces))[:, None], (faces.argmin(axis=1)[:, None] + [0, 1, 2]) % 3]
    reverse = turned[:, 1] > turned[:, 2]
    corners = np.where(reverse[:, None], turned[:, [0, 2, 1]], turned)
    group = np.unique(corners, axis=0, return_inverse=True)[1].reshape(-1)
    rank = _rank_within(2 * group + reverse)
    count = np.bincount(2 * group + reverse, minlength=2 * (int(group.max()) + 1)).reshape(-1, 2)
    kept: NDArray[np.bool_] = rank >= count.min(axis=1)[group]
    return kept


def _rank_within(group: NDArray[np.int64]) -> NDArray[np.int64]:
    """How many entries of the same group came before each entry."""
    order = np.argsort(group, kind="stable")
    ordered = group[order]
    starts = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]]))
    lengths = np.diff(np.append(starts, len(group)))
    rank = np.empty(len(group), np.int64)
    rank[order] = np.arange(len(group)) - np.repeat(starts, lengths)
    return rank
