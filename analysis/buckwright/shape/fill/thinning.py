"""Take nodes out of a plan triangulation wherever the surface stays within given bounds.

Cells divide the plan evenly, though a wall of fill is ruled: along its slope two nodes would do. A node goes
by moving it onto a neighbour. Every node that went must lie within its own bounds on the new surface too, so
errors do not add up.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import in_parts, kernel
from buckwright.mesh.adjacency import boundary_loops

__all__ = ["EDGE", "HIDDEN", "ROOF", "WALL", "Nodes", "thinned"]

EDGE, WALL, ROOF, HIDDEN = range(4)
"""Kinds of nodes: on a rim or the foot of a wall; on a wall of fill; in a layer of sculpt over or beside a
void; elsewhere within the sculpt."""

_STRIPS = 4
"""Strips into which the ground is cut: so many on any machine, so that all get the same triangles."""
_LEAST_TRIANGLES = 20_000
"""Fewer are worked on in one strip."""
_PASSES = 8
_WORTH_A_PASS = 0.02
"""Another pass is made while the last one took out this share of the nodes."""
_MOST_AROUND = 24
_MOST_MEMBERS = 400
"""A node with more triangles around it, or more lost nodes upon them, stays."""
_LEAST_SHAPE = 0.03
"""Twice the area of a triangle in plan over its longest side squared: flatter ones are not made."""


@dataclass(frozen=True, slots=True, eq=False)
class Nodes:
    """Nodes of a surface over the plan.

    Attributes
    ----------
    plane : (N, 2) float64, mm
    height : (N,) float64, mm
    lowest, highest : (N,) float64, mm, where the surface may pass over each
    kind : (N,) int8, `EDGE`, `WALL`, `ROOF` or `HIDDEN`
    """

    plane: NDArray[np.float64]
    height: NDArray[np.float64]
    lowest: NDArray[np.float64]
    highest: NDArray[np.float64]
    kind: NDArray[np.int8]


def thinned(nodes: Nodes, triangles: NDArray[np.int32], *, steepest: float) -> NDArray[np.int32]:
    """Triangulate the same ground with fewer nodes.

    Parameters
    ----------
    nodes : nodes and their bounds
    triangles : (T, 3) int32, counter-clockwise in plan
    steepest : greatest slope (height over way in plan) of a triangle between three nodes of walls

    Returns
    -------
    (T', 3) int32 : into the same nodes, of which some are no longer used; those on the border all are

    Notes
    -----
    No triangle is made between walls, roofs and other hidden ground: bounds hold at nodes, and a fold between
    two rows of them could pass under a roof and leave a void there.

    The ground is worked on in strips, on as many processors as there are; nodes between two strips stay.
    """
    stays = np.zeros(len(nodes.plane), np.bool_)
    for loop in boundary_loops(triangles):
        stays[loop] = True
    strips = _STRIPS if len(triangles) >= _LEAST_TRIANGLES else 1
    strip_of = _strips(nodes.plane, triangles, strips)
    first, last = _strips_at_nodes(len(nodes.plane), triangles, strip_of)
    stays |= first < last
    # in an order that favours no direction, the same in every run
    order = np.random.default_rng(0).permutation(len(nodes.plane)).astype(np.int32)
    order = order[~stays[order]]
    left: list[NDArray[np.int32]] = [triangles[:0]] * strips

    def work(begin: int, end: int) -> None:
        for strip in range(begin, end):
            own = np.ascontiguousarray(triangles[strip_of == strip], np.int32)
            alive = np.ones(len(own), np.bool_)
            _thin(
                nodes.plane,
                nodes.height,
                nodes.lowest,
                nodes.highest,
                nodes.kind,
                stays,
                order[first[order] == strip],
                own,
                alive,
                steepest,
            )
            left[strip] = own[alive]

    in_parts(work, strips, least=1)
    return np.ascontiguousarray(np.concatenate(left))


def _strips(plane: NDArray[np.float64], triangles: NDArray[np.int32], count: int) -> NDArray[np.int8]:
    """The strip of each triangle: as many in each, across the longer side."""
    if count == 1:
        return np.zeros(len(triangles), np.int8)
    middle = plane[:, np.argmax(np.ptp(plane, axis=0))][triangles].sum(axis=1)
    cuts = np.quantile(middle, np.arange(1, count) / count)
    return np.searchsorted(cuts, middle, side="right").astype(np.int8)


def _strips_at_nodes(
    count: int, triangles: NDArray[np.int32], strip_of: NDArray[np.int8]
) -> tuple[NDArray[np.int8], NDArray[np.int8]]:
    """First and last strip of the triangles at each node; a node without triangles has none of them."""
    first, last = np.full(count, _STRIPS, np.int8), np.full(count, -1, np.int8)
    strips = np.repeat(strip_of, 3)
    np.minimum.at(first, triangles.ravel(), strips)
    np.maximum.at(last, triangles.ravel(), strips)
    return first, last


@kernel
def _shape(plane, a, b, c):  # type: ignore[no-untyped-def]
    """Twice the area of a triangle in plan over its longest side squared, negative if it is turned over."""
    ux, uy = plane[b, 0] - plane[a, 0], plane[b, 1] - plane[a, 1]
    vx, vy = plane[c, 0] - plane[a, 0], plane[c, 1] - plane[a, 1]
    wx, wy = vx - ux, vy - uy
    return (ux * vy - uy * vx) / max(ux * ux + uy * uy, vx * vx + vy * vy, wx * wx + wy * wy)


@kernel
def _slope(plane, height, a, b, c):  # type: ignore[no-untyped-def]
    """Steepness of a triangle: height over way in plan."""
    ux, uy, uz = plane[b, 0] - plane[a, 0], plane[b, 1] - plane[a, 1], height[b] - height[a]
    vx, vy, vz = plane[c, 0] - plane[a, 0], plane[c, 1] - plane[a, 1], height[c] - height[a]
    nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    return np.sqrt(nx * nx + ny * ny) / nz


@kernel
def _worst_shape(plane, height, kind, steepest, target, ring, count):  # type: ignore[no-untyped-def]
    """Worst shape among the triangles between a target and the sides of a ring; -1 if one must not be."""
    worst = np.inf
    for j in range(count):
        a, b = ring[j, 0], ring[j, 1]
        if target in (a, b):
            continue
        shape = _shape(plane, target, a, b)
        if shape < _LEAST_SHAPE:
            return -1.0
        most = max(kind[target], kind[a], kind[b])
        for v in (target, a, b):
            if EDGE < kind[v] < most:
                return -1.0
        if most <= WALL and _slope(plane, height, target, a, b) > steepest:
            return -1.0
        worst = min(worst, shape)
    return worst


@kernel
def _side_under(plane, height, target, ring, count, px, py):  # type: ignore[no-untyped-def]
    """Which triangle between a target and the sides of a ring holds a point, and its height there."""
    best, found, z = -1e-7, -1, 0.0
    for j in range(count):
        a, b = ring[j, 0], ring[j, 1]
        if target in (a, b):
            continue
        ux, uy = plane[a, 0] - plane[target, 0], plane[a, 1] - plane[target, 1]
        vx, vy = plane[b, 0] - plane[target, 0], plane[b, 1] - plane[target, 1]
        x, y = px - plane[target, 0], py - plane[target, 1]
        area = ux * vy - uy * vx
        of_a, of_b = (x * vy - y * vx) / area, (ux * y - uy * x) / area
        inside = min(of_a, of_b, 1.0 - of_a - of_b)
        if inside > best:
            best, found = inside, j
            z = height[target] + of_a * (height[a] - height[target]) + of_b * (height[b] - height[target])
    return found, z


@kernel
def _thin(plane, height, lowest, highest, kind, stays, order, triangles, alive, steepest):  # type: ignore[no-untyped-def]
    """Collapse nodes onto neighbours in passes; corners and lost nodes are kept in linked lists."""
    nodes, count = plane.shape[0], triangles.shape[0]
    corner_of, next_corner = np.full(nodes, -1, np.int32), np.full(3 * count, -1, np.int32)
    lost_on, next_lost = np.full(count, -1, np.int32), np.full(nodes, -1, np.int32)
    for c in range(3 * count):
        v = triangles[c // 3, c % 3]
        next_corner[c] = corner_of[v]
        corner_of[v] = c
    gone = stays.copy()
    around, ring = np.empty(_MOST_AROUND, np.int32), np.empty((_MOST_AROUND, 2), np.int32)
    members, under = np.empty(_MOST_MEMBERS, np.int32), np.empty(_MOST_MEMBERS, np.int32)
    for _ in range(_PASSES):
        removed = 0
        for v in order:
            if gone[v]:
                continue
            n = _around(v, triangles, alive, corner_of, next_corner, around, ring)
            m = _lost_around(v, n, around, lost_on, next_lost, members)
            if n < 3 or m < 0:
                continue
            target = _target(plane, height, lowest, highest, kind, steepest, ring, n, members, m, under)
            if target < 0:
                continue
            _collapse(v, target, n, around, ring, triangles, alive, corner_of, next_corner)
            for j in range(n):
                lost_on[around[j]] = -1
            for i in range(m):
                side = around[under[i]]
                next_lost[members[i]] = lost_on[side]
                lost_on[side] = members[i]
            gone[v] = True
            removed += 1
        if removed < _WORTH_A_PASS * len(order):
            break


@kernel
def _around(v, triangles, alive, corner_of, next_corner, around, ring):  # type: ignore[no-untyped-def]
    """Living triangles at a node and the sides across from it; -1 if there are too many."""
    n, c, before = 0, corner_of[v], -1
    while c >= 0:
        t, k = c // 3, c % 3
        after = next_corner[c]
        if not alive[t]:
            if before < 0:
                corner_of[v] = after
            else:
                next_corner[before] = after
        else:
            if n == _MOST_AROUND:
                return -1
            around[n] = t
            ring[n, 0], ring[n, 1] = triangles[t, (k + 1) % 3], triangles[t, (k + 2) % 3]
            n += 1
            before = c
        c = after
    return n


@kernel
def _lost_around(v, n, around, lost_on, next_lost, members):  # type: ignore[no-untyped-def]
    """A node and the lost nodes upon its triangles; -1 if there are too many."""
    members[0] = v
    m = 1
    for j in range(n):
        p = lost_on[around[j]]
        while p >= 0:
            if m == _MOST_MEMBERS:
                return -1
            members[m] = p
            m += 1
            p = next_lost[p]
    return m


@kernel
def _target(plane, height, lowest, highest, kind, steepest, ring, n, members, m, under):  # type: ignore[no-untyped-def]
    """The neighbour onto which a node may be moved, with the best shapes; -1 if none. Fills `under`."""
    chosen, best = -1, 0.0
    trial = np.empty(m, np.int32)
    for j in range(n):
        target = ring[j, 0]
        shape = _worst_shape(plane, height, kind, steepest, target, ring, n)
        if shape <= best:
            continue
        fits = True
        for i in range(m):
            p = members[i]
            side, z = _side_under(plane, height, target, ring, n, plane[p, 0], plane[p, 1])
            if side < 0 or z < lowest[p] or z > highest[p]:
                fits = False
                break
            trial[i] = side
        if fits:
            chosen, best = target, shape
            under[:m] = trial
    return chosen


@kernel
def _collapse(v, target, n, around, ring, triangles, alive, corner_of, next_corner):  # type: ignore[no-untyped-def]
    """Move a node onto a neighbour: triangles at both go, the others change a corner."""
    for j in range(n):
        t = around[j]
        if target in (ring[j, 0], ring[j, 1]):
            alive[t] = False
            continue
        for k in range(3):
            if triangles[t, k] == v:
                triangles[t, k] = target
                next_corner[3 * t + k] = corner_of[target]
                corner_of[target] = 3 * t + k
