"""Where a surface crosses itself: pairs of triangles that pass through each other."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import in_parts, kernel
from buckwright.mesh.triangles import Mesh

__all__ = ["Crossings", "find_crossings"]

_LEAF = 4  # triangles in one box of the tree; 2..8 differ little in time
_LEAVES_A_THREAD = 4096


@dataclass(frozen=True, slots=True, eq=False)
class Crossings:
    """Pairs of crossing faces.

    Attributes
    ----------
    pairs : (K, 2) int32, lower face first, at most `limit` of them
    depth_mm : (K,) float64, how far the two faces pass through each other, mm
    count : all pairs found, including those past the limit
    deeper_than_mm : shallower crossings were not counted
    """

    pairs: NDArray[np.int32]
    depth_mm: NDArray[np.float64]
    count: int
    deeper_than_mm: float


def find_crossings(mesh: Mesh, *, deeper_than_mm: float = 1e-6, limit: int = 1_000_000) -> Crossings:
    """Find every pair of faces that pass through each other.

    Parameters
    ----------
    mesh : finite coordinates, closed or not
    deeper_than_mm : >= 0; the default is below the rounding of single-precision files, far above that of
        float64
    limit : number of pairs kept; all are counted

    Returns
    -------
    Crossings

    Notes
    -----
    Two faces cross where each has corners on both sides of the plane of the other and the two intervals in
    which they cut the line common to both planes overlap (the interval test of T. Moeller, A Fast
    Triangle-Triangle Intersection Test, Journal of Graphics Tools 2(2), 1997). Depth is the least of the four
    heights over the planes and the length of that overlap. Corners at equal coordinates are a contact, not a
    crossing: faces that share one corner cross only away from it, faces that share two are neighbours. Faces
    in one plane do not cross, nor do faces without area.

    Faces are sorted along a Morton curve and every leaf of a complete binary box tree queries the tree for
    later leaves that overlap it: O(F log F). Signs are those of float64 heights, wrong only within about
    1e-15 of the size of the mesh.
    """
    if mesh.face_count < 2:
        return Crossings(np.zeros((0, 2), np.int32), np.zeros(0), 0, deeper_than_mm)
    corners, order = _along_morton_curve(mesh)
    own = _face_boxes(corners)
    pairs, depth, count = _all_pairs(corners, own, deeper_than_mm, limit)
    pairs = np.sort(order[pairs], axis=1)
    rank = np.lexsort((pairs[:, 1], pairs[:, 0]))
    return Crossings(pairs[rank].astype(np.int32), depth[rank], int(count), deeper_than_mm)


def _all_pairs(
    corners: NDArray[np.float64], own: NDArray[np.float64], deeper_than: float, limit: int
) -> tuple[NDArray[np.int64], NDArray[np.float64], int]:
    """Pairs of positions along the curve, at most `limit`, with their depths, and how many there are."""
    boxes = _box_tree(own)
    found = {}

    def work(begin: int, end: int) -> None:
        found[begin] = _self_query(corners, own, boxes, begin, end, deeper_than, limit)

    in_parts(work, -(-len(corners) // _LEAF), least=_LEAVES_A_THREAD)
    pairs, depths, counts = zip(*(found[begin] for begin in sorted(found)), strict=True)
    return np.concatenate(pairs)[:limit], np.concatenate(depths)[:limit], sum(counts)


def _along_morton_curve(mesh: Mesh) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Corners of the faces in the order of a Morton curve through their centres (21 bits an axis)."""
    faces = mesh.faces
    centres = (mesh.vertices[faces[:, 0]] + mesh.vertices[faces[:, 1]] + mesh.vertices[faces[:, 2]]) / 3.0
    low = centres.min(axis=0)
    span = float((centres.max(axis=0) - low).max()) or 1.0
    code = np.zeros(len(faces), np.uint64)
    for axis in range(3):
        bits = ((centres[:, axis] - low[axis]) * ((2**21 - 1) / span)).astype(np.uint64)
        for shift, mask in _SPREAD:
            bits = (bits | (bits << np.uint64(shift))) & np.uint64(mask)
        code |= bits << np.uint64(axis)
    order = np.argsort(code)
    return mesh.vertices[faces[order]], order


#: Spreads 21 bits to every third bit.
_SPREAD = (
    (32, 0x001F00000000FFFF),
    (16, 0x001F0000FF0000FF),
    (8, 0x100F00F00F00F00F),
    (4, 0x10C30C30C30C30C3),
    (2, 0x1249249249249249),
)


