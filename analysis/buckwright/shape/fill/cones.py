"""The upper envelope of draft cones that stand on segments of a rim.

The sheet releases from a rim point p when nothing beside it is lower than z_p - |x - p| / tan(draft).
The fill is the upper envelope of these cones; here it is evaluated exactly at any point of the plane.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import in_parts, kernel

__all__ = ["ConeField", "rising"]

_LEAF = 4
_WORTH_A_THREAD = 1 << 14  # points


@kernel
def _segment_value(seg, s, px, py, k):  # type: ignore[no-untyped-def]
    """Largest z - k * plan distance over one segment; the best point along it in closed form."""
    x0, y0, z0 = seg[s, 0], seg[s, 1], seg[s, 2]
    dx, dy, dz = seg[s, 3] - x0, seg[s, 4] - y0, seg[s, 5] - z0
    length = np.sqrt(dx * dx + dy * dy)
    if length == 0.0:
        return max(z0, seg[s, 5]) - k * np.sqrt((px - x0) ** 2 + (py - y0) ** 2)
    along = ((px - x0) * dx + (py - y0) * dy) / length
    beside = abs((px - x0) * dy - (py - y0) * dx) / length
    slope = dz / length
    if slope >= k:
        best = length
    elif slope <= -k:
        best = 0.0
    else:
        best = along + beside * slope / np.sqrt(k * k - slope * slope)
        best = min(max(best, 0.0), length)
    return z0 + slope * best - k * np.sqrt((along - best) ** 2 + beside * beside)


@kernel
def _box_bound(box, node, px, py, k):  # type: ignore[no-untyped-def]
    dx = max(box[node, 0] - px, px - box[node, 1], 0.0)
    dy = max(box[node, 2] - py, py - box[node, 3], 0.0)
    return box[node, 4] - k * np.sqrt(dx * dx + dy * dy)


@kernel
def _climb(seg, box, first_leaf, px, py, k, best, chosen, stack, any_will_do):  # type: ignore[no-untyped-def]
    """Search the tree from the root, the more promising child first; whether the first better one will do."""
    top = 0
    stack[0] = 0
    while top >= 0:
        node = stack[top]
        top -= 1
        if _box_bound(box, node, px, py, k) <= best:
            continue
        if node >= first_leaf:
            begin = (node - first_leaf) * _LEAF
            for s in range(begin, min(begin + _LEAF, seg.shape[0])):
                height = _segment_value(seg, s, px, py, k)
                if height > best:
                    best = height
                    chosen = s
                    if any_will_do:
                        return best, chosen
            continue
        left = 2 * node + 1
        swap = _box_bound(box, left, px, py, k) > _box_bound(box, left + 1, px, py, k)
        stack[top + 1] = left + 1 if swap else left
        stack[top + 2] = left if swap else left + 1
        top += 2
    return best, chosen


@kernel
def _evaluate(seg, box, first_leaf, points, k, start, value, source):  # type: ignore[no-untyped-def]
    """Best segment for each point; the source of the previous point is tried first."""
    stack = np.empty(128, np.int64)
    previous = -1
    for n in range(points.shape[0]):
        px, py = points[n, 0], points[n, 1]
        best = start[n]
        chosen = -1
        if previous >= 0:
            height = _segment_value(seg, previous, px, py, k)
            if height > best:
                best = height
                chosen = previous
        best, chosen = _climb(seg, box, first_leaf, px, py, k, best, chosen, stack, False)
        value[n] = best
        source[n] = chosen
        previous = chosen


@kernel
def rising(tree, px, py, floor, likely, stack):  # type: ignore[no-untyped-def]
    """A segment whose cone rises over a height at a point, or -1.

    Parameters
    ----------
    tree : see `ConeField.tree`
    px, py, floor : the point and the height
    likely : a segment that is tried first, or -1
    stack : (128,) int64, room to work in
    """
    seg, box, first_leaf, k = tree
    if likely >= 0 and _segment_value(seg, likely, px, py, k) > floor:
        return likely
    return _climb(seg, box, first_leaf, px, py, k, floor, -1, stack, True)[1]


def _morton(points: NDArray[np.float64]) -> NDArray[np.uint64]:
    """Interleaved bits of x and y, so that neighbours in the order are neighbours in the plane."""
    low = points.min(axis=0)
    span = max(float((points.max(axis=0) - low).max()), 1e-12)
    whole = ((points - low) * (65535.0 / span)).astype(np.uint64)
    for shift, mask in ((8, 0x00FF00FF), (4, 0x0F0F0F0F), (2, 0x33333333), (1, 0x55555555)):
        whole = (whole | (whole << np.uint64(shift))) & np.uint64(mask)
    code: NDArray[np.uint64] = whole[:, 0] | (whole[:, 1] << np.uint64(1))
    return code


def _boxes(segments: NDArray[np.float64]) -> tuple[NDArray[np.float64], int]:
    """Binary tree of boxes over consecutive leaves: x low/high, y low/high, greatest z."""
    leaves = -(-len(segments) // _LEAF)
    width = 1 << max(leaves - 1, 0).bit_length()
    box = np.empty((2 * width - 1, 5))
    box[:] = (np.inf, -np.inf, np.inf, -np.inf, -np.inf)
    pad = np.full((width * _LEAF - len(segments), 5), (np.inf, -np.inf, np.inf, -np.inf, -np.inf))
    x, y, z = segments[:, [0, 3]], segments[:, [1, 4]], segments[:, [2, 5]]
    each = np.stack([x.min(1), x.max(1), y.min(1), y.max(1), z.max(1)], axis=1)
    level = np.concatenate([each, pad]).reshape(width, _LEAF, 5)
    level = np.concatenate([level[..., [0, 2]].min(1), level[..., [1, 3, 4]].max(1)], axis=1)[
        :, [0, 2, 1, 3, 4]
    ]
    at = width - 1
    box[at : at + width] = level
    while width > 1:
        pairs = level.reshape(width // 2, 2, 5)
        level = np.concatenate([pairs[..., [0, 2]].min(1), pairs[..., [1, 3, 4]].max(1)], axis=1)[
            :, [0, 2, 1, 3, 4]
        ]
        width //= 2
        at = width - 1
        box[at : at + width] = level
    return box, len(box) // 2


@dataclass(frozen=True, slots=True, eq=False, init=False)
class ConeField:
    """Rim segments in a tree of boxes, ready to be evaluated.

    Attributes
    ----------
    segments : (S, 6) float64, x0 y0 z0 x1 y1 z1, mm, in the order of the tree
    order : (S,) int64, index of each segment in the array that was passed in
    steepness : 1 / tan(draft), height lost per unit of plan distance
    """

    segments: NDArray[np.float64]
    order: NDArray[np.int64]
    steepness: float
    _box: NDArray[np.float64]
    _first_leaf: int

    def __init__(self, segments: NDArray[np.float64], *, draft_deg: float) -> None:
        middle = (segments[:, :2] + segments[:, 3:5]) * 0.5
        order = np.argsort(_morton(middle), kind="stable") if len(segments) else np.zeros(0, np.int64)
        placed = np.ascontiguousarray(segments[order])
        box, first_leaf = _boxes(placed)
        for name, value in {
            "segments": placed,
            "order": order,
            "steepness": float(1.0 / np.tan(np.radians(draft_deg))),
            "_box": box,
            "_first_leaf": first_leaf,
        }.items():
            object.__setattr__(self, name, value)

    @property
    def tree(self) -> tuple[Any, ...]:
        """What a kernel needs to ask for itself: segments, boxes, first leaf, steepness."""
        return self.segments, self._box, self._first_leaf, self.steepness

    def evaluate(
        self, points_xy: NDArray[np.float64], *, at_least: NDArray[np.float64] | None = None
    ) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
        """Height of the envelope and the segment that sets it.

        Parameters
        ----------
        points_xy : (N, 2 or more) float64, mm
        at_least : (N,) float64, mm, a height to beat; none by default

        Returns
        -------
        (N,) float64, (N,) int64 : height, mm, and index into `segments`; where no cone rises above
        `at_least`, that height and -1

        Notes
        -----
        Exact to rounding; about log(S) box tests per point when neighbouring points follow each other.
        """
        points = np.ascontiguousarray(points_xy[:, :2], dtype=np.float64)
        start = np.full(len(points), -np.inf) if at_least is None else np.array(at_least, np.float64)
        if not len(self.segments):
            return start, np.full(len(points), -1, np.int64)
        value = np.empty(len(points))
        source = np.empty(len(points), np.int64)
        tree = (self.segments, self._box, self._first_leaf)

        def work(begin: int, end: int) -> None:
            part = slice(begin, end)
            _evaluate(*tree, points[part], self.steepness, start[part], value[part], source[part])

        in_parts(work, len(points), least=_WORTH_A_THREAD)
        return value, source
