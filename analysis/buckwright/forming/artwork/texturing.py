"""A picture laid on the part by the texture coordinates of the sculpt, as it must be on the flat sheet."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.artwork.carrying import Carried
from buckwright.kernel import kernel

__all__ = ["FAR_MM", "TextureMap", "paint_by_texture"]

FAR_MM = 2.0
"""Where the sheet lies farther from the sculpt, on fill or riser, nothing is printed: house rule."""
_AT_ONCE = 500_000  # places that are looked up together


@dataclass(frozen=True, slots=True, eq=False)
class TextureMap:
    """The sculpt's surface with its texture coordinates.

    Attributes
    ----------
    vertices : (V, 3) float64, mm, in the frame of the buck
    faces : (F, 3)
    uv : (F, 3, 2) float64, of each corner; nan where there is none
    """

    vertices: NDArray[np.float64]
    faces: NDArray[np.int64]
    uv: NDArray[np.float64]

    def at(self, places: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Texture coordinates of the nearest places of the surface.

        Parameters
        ----------
        places : (N, 3) float64, mm

        Returns
        -------
        (N, 2), (N,) : coordinates, and how far away the surface is, mm
        """
        import igl

        squared, face, nearest = igl.point_mesh_squared_distance(places, self.vertices, self.faces)
        face = np.asarray(face).ravel()
        a, b, c = np.moveaxis(self.vertices[self.faces[face]], 1, 0)
        weights = _weights(np.asarray(nearest), a, b, c)
        return np.einsum("nk,nkx->nx", weights, self.uv[face]), np.sqrt(np.asarray(squared).ravel())


def _weights(
    p: NDArray[np.float64], a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Barycentric weights (N, 3) of points in triangles."""
    one, two, off = b - a, c - a, p - a
    d11, d12, d22 = ((x * y).sum(1) for x, y in ((one, one), (one, two), (two, two)))
    e1, e2 = (off * one).sum(1), (off * two).sum(1)
    whole = np.maximum(d11 * d22 - d12 * d12, 1e-300)
    second, third = (d22 * e1 - d12 * e2) / whole, (d11 * e2 - d12 * e1) / whole
    return np.column_stack([1.0 - second - third, second, third])


def paint_by_texture(
    carried: Carried, picture: NDArray[np.uint8], texture: TextureMap, shape: tuple[int, int]
) -> NDArray[np.uint8]:
    """The picture as it must be printed so that the part shows it by its texture coordinates.

    Parameters
    ----------
    carried : the sheet, flat and formed
    picture : (h, w, 4) uint8
    texture : of the sculpt
    shape : rows and columns of the whole opening

    Returns
    -------
    (rows, columns, 4) uint8, row 0 at the back, seen from above; clear beyond the cells beside the part,
    and where the sheet lies farther than `FAR_MM` from the sculpt

    Notes
    -----
    Each pixel is carried onto the formed sheet and from there to the nearest place of the sculpt, so seams of
    the texture are as sharp as the print. Beyond its edges the picture goes on from the other side.
    """
    owner = np.full(shape, -1, np.int32)
    corners = np.ascontiguousarray(carried.pixels_of_flat(shape)[carried.triangles])
    _own(corners, np.flatnonzero(_to_paint(carried)), owner)
    rows, columns = np.nonzero(owner >= 0)
    painted = np.zeros((*shape, 4), np.uint8)
    for begin in range(0, len(rows), _AT_ONCE):
        row, column = rows[begin : begin + _AT_ONCE], columns[begin : begin + _AT_ONCE]
        which = owner[row, column]
        middles = np.column_stack([column + 0.5, row + 0.5])
        flat = np.concatenate([corners[which], np.zeros((len(which), 3, 1))], axis=2)
        weights = _weights(np.column_stack([middles, np.zeros(len(which))]), *np.moveaxis(flat, 1, 0))
        places = np.einsum("nk,nkx->nx", weights, carried.formed[carried.triangles[which]])
        uv, away = texture.at(places)
        seen = (away <= FAR_MM) & np.isfinite(uv).all(axis=1)
        painted[row[seen], column[seen]] = _sampled(picture, uv[seen])
    return painted


def _to_paint(carried: Carried) -> NDArray[np.bool_]:
    """Triangles of the part, and those beside it, within which it ends: ink may reach over the cut."""
    nodes = np.zeros(len(carried.flat), np.bool_)
    nodes[carried.triangles[carried.part]] = True
    painted: NDArray[np.bool_] = nodes[carried.triangles].any(axis=1)
    return painted


def _sampled(picture: NDArray[np.uint8], uv: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Colours between the pixels of a picture that repeats; opacity weighs."""
    high, wide = picture.shape[:2]
    x, y = uv[:, 0] * wide - 0.5, (1.0 - uv[:, 1]) * high - 0.5
    left, top = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
    along, down = x - left, y - top
    total = np.zeros((len(uv), 4))
    for right, share_x in ((0, 1.0 - along), (1, along)):
        for below, share_y in ((0, 1.0 - down), (1, down)):
            colour = picture[(top + below) % high, (left + right) % wide].astype(np.float64)
            colour[:, :3] *= colour[:, 3:]
            total += (share_x * share_y)[:, None] * colour
    total[:, :3] /= np.maximum(total[:, 3:], 1e-9)
    return np.clip(total + 0.5, 0.0, 255.0).astype(np.uint8)


@kernel
def _own(corners, chosen, owner):  # type: ignore[no-untyped-def]
    """Which of the chosen triangles each pixel's middle lies in."""
    rows, columns = owner.shape
    for n in chosen:
        ax, ay = corners[n, 0, 0], corners[n, 0, 1]
        bx, by = corners[n, 1, 0] - ax, corners[n, 1, 1] - ay
        cx, cy = corners[n, 2, 0] - ax, corners[n, 2, 1] - ay
        double = bx * cy - by * cx
        if double == 0.0:
            continue
        left, right = min(ax, ax + bx, ax + cx), max(ax, ax + bx, ax + cx)
        top, foot = min(ay, ay + by, ay + cy), max(ay, ay + by, ay + cy)
        for row in range(max(int(top - 0.5), 0), min(int(foot + 0.5) + 1, rows)):
            for column in range(max(int(left - 0.5), 0), min(int(right + 0.5) + 1, columns)):
                x, y = column + 0.5 - ax, row + 0.5 - ay
                s, t = (x * cy - y * cx) / double, (bx * y - by * x) / double
                if s >= -1e-9 and t >= -1e-9 and s + t <= 1.0 + 1e-9:
                    owner[row, column] = n
