"""How far the sheet must move sideways to clear what stands above a trapped face."""

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import in_parts, kernel
from buckwright.mesh.splitting import faces_over
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.relief.openings import nearest_openings
from buckwright.relief.raster import Relief
from buckwright.survey.undercut import Reach

__all__ = ["sideways_mm"]

_DIRECTIONS = 16
_RINGS_PX = (0.005, 0.02, 0.05, 0.1, 0.2, 0.3, 0.45, 0.6, 0.8, 1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0)
_HALVINGS = 5
_NEAR_CORNER = 0.98
"""Share of the way from the middle of a face to its corner: still on the face, under what covers it."""


def sideways_mm(
    mesh: Mesh,
    reach: Reach,
    columns: Columns,
    relief: Relief,
    *,
    refine_px: float = 3.0,
    give_mm: float = 0.0,
    corners_over_mm: float = np.inf,
) -> NDArray[np.float64]:
    """Smallest sideways movement after which each covered face could lift freely.

    Parameters
    ----------
    mesh : the sculpt in the pull frame
    reach : from `find_trapped`, of this mesh
    columns, relief : of this mesh; the relief must contain all of it
    refine_px : results up to this many pixels are settled by exact columns instead of pixels, 0..3
    give_mm : what stands above a face by no more than this is passed without moving, >= 0; without some give,
        a scratch at the bottom of a groove has no open sky at its own height however far one looks
    corners_over_mm : faces with a longer side are asked near their corners as well as in the middle, >= 0

    Returns
    -------
    (F,) float64, mm; 0 where nothing stands above the face. The greatest of the points asked.

    Notes
    -----
    The distance in plan from the middle of the face to the nearest place where nothing stands above the
    face's own height. It is never less than the shortest way among the places examined, because each of those
    was found open: the error is on the long side. Beside a straight rim it is less than a pixel where pixels
    decide; settled by columns (16 directions, growing rings, halved between rings) it is under 3 % of the
    distance plus .02 pixel. An opening narrower than a pixel can be missed.
    Best-first search in a pyramid of lowest heights, about a microsecond per face.
    """
    result = np.zeros(mesh.face_count)
    asked = np.flatnonzero(reach.covered & (reach.depth_mm > give_mm))
    if not len(asked):
        return result
    points, of = _points(Mesh(mesh.vertices, mesh.faces[asked]), corners_over_mm)
    points += np.array([0.0, 0.0, give_mm])
    heights, starts, widths, rows = _pyramid(relief.height)
    found = np.empty(len(points))
    place = (float(relief.origin[0]), float(relief.origin[1]), relief.pixel_mm)
    pyramid = (heights, starts, widths, rows)

    def work(begin: int, end: int) -> None:
        _nearest_open(points[begin:end], reach.slack_mm, *place, *pyramid, found[begin:end])

    in_parts(work, len(points))
    doubtful = np.flatnonzero(found <= refine_px * relief.pixel_mm)
    found[doubtful] = nearest_openings(
        points[doubtful],
        found[doubtful],
        columns,
        rings=np.array(_RINGS_PX) * relief.pixel_mm,
        directions=_DIRECTIONS,
        halvings=_HALVINGS,
    )
    np.maximum.at(result, asked[of], found)
    return result


def _points(mesh: Mesh, corners_over_mm: float) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Where the faces are asked, and the face of each point."""
    middle = mesh.centroids()
    large = np.flatnonzero(faces_over(mesh, corners_over_mm))
    corners = mesh.vertices[mesh.faces[large]]
    near = middle[large, None] + (corners - middle[large, None]) * _NEAR_CORNER
    return (
        np.concatenate([middle, near.reshape(-1, 3)]),
        np.concatenate([np.arange(len(middle)), np.repeat(large, 3)]),
    )


def _pyramid(
    height: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Lowest height in blocks of 1, 2, 4 ... pixels: flat values, start, width and rows of each level."""
    levels = [height]
    while levels[-1].size > 1:
        last = levels[-1]
        rows, columns = last.shape
        even = np.pad(last, ((0, rows % 2), (0, columns % 2)), constant_values=np.inf)
        levels.append(
            np.minimum(
                np.minimum(even[::2, ::2], even[1::2, ::2]), np.minimum(even[::2, 1::2], even[1::2, 1::2])
            )
        )
    starts = np.concatenate([[0], np.cumsum([level.size for level in levels])]).astype(np.int64)
    widths = np.array([level.shape[1] for level in levels], np.int64)
    rows_ = np.array([level.shape[0] for level in levels], np.int64)
    return np.concatenate([level.ravel() for level in levels]), starts, widths, rows_


@kernel
def _gap(u, first, last):  # type: ignore[no-untyped-def]
    """Distance of a number from a range."""
    return max(first - u, u - last, 0.0)


@kernel
def _nearest_open(points, slack, ox, oy, pixel, heights, starts, widths, rows, found):  # type: ignore[no-untyped-def]
    """Distance from each point to the nearest pixel centre, or edge of the raster, open at its height."""
    top = widths.shape[0] - 1
    stack = np.empty((4 * widths.shape[0] + 4, 3), np.int64)
    far = np.empty(stack.shape[0])
    last_i, last_j = -1, -1
    for n in range(points.shape[0]):
        u, v = (points[n, 0] - ox) / pixel - 0.5, (points[n, 1] - oy) / pixel - 0.5
        z = points[n, 2] + slack
        rim = min(u + 0.5, widths[0] - 0.5 - u, v + 0.5, rows[0] - 0.5 - v)
        best = max(rim, 0.0) ** 2
        # neighbours in the list are mostly neighbours on the sculpt: the previous answer is a good bound
        if last_i >= 0 and heights[last_j * widths[0] + last_i] <= z:
            best = min(best, (last_i - u) ** 2 + (last_j - v) ** 2)
        stack[0, 0], stack[0, 1], stack[0, 2] = top, 0, 0
        far[0] = 0.0 if heights[starts[top]] <= z else np.inf
        depth = 1
        while depth > 0:
            depth -= 1
            if far[depth] >= best:
                continue
            k, j, i = stack[depth, 0], stack[depth, 1], stack[depth, 2]
            if k == 0:
                best = far[depth]
                last_i, last_j = i, j
                continue
            k -= 1
            base = depth
            for q in range(4):
                jj, ii = 2 * j + q // 2, 2 * i + q % 2
                if jj >= rows[k] or ii >= widths[k] or heights[starts[k] + jj * widths[k] + ii] > z:
                    continue
                du = _gap(u, ii << k, min((ii + 1) << k, widths[0]) - 1.0)
                dv = _gap(v, jj << k, min((jj + 1) << k, rows[0]) - 1.0)
                distance = du * du + dv * dv
                if distance >= best:
                    continue
                # nearest on top of the stack, so that it is visited first
                slot = depth
                while slot > base and far[slot - 1] < distance:
                    far[slot] = far[slot - 1]
                    stack[slot, 0], stack[slot, 1] = stack[slot - 1, 0], stack[slot - 1, 1]
                    stack[slot, 2] = stack[slot - 1, 2]
                    slot -= 1
                far[slot] = distance
                stack[slot, 0], stack[slot, 1], stack[slot, 2] = k, jj, ii
                depth += 1
        found[n] = np.sqrt(best) * pixel
