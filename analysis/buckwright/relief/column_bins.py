"""Bins of triangles on the plane: coarse cells, each divided as finely as its own triangles require."""

import numpy as np

from buckwright.kernel import kernel

__all__ = ["LAYERS", "cell_order", "gather", "layer_order", "walk"]

LAYERS = 64
"""Layers of height, from the top down, in which a cell keeps its triangles."""
_PAD = 1e-6  # triangles reach this share of a coarse cell further, far more than rounding, so none is missed


@kernel
def gather(vertices, faces, order, corners, tops):  # type: ignore[no-untyped-def]
    """Corner coordinates and highest corner of every face, in the given order.

    Parameters
    ----------
    vertices, faces, order : (V, 3), (F, 3), (F,) the mesh, and the order of its faces
    corners, tops : (F, 9), (F,) written to
    """
    for n in range(order.shape[0]):
        f = order[n]
        for k in range(3):
            v = faces[f, k]
            corners[n, 3 * k] = vertices[v, 0]
            corners[n, 3 * k + 1] = vertices[v, 1]
            corners[n, 3 * k + 2] = vertices[v, 2]
        tops[n] = max(corners[n, 2], corners[n, 5], corners[n, 8])


@kernel
def cell_order(x, y, ox, oy, scale, columns, rows):  # type: ignore[no-untyped-def]
    """Order of points by the coarse cell that they are in (counting sort); outside points go to the rim.

    Parameters
    ----------
    x, y : (N,) places
    ox, oy, scale, columns, rows : corner of the grid, coarse cells per mm, and how many

    Returns
    -------
    (N,) int32
    """
    count = x.shape[0]
    cell = np.empty(count, np.int32)
    place = np.zeros(columns * rows + 1, np.int64)
    for n in range(count):
        u, v = (x[n] - ox) * scale, (y[n] - oy) * scale
        # a coordinate that is not a number compares false and goes to the first cell
        i = int(min(u, columns - 1.0)) if u > 0.0 else 0
        j = int(min(v, rows - 1.0)) if v > 0.0 else 0
        cell[n] = j * columns + i
        place[cell[n] + 1] += 1
    for c in range(columns * rows):
        place[c + 1] += place[c]
    order = np.empty(count, np.int32)
    for n in range(count):
        order[place[cell[n]]] = n
        place[cell[n]] += 1
    return order


@kernel
def _edge_span(px, py, qx, qy, y0, y1, low, high):  # type: ignore[no-untyped-def]
    """Widen a span of x by the part of an edge that lies between two values of y."""
    if max(py, qy) < y0 or min(py, qy) > y1:
        return low, high
    if py == qy:
        return min(low, px, qx), max(high, px, qx)
    s = min(max((y0 - py) / (qy - py), 0.0), 1.0)
    t = min(max((y1 - py) / (qy - py), 0.0), 1.0)
    x_s, x_t = px + s * (qx - px), px + t * (qx - px)
    return min(low, x_s, x_t), max(high, x_s, x_t)


@kernel
def _row_span(ax, ay, bx, by, cx, cy, y0, y1):  # type: ignore[no-untyped-def]
    """Extent in x of a triangle between two values of y."""
    low, high = _edge_span(ax, ay, bx, by, y0 - _PAD, y1 + _PAD, np.inf, -np.inf)
    low, high = _edge_span(bx, by, cx, cy, y0 - _PAD, y1 + _PAD, low, high)
    low, high = _edge_span(cx, cy, ax, ay, y0 - _PAD, y1 + _PAD, low, high)
    return low - _PAD, high + _PAD


@kernel
def walk(  # type: ignore[no-untyped-def]
    corners, order, ox, oy, scale, columns, rows, divisions, starts, counts, members, deed
):
    """Visit the cells that each triangle touches, whatever its shape and size.

    Parameters
    ----------
    corners, order : (F, 9), (F,) as from `gather` and `layer_order`
    ox, oy, scale, columns, rows : corner of the grid, coarse cells per mm, and how many
    divisions, starts : (columns * rows,) parts of a coarse cell's side, and its first divided cell
    counts, members : written to
    deed : what is done in each cell

    Notes
    -----
    `deed` 0: count by coarse cell, 1: count by divided cell, 2: enter the triangle (`counts` then
    holds the next free place of every divided cell).
    """
    for f in order:
        ax, ay = (corners[f, 0] - ox) * scale, (corners[f, 1] - oy) * scale
        bx, by = (corners[f, 3] - ox) * scale, (corners[f, 4] - oy) * scale
        cx, cy = (corners[f, 6] - ox) * scale, (corners[f, 7] - oy) * scale
        x0, x1, y0, y1 = min(ax, bx, cx), max(ax, bx, cx), min(ay, by, cy), max(ay, by, cy)
        if not (x1 - x0 < np.inf and y1 - y0 < np.inf):
            continue
        j0, j1 = int(y0), min(int(y1), rows - 1)
        slanting = int(x1) - int(x0) > 1 and j1 - j0 > 1
        for j in range(j0, j1 + 1):
            left, right = x0, x1
            if slanting:
                left, right = _row_span(ax, ay, bx, by, cx, cy, j, j + 1.0)
                left, right = max(left, x0), min(right, x1)
            for i in range(int(left), min(int(right), columns - 1) + 1):
                cell = j * columns + i
                if deed == 0:
                    counts[cell] += 1
                    continue
                n = divisions[cell]
                start = starts[cell]
                t0 = int((y0 - j) * n) if y0 > j else 0
                t1 = min(int((y1 - j) * n), n - 1) if y1 < j + 1 else n - 1
                s0 = int((x0 - i) * n) if x0 > i else 0
                s1 = min(int((x1 - i) * n), n - 1) if x1 < i + 1 else n - 1
                fine = s1 - s0 > 1 and t1 - t0 > 1
                for t in range(t0, t1 + 1):
                    p0, p1 = s0, s1
                    if fine:
                        left_, right_ = _row_span(ax, ay, bx, by, cx, cy, j + t / n, j + (t + 1.0) / n)
                        p0 = max(p0, int(max(left_ - i, 0.0) * n))
                        p1 = min(p1, int(max(right_ - i, -1.0) * n))
                    for s in range(p0, p1 + 1):
                        bin_ = start + t * n + s
                        if deed == 2:
                            members[counts[bin_]] = f
                        counts[bin_] += 1


@kernel
def layer_order(tops, high, layer_mm):  # type: ignore[no-untyped-def]
    """Order of the faces by layers of height from the top down, within a layer as they come.

    Parameters
    ----------
    tops, high, layer_mm : (F,) highest corners, the highest of all, and the thickness of a layer

    Returns
    -------
    (F,) int32
    """
    count = tops.shape[0]
    place = np.zeros(LAYERS + 2, np.int64)
    layer = np.empty(count, np.int16)
    for n in range(count):
        layer[n] = int(min(max((high - tops[n]) / layer_mm, 0.0), LAYERS))
        place[layer[n] + 1] += 1
    for k in range(LAYERS + 1):
        place[k + 1] += place[k]
    order = np.empty(count, np.int32)
    for n in range(count):
        order[place[layer[n]]] = n
        place[layer[n]] += 1
    return order
