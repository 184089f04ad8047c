"""A setup seen from above and from the side: shaded, with what is cut off hatched."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.normals import normals_and_areas
from buckwright.output.canvas.palette import ORIGIN_COLOURS
from buckwright.output.canvas.shading import hatched, shaded
from buckwright.output.canvas.views import FRONT, SHARPNESS, TOP, Shot, View, take
from buckwright.pose.setups.search import Setup
from buckwright.survey.pull import frame_for

__all__ = ["IMAGE_PX", "cut_shots", "setup_images", "setup_shots", "small_images"]

IMAGE_PX = 256
"""Side of the small pictures."""


def setup_images(shape: Mesh, setups: Sequence[Setup]) -> NDArray[np.uint8]:
    """Small pictures of the setups, for a list to choose from.

    Parameters
    ----------
    shape : the sculpt in its own axes, simplified, mm
    setups : the best first

    Returns
    -------
    (N, 256, 256, 4) uint8, RGBA, row 0 at the bottom: from above in the upper half, from the side in the
    lower; what is cut off is hatched, the background is clear
    """
    half = IMAGE_PX / 2 / SHARPNESS
    return small_images(
        [setup_shots(shape, setup, width=IMAGE_PX / SHARPNESS, heights=(half, half)) for setup in setups]
    )


def small_images(pairs: Sequence[Sequence[tuple[Shot, NDArray[np.uint8]]]]) -> NDArray[np.uint8]:
    """Pictures of two shots each, one above the other.

    Parameters
    ----------
    pairs : two shots with their pixels, each at most 256 x 128 pixels

    Returns
    -------
    (N, 256, 256, 4) uint8, RGBA, row 0 at the bottom, the first shot above; the background is clear
    """
    images = np.zeros((len(pairs), IMAGE_PX, IMAGE_PX, 4), np.uint8)
    half = IMAGE_PX // 2
    for image, shots in zip(images, pairs, strict=True):
        for bottom, (shot, pixels) in zip((half, 0), shots, strict=True):
            rows, columns = shot.depth.shape
            up, across = bottom + (half - rows) // 2, (IMAGE_PX - columns) // 2
            inside = image[up : up + rows, across : across + columns]
            inside[..., :3] = pixels
            inside[..., 3] = np.where(np.isfinite(shot.depth), 255, 0)
    return images


def setup_shots(
    mesh: Mesh, setup: Setup, *, width: float, heights: tuple[float, float]
) -> list[tuple[Shot, NDArray[np.uint8]]]:
    """The views from above and from the side.

    Parameters
    ----------
    mesh : the sculpt in its own axes, mm
    setup : how it is set up
    width : of both, units of the layout
    heights : of the view from above and of that from the side

    Returns
    -------
    Two shots with their pixels, (ny, nx, 3) uint8, row 0 at the bottom
    """
    floor = float((mesh.vertices @ frame_for(setup.direction)[2]).min()) + setup.figures.sink_mm
    rooms = zip((TOP, FRONT), heights, strict=True)
    return cut_shots(mesh, setup.direction, floor, tuple((view, width, height) for view, height in rooms))


def cut_shots(
    mesh: Mesh,
    direction: ArrayLike,
    floor_mm: float,
    rooms: Sequence[tuple[View, float, float]],
) -> list[tuple[Shot, NDArray[np.uint8]]]:
    """Views of a sculpt with what lies below a plane hatched.

    Parameters
    ----------
    mesh : the sculpt in its own axes, mm
    direction : (3,) across the plane, which is up in the views
    floor_mm : of the plane along that direction
    rooms : each view with its width and height, units of the layout

    Returns
    -------
    Shots with their pixels, (ny, nx, 3) uint8, row 0 at the bottom
    """
    turned = Mesh(np.ascontiguousarray(mesh.vertices @ frame_for(direction).T), mesh.faces)
    normals = normals_and_areas(turned)[0]
    colours = np.tile(np.round(np.array(ORIGIN_COLOURS[0]) * 255).astype(np.uint8), (turned.face_count, 1))
    shots = []
    for view, width, height in rooms:
        shot = take(turned, view, width=width, height=height)
        shots.append((shot, hatched(shaded(shot, normals, colours), _height(shot) < floor_mm)))
    return shots


def _height(shot: Shot) -> NDArray[np.float64]:
    """Height of what is seen at each pixel, infinite where nothing is."""
    rows, columns = shot.depth.shape
    level = np.broadcast_to(shot.low[1] + (np.arange(rows) + 0.5)[:, None] * shot.pixel_mm, (rows, columns))
    return np.where(np.isfinite(shot.depth), shot.depth if shot.view is TOP else level, np.inf)