@kernel
def _face_boxes(corners: Any) -> Any:
    own = np.empty((len(corners), 6))
    for f in range(len(corners)):
        for axis in range(3):
            a, b, c = corners[f, 0, axis], corners[f, 1, axis], corners[f, 2, axis]
            own[f, axis] = min(a, b, c)
            own[f, axis + 3] = max(a, b, c)
    return own


@kernel
def _box_tree(own: Any) -> Any:
    """Boxes (low x, y, z, high x, y, z) of a complete binary tree in heap order; empty ones inside out."""
    leaves = 1
    while leaves * _LEAF < len(own):
        leaves *= 2
    boxes = np.empty((2 * leaves, 6))
    boxes[:, :3] = np.inf
    boxes[:, 3:] = -np.inf
    for f in range(len(own)):
        node = leaves + f // _LEAF
        for axis in range(3):
            boxes[node, axis] = min(boxes[node, axis], own[f, axis])
            boxes[node, axis + 3] = max(boxes[node, axis + 3], own[f, axis + 3])
    for node in range(leaves - 1, 0, -1):
        for axis in range(3):
            boxes[node, axis] = min(boxes[2 * node, axis], boxes[2 * node + 1, axis])
            boxes[node, axis + 3] = max(boxes[2 * node, axis + 3], boxes[2 * node + 1, axis + 3])
    return boxes


@kernel
def _self_query(
    corners: Any, own: Any, boxes: Any, begin: int, end: int, deeper_than: float, limit: int
) -> Any:
    """Leaves from `begin` up to `end` against themselves and the later leaves that they overlap."""
    leaves = len(boxes) // 2
    total = len(corners)
    pairs = np.empty((1024, 2), np.int64)
    depths = np.empty(1024)
    count = 0
    near = np.empty(leaves, np.int64)
    for leaf in range(begin, end):
        for n in range(_later_leaves(boxes, leaf, near)):
            for f in range(leaf * _LEAF, min(total, (leaf + 1) * _LEAF)):
                if not _overlap(own, f, boxes, near[n] + leaves):
                    continue
                for g in range(max(f + 1, near[n] * _LEAF), min(total, (near[n] + 1) * _LEAF)):
                    if not _overlap(own, f, own, g):
                        continue
                    depth = _crossing_depth(corners, f, g)
                    if depth <= deeper_than:
                        continue
                    if count < limit:
                        if count == len(pairs):
                            pairs, depths = _longer(pairs, depths)
                        pairs[count, 0] = f
                        pairs[count, 1] = g
                        depths[count] = depth
                    count += 1
    return pairs[: min(count, limit)], depths[: min(count, limit)], count


@kernel
def _longer(pairs: Any, depths: Any) -> Any:
    """Twice the room; entry by entry, since `np.concatenate` takes a second to compile."""
    count = len(pairs)
    more, deeper = np.empty((2 * count, 2), np.int64), np.empty(2 * count)
    for n in range(count):
        more[n, 0], more[n, 1], deeper[n] = pairs[n, 0], pairs[n, 1], depths[n]
    return more, deeper


@kernel
def _later_leaves(boxes: Any, leaf: int, near: Any) -> int:
    """Leaves from `leaf` on whose box overlaps its box: climb, and descend into every right-hand sibling."""
    leaves = len(boxes) // 2
    own = leaves + leaf
    near[0] = leaf
    count = 1
    stack = np.empty(64, np.int64)
    node = own
    while node > 1:
        if node % 2 == 0 and _overlap(boxes, own, boxes, node + 1):
            stack[0] = node + 1
            top = 1
            while top:
                top -= 1
                below = stack[top]
                if below >= leaves:
                    near[count] = below - leaves
                    count += 1
                    continue
                for child in (2 * below, 2 * below + 1):
                    if _overlap(boxes, own, boxes, child):
                        stack[top] = child
                        top += 1
        node //= 2
    return count


@kernel
def _overlap(a: Any, i: int, b: Any, j: int) -> bool:
    """Whether box `i` of `a` and box `j` of `b` meet."""
    return bool(
        a[i, 0] <= b[j, 3]
        and b[j, 0] <= a[i, 3]
        and a[i, 1] <= b[j, 4]
        and b[j, 1] <= a[i, 4]
        and a[i, 2] <= b[j, 5]
        and b[j, 2] <= a[i, 5]
    )


