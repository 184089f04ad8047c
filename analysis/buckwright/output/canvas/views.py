"""Where the pictures are taken from, and what can be seen from there."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh
from buckwright.relief.raster import relief_of

__all__ = ["FRONT", "RIGHT", "SHARPNESS", "TOP", "UNDERSIDE", "Shot", "View", "oblique", "take"]

SHARPNESS = 0.7
"""Pixels of a picture for each unit of its layout: half the pixels of one to one, in half the time."""


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A direction to look from, without perspective.

    Attributes
    ----------
    name : short, for the file name
    words : for the title
    turn : (3, 3) rotation from the pull frame to (right, up, towards the eye)
    """

    name: str
    words: str
    turn: NDArray[np.float64]


TOP = View("top", "seen down the pull", np.eye(3))
FRONT = View("front", "seen from the front", np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]]))
RIGHT = View("right", "seen from the right", np.array([[0.0, 1, 0], [0, 0, 1], [1, 0, 0]]))
UNDERSIDE = View("underside", "seen from below", np.array([[1.0, 0, 0], [0, -1, 0], [0, 0, -1]]))


def oblique(name: str, words: str, *, azimuth_deg: float, elevation_deg: float) -> View:
    """A view from above and the side.

    Parameters
    ----------
    name, words : see `View`
    azimuth_deg : 0 is the front, 90 the right-hand side
    elevation_deg : 0 is level, 90 straight down

    Returns
    -------
    View
    """
    a, e = np.radians([azimuth_deg, elevation_deg])
    right = [np.cos(a), np.sin(a), 0.0]
    eye = [np.sin(a) * np.cos(e), -np.cos(a) * np.cos(e), np.sin(e)]
    return View(name, words, np.array([right, np.cross(eye, right), eye]))


@dataclass(frozen=True, slots=True, eq=False)
class Shot:
    """What a view shows of a mesh, at two samples per pixel each way.

    Attributes
    ----------
    view : where it was taken from
    low : (2,) lower left corner in the view, mm
    pixel_mm : side of a pixel of the picture
    face : (2 ny, 2 nx) int32, the face seen at each sample; -1 where empty
    depth : (ny, nx) float64, distance towards the eye, mm; -inf where empty
    """

    view: View
    low: NDArray[np.float64]
    pixel_mm: float
    face: NDArray[np.int32]
    depth: NDArray[np.float64]

    @property
    def unit_mm(self) -> float:
        """Length of a unit of the page's layout, mm."""
        return self.pixel_mm * SHARPNESS

    @property
    def face_at_pixel(self) -> NDArray[np.int32]:
        """The face seen at one sample of each pixel, (ny, nx)."""
        return self.face[::2, ::2]

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """Left, right, bottom, top in the view, mm."""
        rows, columns = self.depth.shape
        left, bottom = (float(value) for value in self.low)
        return left, left + columns * self.pixel_mm, bottom, bottom + rows * self.pixel_mm

    def project(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points of the pull frame in the view.

        Parameters
        ----------
        points : (N, 3) float64, mm

        Returns
        -------
        (N, 3) float64, mm: right, up, towards the eye
        """
        return _turned(np.atleast_2d(points), self.view.turn)

    def is_seen(self, points: NDArray[np.float64], *, slack_mm: float) -> NDArray[np.bool_]:
        """Whether nothing lies more than `slack_mm` in front of each point.

        Parameters
        ----------
        points : (N, 3) float64, mm, in the pull frame
        slack_mm : depth that is ignored, >= 0

        Returns
        -------
        (N,) bool; true outside the picture
        """
        turned = self.project(points)
        rows, columns = self.depth.shape
        index = np.floor((turned[:, :2] - self.low) / self.pixel_mm).astype(np.int64)
        inside = ((index >= 0) & (index < [columns, rows])).all(axis=1)
        i, j = np.clip(index[:, 0], 0, columns - 1), np.clip(index[:, 1], 0, rows - 1)
        seen: NDArray[np.bool_] = ~inside | (self.depth[j, i] <= turned[:, 2] + slack_mm)
        return seen


def take(mesh: Mesh, view: View, *, width: float, height: float) -> Shot:
    """View a mesh so that it fills the given room.

    Parameters
    ----------
    mesh : triangles, mm; may be open, even empty
    view : where from
    width, height : the room, units of the layout; the picture fills one of the two

    Returns
    -------
    Shot

    Notes
    -----
    The relief raster of the turned mesh is the depth buffer: exact at sample centres.
    """
    turned = Mesh(_turned(mesh.vertices, view.turn), mesh.faces)
    low, high = turned.bounds[:, :2]
    span = np.maximum(high - low, 1e-6)
    most = np.maximum(np.array([width, height]) * SHARPNESS - 3, 1)
    pixel = float((span / most).max())
    count = np.ceil(span / pixel).astype(np.int64) + 2  # one empty pixel all round keeps the rim dark
    low = (low + high) / 2 - count * pixel / 2
    relief = relief_of(turned, pixel_mm=pixel / 2, bounds_xy=np.stack([low, low + count * pixel]))
    rows, columns = slice(0, 2 * count[1]), slice(0, 2 * count[0])
    depth = np.ascontiguousarray(relief.height[rows, columns][::2, ::2])
    return Shot(view, low, pixel, relief.face[rows, columns], depth)


def _turned(points: NDArray[np.float64], turn: NDArray[np.float64]) -> NDArray[np.float64]:
    """Rotate points (N, 3). Written out: a product with so small a matrix is slow in BLAS."""
    x, y, z = points.T
    result = np.empty((len(points), 3))
    for axis, row in enumerate(turn):
        result[:, axis] = x * row[0] + y * row[1] + z * row[2]
    return result
