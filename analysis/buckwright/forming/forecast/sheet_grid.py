"""The flat sheet in its clamp frame as triangles: a triangular lattice fitted to the frame."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import Delaunay

from buckwright.errors import InputError
from buckwright.kernel import kernel

__all__ = ["SheetGrid", "disc", "place_in_frame", "rectangle", "sheet_grid"]

_CLEAR = 0.55  # lattice points closer to the frame than this share of the cell make slivers: left out
_LEAST_HEIGHT = 0.05  # triangles flatter than this share of the cell lie along the frame: left out


@dataclass(frozen=True, slots=True, eq=False)
class SheetGrid:
    """Nodes and triangles of the unstretched sheet.

    Attributes
    ----------
    nodes : (N, 2) float64, mm, in the plane of the frame
    triangles : (T, 3) int32, anticlockwise
    clamped : (N,) bool, nodes in the frame
    mirror : (N, 2) bool, whether a node may not move along x, along y: planes of symmetry
    cell_mm : side of a lattice triangle; of the smallest ones where some have been split
    outline : (P, 2) float64, mm, the frame, anticlockwise, not closed
    """

    nodes: NDArray[np.float64]
    triangles: NDArray[np.int32]
    clamped: NDArray[np.bool_]
    mirror: NDArray[np.bool_]
    cell_mm: float
    outline: NDArray[np.float64]

    @property
    def area_mm2(self) -> NDArray[np.float64]:
        """Area of each triangle, (T,)."""
        a, b, c = (self.nodes[self.triangles[:, k]] for k in range(3))
        return np.asarray(0.5 * _cross(b - a, c - a))

    @property
    def cells_mm(self) -> NDArray[np.float64]:
        """Length of cell around each node, (N,): side of an equilateral triangle of the mean area."""
        corners, count = self.triangles.ravel(), len(self.nodes)
        total = np.bincount(corners, np.repeat(self.area_mm2, 3), count)
        return np.asarray(np.sqrt(4.0 / math.sqrt(3.0) * total / np.bincount(corners, minlength=count)))


def rectangle(width_mm: float, depth_mm: float) -> NDArray[np.float64]:
    """Corners of a rectangular frame centred on the origin.

    Parameters
    ----------
    width_mm, depth_mm : sides along x and y, > 0

    Returns
    -------
    (4, 2) float64, mm, anticlockwise

    Examples
    --------
    >>> rectangle(40.0, 20.0).tolist()
    [[-20.0, -10.0], [20.0, -10.0], [20.0, 10.0], [-20.0, 10.0]]
    """
    return 0.5 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [width_mm, depth_mm]


def disc(radius_mm: float, *, corners: int = 360) -> NDArray[np.float64]:
    """A round frame as a polygon of the same area, centred on the origin.

    Parameters
    ----------
    radius_mm : > 0
    corners : of the polygon, >= 3

    Returns
    -------
    (corners, 2) float64, mm, anticlockwise
    """
    angle = 2.0 * np.pi * np.arange(corners) / corners
    equal_area = math.sqrt(2.0 * np.pi / corners / math.sin(2.0 * np.pi / corners))
    return radius_mm * equal_area * np.stack([np.cos(angle), np.sin(angle)], axis=1)


def sheet_grid(
    outline: ArrayLike,
    *,
    nodes: int = 20_000,
    turn_deg: float = 0.0,
    mirror_sides: str = "",
) -> SheetGrid:
    """Fill a frame with about `nodes` nodes.

    Parameters
    ----------
    outline : (P, 2) corners of the frame in order around it, P >= 3, mm
    nodes : wanted number of nodes, 50 to 1,000,000
    turn_deg : rotation of the lattice; for judging how much a result depends on it
    mirror_sides : of 'x' and 'y': the outermost sides across that axis are planes of symmetry instead of
        clamps (their nodes slide in the plane)

    Returns
    -------
    SheetGrid

    Raises
    ------
    InputError
        The outline encloses no area or has fewer than three finite corners, or the number is out of range.

    Notes
    -----
    Equilateral triangles are the most even choice: no direction of the sheet is stiffer than another. The
    frame gets nodes of its own at the same spacing and Delaunay triangulation joins both.
    """
    if not 50 <= nodes <= 1_000_000:
        raise InputError(f"a sheet must have between 50 and 1,000,000 nodes, got {nodes}")
    corners = _checked(outline)
    area = _area(corners)
    cell = math.sqrt(area / (nodes * 0.5 * math.sqrt(3.0)))
    rim = _along(corners, cell)
    inner = _lattice(corners, cell, turn_deg)
    inside, away = place_in_frame(corners, inner)
    points = np.concatenate([rim, inner[inside & (away > _CLEAR * cell)]])
    triangles = _triangles(points, corners, cell)
    used = np.unique(triangles)
    number = np.full(len(points), -1, np.int32)
    number[used] = np.arange(len(used), dtype=np.int32)
    on_rim = np.arange(len(points)) < len(rim)
    points, on_rim = points[used], on_rim[used]
    mirror = np.zeros((len(points), 2), np.bool_)
    for axis, name in enumerate("xy"):
        if name in mirror_sides:
            ends = (points[:, axis].min(), points[:, axis].max())
            mirror[:, axis] = on_rim & np.isclose(points[:, axis, None], ends, rtol=0, atol=1e-9).any(1)
    clamped = on_rim & (~mirror.any(1) | _clamped_ends(points, mirror))
    return SheetGrid(points, number[triangles], clamped, mirror, cell, corners)


def _clamped_ends(points: NDArray[np.float64], mirror: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """In a frame with one pair of mirrors the corners are held by the other pair of sides."""
    if mirror.any(0).sum() != 1:
        return np.zeros(len(points), np.bool_)
    across = points[:, 0 if mirror[:, 1].any() else 1]
    return np.isclose(across[:, None], (across.min(), across.max()), rtol=0, atol=1e-9).any(1)


def _cross(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def _area(corners: NDArray[np.float64]) -> float:
    return float(0.5 * _cross(corners, np.roll(corners, -1, axis=0)).sum())


def _checked(outline: ArrayLike) -> NDArray[np.float64]:
    corners = np.asarray(outline, np.float64)
    if corners.ndim != 2 or corners.shape[1] != 2 or len(corners) < 3 or not np.isfinite(corners).all():
        raise InputError("the frame must be given by at least three corners (x, y) in mm")
    if np.allclose(corners[0], corners[-1]):
        corners = corners[:-1]
    if not abs(_area(corners)) > 1e-6:
        raise InputError("the frame encloses no area")
    return corners if _area(corners) > 0.0 else corners[::-1].copy()


def _along(corners: NDArray[np.float64], cell: float) -> NDArray[np.float64]:
    """Points along the frame, at the sharper corners and about a cell apart between them."""
    before, after = corners - np.roll(corners, 1, axis=0), np.roll(corners, -1, axis=0) - corners
    turn = np.abs(np.arctan2(_cross(before, after), (before * after).sum(1)))
    sharp = np.flatnonzero(turn > np.radians(20.0))
    start = int(sharp[0]) if len(sharp) else 0
    ring = np.roll(corners, -start, axis=0)
    closed = np.concatenate([ring, ring[:1]])
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    stops = np.append(length[(sharp - start) % len(corners)] if len(sharp) else [0.0], length[-1])
    places = [
        np.linspace(a, b, max(round((b - a) / cell), 1), endpoint=False)
        for a, b in zip(np.sort(stops)[:-1], np.sort(stops)[1:], strict=True)
    ]
    s = np.concatenate(places)
    return np.stack([np.interp(s, length, closed[:, k]) for k in range(2)], axis=1)


def _lattice(corners: NDArray[np.float64], cell: float, turn_deg: float) -> NDArray[np.float64]:
    middle = 0.5 * (corners.min(0) + corners.max(0))
    reach = 0.5 * float(np.hypot(*np.ptp(corners, axis=0)))
    rows = math.ceil(reach / (0.5 * math.sqrt(3.0) * cell)) + 1
    columns = math.ceil(reach / cell) + 1
    j, i = np.mgrid[-rows : rows + 1, -columns : columns + 1]
    points = np.stack([(i + 0.5 * (j % 2)) * cell, j * 0.5 * math.sqrt(3.0) * cell], axis=-1).reshape(-1, 2)
    angle = np.radians(turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return np.asarray(points @ turn.T + middle)


@kernel
def _place(corners, points, inside, away):  # type: ignore[no-untyped-def]
    """Even-odd rule, and distance to the frame."""
    count = corners.shape[0]
    for n in range(points.shape[0]):
        x, y, nearest, odd = points[n, 0], points[n, 1], np.inf, False
        for k in range(count):
            ax, ay = corners[k, 0], corners[k, 1]
            bx, by = corners[(k + 1) % count, 0], corners[(k + 1) % count, 1]
            if (ay <= y) != (by <= y) and x < ax + (y - ay) * ((bx - ax) / (by - ay)):
                odd = not odd
            ux, uy = bx - ax, by - ay
            t = min(max(((x - ax) * ux + (y - ay) * uy) / max(ux * ux + uy * uy, 1e-300), 0.0), 1.0)
            nearest = min(nearest, np.hypot(x - ax - t * ux, y - ay - t * uy))
        inside[n] = odd
        away[n] = nearest


def place_in_frame(
    outline: NDArray[np.float64], points: NDArray[np.float64]
) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """Whether points lie in a frame, and how far they are from it.

    Parameters
    ----------
    outline : (P, 2) float64, mm
    points : (N, 2) float64, mm

    Returns
    -------
    (N,) bool, (N,) float64 : inside (even-odd rule), and distance to the outline, mm, >= 0
    """
    inside, away = np.zeros(len(points), np.bool_), np.zeros(len(points))
    _place(outline, np.ascontiguousarray(points, np.float64), inside, away)
    return inside, away


def _triangles(points: NDArray[np.float64], corners: NDArray[np.float64], cell: float) -> NDArray[np.int32]:
    triangles = Delaunay(points).simplices.astype(np.int32)
    a, b, c = (points[triangles[:, k]] for k in range(3))
    double = _cross(b - a, c - a)
    triangles[double < 0.0] = triangles[double < 0.0][:, [0, 2, 1]]
    longest = np.maximum(
        np.maximum(*(((p - q) ** 2).sum(1) for p, q in ((a, b), (b, c)))), ((c - a) ** 2).sum(1)
    )
    sound = np.abs(double) > _LEAST_HEIGHT * cell * np.sqrt(longest)
    inside, _ = place_in_frame(corners, (a + b + c) / 3.0)
    kept = triangles[sound & inside]
    # neighbours next to each other in memory: passes over the triangles then take a third less time
    return np.ascontiguousarray(kept[np.argsort(kept.min(1), kind="stable")])
