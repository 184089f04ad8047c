"""Welding: corners at equal or nearly equal coordinates become one vertex."""

from collections.abc import Callable
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel
from buckwright.mesh.triangles import Mesh

__all__ = ["equal_points", "weld_equal", "weld_near"]


def weld_equal(mesh: Mesh, *, counted: Callable[[int], None] | None = None) -> Mesh:
    """Join vertices whose coordinates are exactly equal, and drop vertices that no face uses.

    Parameters
    ----------
    mesh : any triangles
    counted : called with the number of vertices to come, before memory is taken for them; may raise

    Returns
    -------
    Mesh
        Vertices in the order in which the faces first use them. Zero and minus zero are equal.

    Notes
    -----
    Open-addressed hash table over the bits of the coordinates: linear time.
    """
    points = np.ascontiguousarray(mesh.vertices)
    kept, faces = _weld(points.view(np.uint64), np.ascontiguousarray(mesh.faces))
    if counted is not None:
        counted(len(kept))
    first = points[kept]
    first += 0.0
    return Mesh(first, faces)


def weld_near(mesh: Mesh, *, tolerance_mm: float) -> tuple[Mesh, float]:
    """Join vertices within a distance of each other, transitively: a chain of near vertices becomes one.

    Parameters
    ----------
    mesh : any triangles, finite coordinates
    tolerance_mm : largest distance of a pair that is joined, >= 0

    Returns
    -------
    Mesh
        Each joined vertex takes the place of the first of its group; vertices are renumbered by group, and
        faces may lose area. The same object where no pair is near.
    float
        How far the farthest vertex moved, mm; more than the tolerance where vertices form a chain.

    Notes
    -----
    Pairs from a k-d tree, groups by connected components.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    pairs = cKDTree(mesh.vertices).query_pairs(tolerance_mm, output_type="ndarray")
    if not len(pairs):
        return mesh, 0.0
    count = mesh.vertex_count
    links = coo_array((np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    groups, label = connected_components(links.tocsr(), directed=False)
    first: NDArray[np.int64] = np.full(groups, count, np.int64)
    np.minimum.at(first, label, np.arange(count))
    moved = np.linalg.norm(mesh.vertices - mesh.vertices[first[label]], axis=1)
    return Mesh(mesh.vertices[first], label[mesh.faces].astype(np.int32)), float(moved.max())


def equal_points(points: NDArray[np.floating[Any]]) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Find points at exactly equal coordinates.

    Parameters
    ----------
    points : (N, 3) floating

    Returns
    -------
    first : (G,) int32, the first point of each group, groups in order of first appearance
    group : (N,) int32, the group of each point

    Examples
    --------
    >>> import numpy as np
    >>> first, group = equal_points(np.array([[0.0, 0.0, 1.0], [2.0, 0.0, 0.0], [-0.0, 0.0, 1.0]]))
    >>> first.tolist(), group.tolist()
    ([0, 1], [0, 1, 0])
    """
    keys = np.ascontiguousarray(points, dtype=np.float64).view(np.uint64)
    return cast("tuple[NDArray[np.int32], NDArray[np.int32]]", _groups(keys))


@kernel
def _bits(keys: Any, v: Any, axis: Any) -> Any:
    """Bits of a coordinate; those of minus zero become those of zero."""
    bits = keys[v, axis]
    return np.uint64(0) if bits == np.uint64(0x8000000000000000) else bits


@kernel
def _seat(keys: Any, kept: Any, slots: Any, v: Any) -> Any:
    """Slot of a key: the one that holds its group, or a free one."""
    mask = np.uint64(len(slots) - 1)
    x, y, z = _bits(keys, v, 0), _bits(keys, v, 1), _bits(keys, v, 2)
    code = x * np.uint64(0x9E3779B97F4A7C15)
    code = (code ^ (code >> np.uint64(29)) ^ y) * np.uint64(0xBF58476D1CE4E5B9)
    code = (code ^ (code >> np.uint64(32)) ^ z) * np.uint64(0x94D049BB133111EB)
    slot = np.int64((code ^ (code >> np.uint64(31))) & mask)
    while slots[slot] >= 0:
        other = kept[slots[slot]]
        if _bits(keys, other, 0) == x and _bits(keys, other, 1) == y and _bits(keys, other, 2) == z:
            break
        slot = (slot + 1) & (len(slots) - 1)
    return slot


@kernel
def _empty_slots(count: Any) -> Any:
    size = 16
    while size < 2 * count:
        size *= 2
    return np.full(size, -1, np.int32)


@kernel
def _groups(keys: Any) -> Any:
    """First point of every group of equal keys, and the group of every point."""
    slots = _empty_slots(len(keys))
    group = np.empty(len(keys), np.int32)
    kept = np.empty(len(keys), np.int32)
    count = 0
    for v in range(len(keys)):
        slot = _seat(keys, kept, slots, v)
        if slots[slot] < 0:
            slots[slot] = count
            kept[count] = v
            count += 1
        group[v] = slots[slot]
    return kept[:count], group


@kernel
def _weld(keys: Any, faces: Any) -> Any:
    """First vertex of every group of equal keys, and the faces renumbered to the groups."""
    slots = _empty_slots(len(keys))
    group = np.full(len(keys), -1, np.int32)
    kept = np.empty(len(keys), np.int32)
    count = 0
    out = np.empty_like(faces)
    for f in range(len(faces)):
        for k in range(3):
            v = faces[f, k]
            if group[v] < 0:
                slot = _seat(keys, kept, slots, v)
                if slots[slot] < 0:
                    slots[slot] = count
                    kept[count] = v
                    count += 1
                group[v] = slots[slot]
            out[f, k] = group[v]
    return kept[:count], out
