"""Which nodes are neighbours, which triangles meet at a node, and what hangs together."""

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel

__all__ = ["hanging_together", "neighbours_of", "triangles_at"]


def neighbours_of(ends: NDArray[np.int32], count: int) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Neighbours of `count` nodes by their edges (E, 2): of node n found[begin[n] : begin[n + 1]]."""
    both = np.concatenate([ends, ends[:, ::-1]])
    both = both[np.argsort(both[:, 0], kind="stable")]
    return np.searchsorted(both[:, 0], np.arange(count + 1)), np.ascontiguousarray(both[:, 1])


def triangles_at(triangles: NDArray[np.int32], count: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Triangles at each of `count` nodes: those at node n are found[begin[n] : begin[n + 1]]."""
    corners = triangles.ravel()
    order = np.argsort(corners, kind="stable")
    return np.searchsorted(corners[order], np.arange(count + 1)), order // 3


def hanging_together(
    node: int, inside: NDArray[np.bool_], begin: NDArray[np.int64], neighbours: NDArray[np.int32]
) -> NDArray[np.int64]:
    """Nodes reached from one over nodes inside, in rising order; it alone if it is not inside."""
    found = np.empty(len(inside), np.int64)
    return np.sort(found[: _flood(node, inside.copy(), begin, neighbours, found)])


@kernel
def _flood(node, open_, begin, neighbours, found):  # type: ignore[no-untyped-def]
    """Write what is reached to `found`, close it in `open_`, and tell how many."""
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
