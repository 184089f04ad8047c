"""Which faces meet at which edges: the edge table, neighbours, connected shells and boundary loops.

A *half-edge* is one side of one face. Half-edge `3 f + k` runs from corner `k` to corner `k + 1` of face `f`.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from buckwright.kernel import kernel
from buckwright.mesh.triangles import Mesh

__all__ = [
    "EdgeTable",
    "boundary_loops",
    "connected",
    "edge_table",
    "face_neighbours",
    "is_closed_and_oriented",
    "patches",
    "shells",
    "twins",
]


@dataclass(frozen=True, slots=True, eq=False)
class EdgeTable:
    """Every undirected edge once, sorted by its two vertices.

    Attributes
    ----------
    edges : (E, 2) int32, lower and higher vertex
    faces : (E, 2) int32, the first two faces that use the edge; -1 in column 1 where only one does
    face_count : (E,) int32, number of face sides that use the edge (1 boundary, 2 regular, more:
        non-manifold)
    half_edges : (3F,) int32, half-edges grouped by edge, rising within each edge
    start : (E + 1,) int64, edge `e` owns `half_edges[start[e]:start[e + 1]]`
    """

    edges: NDArray[np.int32]
    faces: NDArray[np.int32]
    face_count: NDArray[np.int32]
    half_edges: NDArray[np.int32]
    start: NDArray[np.int64]


def edge_table(faces: NDArray[np.int32]) -> EdgeTable:
    """List the edges of a triangle mesh with the faces that meet there.

    Parameters
    ----------
    faces : (F, 3) int32
        A face that uses a vertex twice gives an edge from that vertex to itself.

    Returns
    -------
    EdgeTable

    Notes
    -----
    Two stable counting sorts (higher vertex, then lower vertex): linear time, no worst case.

    Examples
    --------
    >>> import numpy as np
    >>> table = edge_table(np.array([[0, 1, 2], [2, 1, 3]], np.int32))
    >>> table.edges.tolist()
    [[0, 1], [0, 2], [1, 2], [1, 3], [2, 3]]
    >>> table.face_count.tolist()
    [1, 1, 2, 1, 1]
    """
    sides = np.ascontiguousarray(faces, dtype=np.int32).reshape(-1, 3)
    count = int(sides.max()) + 1 if sides.size else 0
    order, low, high = _sorted_half_edges(sides, count)
    new = np.ones(len(order), bool)
    new[1:] = (low[1:] != low[:-1]) | (high[1:] != high[:-1])
    first = np.flatnonzero(new)
    start = np.append(first, len(order)).astype(np.int64)
    uses = np.diff(start).astype(np.int32)
    meeting = np.full((len(first), 2), -1, np.int32)
    meeting[:, 0] = order[first] // 3
    shared = uses > 1
    meeting[shared, 1] = order[first[shared] + 1] // 3
    return EdgeTable(np.stack([low[first], high[first]], axis=1), meeting, uses, order, start)


@kernel
def _sorted_half_edges(faces: Any, vertex_count: int) -> Any:
    """Half-edges by (low, high) vertex: their ids and both vertices."""
    total = 3 * len(faces)
    low = np.empty(total, np.int32)
    high = np.empty(total, np.int32)
    low_slot = np.zeros(vertex_count + 1, np.int64)
    high_slot = np.zeros(vertex_count + 1, np.int64)
    for f in range(len(faces)):
        for k in range(3):
            a = faces[f, k]
            b = faces[f, (k + 1) % 3]
            low[3 * f + k] = min(a, b)
            high[3 * f + k] = max(a, b)
            low_slot[min(a, b) + 1] += 1
            high_slot[max(a, b) + 1] += 1
    low_slot = np.cumsum(low_slot)
    high_slot = np.cumsum(high_slot)
    by_high = np.empty(total, np.int32)
    for h in range(total):
        by_high[high_slot[high[h]]] = h
        high_slot[high[h]] += 1
    order = np.empty(total, np.int32)
    for i in range(total):
        h = by_high[i]
        order[low_slot[low[h]]] = h
        low_slot[low[h]] += 1
    return order, low[order], high[order]


def face_neighbours(mesh: Mesh, *, table: EdgeTable | None = None) -> NDArray[np.int32]:
    """Pairs of faces that share an edge.

    Parameters
    ----------
    mesh : any triangles
    table : edge table of the mesh, if already built

    Returns
    -------
    (N, 2) int32; where more than two faces meet at an edge they are chained, which preserves connectivity
    """
    table = edge_table(mesh.faces) if table is None else table
    face = table.half_edges // 3
    follows = np.ones(len(face), bool)
    follows[table.start[:-1]] = False
    second = np.flatnonzero(follows)
    pairs = np.stack([face[second - 1], face[second]], axis=1)
    return np.ascontiguousarray(pairs[pairs[:, 0] != pairs[:, 1]], dtype=np.int32)


def shells(mesh: Mesh, *, table: EdgeTable | None = None) -> tuple[NDArray[np.int32], int]:
    """Label the faces by connected shell (connected through shared edges).

    Parameters
    ----------
    mesh : any triangles
    table : edge table of the mesh, if already built

    Returns
    -------
    labels : (F,) int32, 0 .. count - 1
    count : int
    """
    if not mesh.face_count:
        return np.zeros(0, np.int32), 0
    return connected(face_neighbours(mesh, table=table), mesh.face_count)


def patches(mesh: Mesh, *, table: EdgeTable | None = None) -> tuple[NDArray[np.int32], int]:
    """Label the faces by patch (connected through edges of exactly two faces).

    Parameters
    ----------
    mesh : any triangles
    table : edge table of the mesh, if already built

    Returns
    -------
    labels : (F,) int32, 0 .. count - 1
    count : int
    """
    if not mesh.face_count:
        return np.zeros(0, np.int32), 0
    table = edge_table(mesh.faces) if table is None else table
    return connected(table.faces[table.face_count == 2], mesh.face_count)


def connected(pairs: NDArray[np.int32], face_count: int) -> tuple[NDArray[np.int32], int]:
    """Label faces by the pairs that hold them together.

    Parameters
    ----------
    pairs : (N, 2) int32
    face_count : number of faces, >= 1

    Returns
    -------
    labels : (F,) int32, 0 .. count - 1; a face without a pair stays by itself
    count : int
    """
    shape = (face_count, face_count)
    links = coo_array((np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), shape=shape)
    number, labels = connected_components(links.tocsr(), directed=False)
    return np.asarray(labels, dtype=np.int32), int(number)


def twins(faces: NDArray[np.int32], *, table: EdgeTable | None = None) -> NDArray[np.int32]:
    """Find the half-edge that runs the other way along the same edge.

    Parameters
    ----------
    faces : (F, 3) int32
    table : their edge table, if already built

    Returns
    -------
    (3F,) int32; -1 on a boundary and where the neighbour runs the same way. Where more than two faces meet,
    forward and backward sides are paired in order and any left over get -1.
    """
    table = edge_table(faces) if table is None else table
    return np.asarray(_pair_half_edges(faces, table.half_edges, table.start), dtype=np.int32)


@kernel
def _pair_half_edges(faces: Any, half_edges: Any, start: Any) -> Any:
    """Pair each rising side of an edge with the next unpaired falling side."""
    twin = np.full(len(half_edges), -1, np.int32)
    for e in range(len(start) - 1):
        back = start[e]
        for i in range(start[e], start[e + 1]):
            h = half_edges[i]
            if faces[h // 3, h % 3] >= faces[h // 3, (h % 3 + 1) % 3]:
                continue
            while back < start[e + 1]:
                g = half_edges[back]
                back += 1
                if faces[g // 3, g % 3] > faces[g // 3, (g % 3 + 1) % 3]:
                    twin[h] = g
                    twin[g] = h
                    break
    return twin


def is_closed_and_oriented(faces: NDArray[np.int32]) -> bool:
    """Whether each edge is a side of two faces that run along it opposite ways.

    Parameters
    ----------
    faces : (F, 3) int32

    Returns
    -------
    bool : False without faces

    Examples
    --------
    >>> tetrahedron = np.array([(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)], np.int32)
    >>> is_closed_and_oriented(tetrahedron), is_closed_and_oriented(tetrahedron[:3])
    (True, False)
    """
    table = edge_table(faces)
    two = bool(len(faces)) and bool((table.face_count == 2).all())
    return two and bool((twins(faces, table=table) >= 0).all())


def boundary_loops(faces: NDArray[np.int32], *, table: EdgeTable | None = None) -> list[NDArray[np.int32]]:
    """Walk along the open edges of a mesh.

    Parameters
    ----------
    faces : (F, 3) int32
    table : their edge table, if already built

    Returns
    -------
    list of (L,) int32
        Ordered vertices of each closed loop, with the surface on the left (against the winding of a cap: a
        cap uses the loop reversed). Every half-edge without a twin belongs to exactly one loop; a loop may
        pass through one vertex several times.
    """
    twin = twins(faces, table=table)
    vertices, starts = _walk_boundary(np.ascontiguousarray(faces), twin)
    return (
        [np.asarray(loop, dtype=np.int32) for loop in np.split(vertices, starts[1:])] if len(starts) else []
    )


@kernel
def _walk_boundary(faces: Any, twin: Any) -> Any:
    """Follow twinless half-edges; at each end turn through the fan of faces to the next twinless one."""
    seen = np.zeros(len(twin), np.bool_)
    vertices = np.empty(np.sum(twin < 0), np.int32)
    starts = np.empty(len(vertices), np.int64)
    used = 0
    loops = 0
    for first in range(len(twin)):
        if twin[first] >= 0 or seen[first]:
            continue
        starts[loops] = used
        loops += 1
        h = first
        while not seen[h]:
            seen[h] = True
            vertices[used] = faces[h // 3, h % 3]
            used += 1
            h = 3 * (h // 3) + (h % 3 + 1) % 3
            while twin[h] >= 0:
                h = twin[h]
                h = 3 * (h // 3) + (h % 3 + 1) % 3
    return vertices, starts[:loops]
