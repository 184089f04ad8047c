"""A picture laid on the part by the texture coordinates of the sculpt, as it must be on the flat sheet."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.artwork.carrying import Carried
from buckwright.forming.artwork.painting import owners, sampled

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
    """Barycentric weights (N, 3) of points in triangles, in the plane or in space."""
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
    chosen = np.flatnonzero(_to_paint(carried))
    corners = carried.pixels_of_flat(shape)[carried.triangles[chosen]]
    size = np.array(picture.shape[1::-1])
    painted = np.zeros((*shape, 4), np.uint8)
    for band, owner in owners(corners, shape):
        inked = np.argwhere(owner >= 0)
        for part in (inked[begin : begin + _AT_ONCE] for begin in range(0, len(inked), _AT_ONCE)):
            row, column = part.T
            which = owner[row, column]
            places = carried.formed[carried.triangles[chosen[which]]]
            middles = np.column_stack([column, row + band.start]) + 0.5
            weights = _weights(middles, *np.moveaxis(corners[which], 1, 0))
            uv, away = texture.at(np.einsum("nk,nkx->nx", weights, places))
            seen = (away <= FAR_MM) & np.isfinite(uv).all(axis=1)
            uv = uv[seen] * [1.0, -1.0] + [0.0, 1.0]
            painted[band][row[seen], column[seen]] = sampled(picture, uv * size)
    return painted


def _to_paint(carried: Carried) -> NDArray[np.bool_]:
    """Triangles of the part, and those beside it, within which it ends: ink may reach over the cut."""
    nodes = np.zeros(len(carried.flat), np.bool_)
    nodes[carried.triangles[carried.part]] = True
    painted: NDArray[np.bool_] = nodes[carried.triangles].any(axis=1)
    return painted
