"""The mesh as a file can hold it: STL and 3MF keep single-precision numbers, so round on purpose."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csgraph

from buckwright.mesh.adjacency import edge_table
from buckwright.mesh.triangles import Mesh

__all__ = ["GRID_MM", "StoredMesh", "storable"]

GRID_MM = 2.0**-16
"""Spacing of the grid, 0.000015 mm: 24 bits of mantissa hold it exactly up to 256 mm from the origin."""

CRUMB_MM3 = 1e-6
"""A piece that loses its neck to the rounding and is smaller than this goes; nobody could print it."""

_TURNS = 12


@dataclass(frozen=True, slots=True, eq=False)
class StoredMesh(Mesh):
    """A mesh that is as files hold it; `storable` gives it back as it is."""


def storable(mesh: Mesh) -> StoredMesh:
    """Round the corners to what single precision holds, weld those that meet, drop what vanishes.

    Parameters
    ----------
    mesh : triangles, mm

    Returns
    -------
    The same surface within 0.00001 mm (up to 256 mm from the origin; half a step of single precision
    beyond). Faces keep their order. Every edge has two faces if that is so in `mesh`.

    Notes
    -----
    Left to the writers, two corners closer than the rounding would become one point with two numbers
    and a reader that welds by position would find other edges than were written. Welding here makes
    every reader see the same topology. Two faces that fall together back to back enclose nothing and go
    too. Where walls or cracks thinner than the rounding would still leave edges of four faces, the
    corners concerned are kept apart by a step of the grid or a few (found by repeating, until no such
    edge is left). Identical corners and faces are found by sorting, O(V log V).
    """
    if isinstance(mesh, StoredMesh):
        return mesh
    stored = _stored(mesh)
    return StoredMesh(stored.vertices, stored.faces)


def _stored(mesh: Mesh) -> Mesh:
    rounded = _rounded(mesh.vertices)
    stored = _welded(rounded, mesh.faces)
    # A mesh that is not closed by itself is stored as it is.
    if _is_closed(stored.faces) or not _is_closed(mesh.faces):
        return stored
    apart = np.zeros(len(rounded), bool)
    for turn in range(_TURNS):
        _, index = _weld(rounded)
        apart |= _at_crowded_edges(mesh.faces, index)
        rounded = _kept_apart(_rounded(mesh.vertices), apart, turn)
        stored = _welded(rounded, mesh.faces)
        if _is_closed(stored.faces):
            break
    return stored


def _rounded(vertices: NDArray[np.float64]) -> NDArray[np.float32]:
    on_grid: NDArray[np.float32] = (np.round(vertices / GRID_MM) * GRID_MM).astype(np.float32)
    return on_grid + np.float32(0.0)  # + 0 turns -0 into 0


def _is_closed(faces: NDArray[np.int32]) -> bool:
    return bool((edge_table(faces).face_count == 2).all())


def _welded(points: NDArray[np.float32], faces: NDArray[np.int32]) -> Mesh:
    """The mesh with one number for each point, without faces that have lost a corner."""
    first, index = _weld(points)
    corners = points[first].astype(np.float64)
    kept = index[faces]
    whole = _whole(kept)
    if not whole.all():
        kept = _without_pairs(kept[whole])
        kept = _without_crumbs(corners, kept) if _is_closed(kept) else kept
        return Mesh(corners, kept).submesh(np.ones(len(kept), bool))
    return Mesh(corners, np.ascontiguousarray(kept, dtype=np.int32))


def _without_crumbs(points: NDArray[np.float64], faces: NDArray[np.int32]) -> NDArray[np.int32]:
    """Drop closed pieces of next to no volume, which a thin neck leaves behind when it closes."""
    pairs = edge_table(np.ascontiguousarray(faces)).faces
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


def _at_crowded_edges(faces: NDArray[np.int32], index: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Corners (before welding) that end up on edges of other than two faces."""
    welded = index[faces]
    table = edge_table(np.ascontiguousarray(_without_pairs(welded[_whole(welded)])))
    crowded = np.zeros(int(index.max()) + 1, bool)
    crowded[table.edges[table.face_count != 2]] = True
    concerned: NDArray[np.bool_] = crowded[index]
    return concerned


def _kept_apart(points: NDArray[np.float32], apart: NDArray[np.bool_], turn: int) -> NDArray[np.float32]:
    """Move the second, third ... of the marked corners that share a point by as many steps of the grid."""
    _, index = _weld(points)
    chosen = np.flatnonzero(apart)
    rank = _rank_within(index[chosen].astype(np.int64))
    moved = points.copy()
    axis = (rank + turn) % 3
    coordinate = moved[chosen, axis]
    step = np.maximum(np.float32(GRID_MM), np.spacing(np.abs(coordinate)))
    moved[chosen, axis] = coordinate + step * rank.astype(np.float32)
    return moved


def _without_pairs(faces: NDArray[np.int32]) -> NDArray[np.int32]:
    """Take out faces on the same three corners that look opposite ways, one against one."""
    if not len(faces):
        return faces
    # With the lowest corner first, a face reads low-middle-high one way and low-high-middle the other.
    turned = faces[np.arange(len(faces))[:, None], (faces.argmin(axis=1)[:, None] + [0, 1, 2]) % 3]
    reverse = turned[:, 1] > turned[:, 2]
    corners = np.where(reverse[:, None], turned[:, [0, 2, 1]], turned)
    group = np.unique(corners, axis=0, return_inverse=True)[1].reshape(-1)
    rank = _rank_within(2 * group + reverse)
    count = np.bincount(2 * group + reverse, minlength=2 * (int(group.max()) + 1)).reshape(-1, 2)
    kept: NDArray[np.int32] = faces[rank >= count.min(axis=1)[group]]
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


def _weld(points: NDArray[np.float32]) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Give equal points one number; numbers follow the order of first appearance."""
    order = np.lexsort((points[:, 2], points[:, 1], points[:, 0]))
    ordered = points[order]
    starts = np.ones(len(points), bool)
    starts[1:] = (ordered[1:] != ordered[:-1]).any(axis=1)
    group = np.cumsum(starts) - 1
    # lexsort is stable, so the first of each group is the one that came first.
    head = order[starts]
    rank = np.empty(len(head), np.int32)
    by_appearance = np.argsort(head, kind="stable")
    rank[by_appearance] = np.arange(len(head), dtype=np.int32)
    index = np.empty(len(points), np.int32)
    index[order] = rank[group]
    return head[by_appearance], index