@kernel
def _crossing_depth(corners: Any, f: int, g: int) -> float:
    """How far two faces pass through each other; -1 where they do not cross."""
    f_shared, g_shared, shared = -1, -1, 0
    for i in range(3):
        for j in range(3):
            if (
                corners[f, i, 0] == corners[g, j, 0]
                and corners[f, i, 1] == corners[g, j, 1]
                and corners[f, i, 2] == corners[g, j, 2]
            ):
                f_shared, g_shared, shared = i, j, shared + 1
    if shared > 1:
        return -1.0
    # everything is measured from the shared corner, so that it lies exactly in both planes
    ox, oy, oz = (
        corners[g, max(g_shared, 0), 0],
        corners[g, max(g_shared, 0), 1],
        corners[g, max(g_shared, 0), 2],
    )
    gx, gy, gz = _unit_normal(corners, g)
    f_heights = _heights(corners, f, f_shared, gx, gy, gz, ox, oy, oz)
    f_depth = _straddle(f_heights)
    if f_depth <= 0.0:
        return -1.0
    fx, fy, fz = _unit_normal(corners, f)
    k = max(f_shared, 0)
    g_heights = _heights(
        corners, g, g_shared, fx, fy, fz, corners[f, k, 0], corners[f, k, 1], corners[f, k, 2]
    )
    g_depth = _straddle(g_heights)
    if g_depth <= 0.0:
        return -1.0
    lx, ly, lz = fy * gz - fz * gy, fz * gx - fx * gz, fx * gy - fy * gx
    length = np.sqrt(lx * lx + ly * ly + lz * lz)
    if length == 0.0:
        return -1.0
    lx, ly, lz = lx / length, ly / length, lz / length
    f_low, f_high = _stretch(_heights(corners, f, f_shared, lx, ly, lz, ox, oy, oz), f_heights)
    g_low, g_high = _stretch(_heights(corners, g, g_shared, lx, ly, lz, ox, oy, oz), g_heights)
    common = min(f_high, g_high) - max(f_low, g_low)
    return float(min(f_depth, g_depth, common)) if common > 0.0 else -1.0


@kernel
def _unit_normal(corners: Any, f: int) -> Any:
    ux, uy, uz = (
        corners[f, 1, 0] - corners[f, 0, 0],
        corners[f, 1, 1] - corners[f, 0, 1],
        corners[f, 1, 2] - corners[f, 0, 2],
    )
    vx, vy, vz = (
        corners[f, 2, 0] - corners[f, 0, 0],
        corners[f, 2, 1] - corners[f, 0, 1],
        corners[f, 2, 2] - corners[f, 0, 2],
    )
    nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    length = np.sqrt(nx * nx + ny * ny + nz * nz)
    if length == 0.0:
        return 0.0, 0.0, 0.0
    return nx / length, ny / length, nz / length


@kernel
def _heights(
    corners: Any, f: int, shared: int, nx: float, ny: float, nz: float, ox: float, oy: float, oz: float
) -> Any:
    """Coordinates of the three corners along n, from the origin o; exactly 0 at the shared corner."""
    a = nx * (corners[f, 0, 0] - ox) + ny * (corners[f, 0, 1] - oy) + nz * (corners[f, 0, 2] - oz)
    b = nx * (corners[f, 1, 0] - ox) + ny * (corners[f, 1, 1] - oy) + nz * (corners[f, 1, 2] - oz)
    c = nx * (corners[f, 2, 0] - ox) + ny * (corners[f, 2, 1] - oy) + nz * (corners[f, 2, 2] - oz)
    return (0.0 if shared == 0 else a, 0.0 if shared == 1 else b, 0.0 if shared == 2 else c)


@kernel
def _straddle(heights: Any) -> float:
    """How far the corners reach to the smaller side of a plane; <= 0 where all are on one side."""
    a, b, c = heights
    return float(min(max(a, b, c), -min(a, b, c)))


@kernel
def _stretch(along: Any, heights: Any) -> Any:
    """Interval in which a face cuts a plane, from its corners along the line and their heights."""
    low, high = np.inf, -np.inf
    for i in range(3):
        j = (i + 1) % 3
        if heights[i] == 0.0:
            low, high = min(low, along[i]), max(high, along[i])
        elif heights[i] * heights[j] < 0.0:
            t = heights[i] / (heights[i] - heights[j])
            p = along[i] + t * (along[j] - along[i])
            low, high = min(low, p), max(high, p)
    return low, high
