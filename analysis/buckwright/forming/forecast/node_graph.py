"""Which nodes are neighbours, which triangles meet at a node, and which nodes are connected."""

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel

__all__ = ["hanging_together", "neighbours_of", "triangles_at", "with_any"]


def neighbours_of(ends: NDArray[np.int32], count: int) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Neighbours of every node, as one list with an index.

    Parameters
    ----------
    ends : (E, 2) int32, edges
    count : number of nodes

    Returns
    -------
    (count + 1,) int64, (2E,) int32 : begin, found; the neighbours of node n are found[begin[n] : begin[n +
    1]]

    Examples
    --------
    >>> import numpy as np
    >>> begin, found = neighbours_of(np.array([[0, 1], [1, 2]], np.int32), 3)
    >>> [found[begin[n] : begin[n + 1]].tolist() for n in range(3)]
    [[1], [2, 0], [1]]
    """
    both = np.concatenate([ends, ends[:, ::-1]])
    both = both[np.argsort(both[:, 0], kind="stable")]
    return np.searchsorted(both[:, 0], np.arange(count + 1)), np.ascontiguousarray(both[:, 1])


def triangles_at(triangles: NDArray[np.int32], count: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Triangles at every node, as one list with an index.

    Parameters
    ----------
    triangles : (T, 3) int32
    count : number of nodes

    Returns
    -------
    (count + 1,) int64, (3T,) int64 : begin, found; the triangles at node n are found[begin[n] : begin[n + 1]]
    """
    corners = triangles.ravel()
    order = np.argsort(corners, kind="stable")
    return np.searchsorted(corners[order], np.arange(count + 1)), order // 3


def with_any(triangles: NDArray[np.int32], marked: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Triangles that have a marked corner.

    Parameters
    ----------
    triangles : (T, 3) int32
    marked : (N,) bool

    Returns
    -------
    (K,) int64, rising
    """
    found = np.empty(len(triangles), np.int64)
    return found[: _with_any(triangles, marked, found)].copy()


@kernel
def _with_any(triangles, marked, found):  # type: ignore[no-untyped-def]
    count = 0
    for t in range(triangles.shape[0]):
        if marked[triangles[t, 0]] or marked[triangles[t, 1]] or marked[triangles[t, 2]]:
            found[count] = t
            count += 1
    return count


def hanging_together(
    node: int, inside: NDArray[np.bool_], begin: NDArray[np.int64], neighbours: NDArray[np.int32]
) -> NDArray[np.int64]:
    """Nodes connected to one node through nodes inside.

    Parameters
    ----------
    node : where to start
    inside : (N,) bool
    begin, neighbours : from `neighbours_of`

    Returns
    -------
    (K,) int64, rising; the node alone if it is not inside
    """
    found = np.empty(len(inside), np.int64)
    return np.sort(found[: _flood(node, inside.copy(), begin, neighbours, found)])


@kernel
def _flood(node, open_, begin, neighbours, found):  # type: ignore[no-untyped-def]
    """Write what is reached to `found`, close it in `open_`, and return how many."""
    if not open_[node]:
        found[0] = node
        return 1
    found[0] = node
    open_[node] = False
    count, done = 1, 0
    while done < count:
        v = found[done]
        done += 1
        for e in range(begin[v], begin[v + 1]):
            w = neighbours[e]
            if open_[w]:
                open_[w] = False
                found[count] = w
                count += 1
    return count
