"""From what is seen to coloured pixels: light, hollows, rims, and patterns for the states."""

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from buckwright.output.canvas.palette import INK, PAPER, TIGHT, TRAPPED
from buckwright.output.canvas.views import Shot

__all__ = ["dotted", "hatched", "outlined", "patterned", "shaded"]

# Light from the upper left, the side that readers of shaded relief expect (cartographers' common
# practice); enough of it from the viewer's side that no face is black.
_LIGHT = np.array([-0.42, 0.48, 0.77])
_AMBIENT = 0.5
_HOLLOW_PIXELS = (7, 29)
_STRIPE = 6
_RIM_SHARE = 0.03


def shaded(
    shot: Shot, normals: NDArray[np.float64], colours: NDArray[np.uint8], *, strength: float = 1.0
) -> NDArray[np.uint8]:
    """Colour every pixel of a shot.

    Parameters
    ----------
    shot : what is seen
    normals : (F, 3) float64, unit normals in the pull frame
    colours : (F, 3) uint8, 0..255
    strength : 0 flat colours (except for the rims) .. 1 full shading

    Returns
    -------
    (ny, nx, 3) uint8, row 0 at the bottom; paper where empty

    Notes
    -----
    Cosine law per face, stretched to the side away from the light; darker where a pixel lies deeper than its
    surroundings, with dark lines where the depth jumps. Four samples per pixel are averaged.
    """
    bright = 1.0 - strength * (1.0 - _light_on(shot, normals))
    table = np.empty((len(colours) + 1, 3), np.uint8)  # the last row, reached by face -1, is paper
    table[:-1] = colours * bright[:, None]
    table[-1] = np.round(np.array(PAPER) * 255)
    total = np.zeros((*shot.depth.shape, 3), np.uint16)
    for row in (0, 1):
        for column in (0, 1):
            total += table[shot.face[row::2, column::2]]
    tone = 1.0 - strength * (1.0 - _hollows(shot.depth))
    tone[_rims(shot.depth)] *= 0.5
    pixels: NDArray[np.uint8] = np.clip(total * (tone[..., None] * 0.25), 0, 255).astype(np.uint8)
    return pixels


def _light_on(shot: Shot, normals: NDArray[np.float64]) -> NDArray[np.float32]:
    """Brightness of each face, (F,), ambient..1; faces seen from behind are lit like their front."""
    x, y, z = normals.T.astype(np.float32)
    ray, eye = (shot.view.turn.T @ _LIGHT).astype(np.float32), shot.view.turn[2].astype(np.float32)
    facing = x * ray[0] + y * ray[1] + z * ray[2]
    towards = x * eye[0] + y * eye[1] + z * eye[2]
    # Stretched over the whole half turn, so that steep sides away from the light keep their shape.
    lit: NDArray[np.float32] = (0.5 + 0.5 * np.where(towards < 0, -facing, facing)) ** 2
    return np.float32(_AMBIENT) + np.float32(1 - _AMBIENT) * lit


def _hollows(depth: NDArray[np.float64]) -> NDArray[np.float32]:
    """Tone from 1 on open ground to about 0.6 in a hollow, by the depth below the local mean."""
    there = np.isfinite(depth)
    tone = np.ones(depth.shape, np.float32)
    if not there.any():
        return tone
    middle = depth[there].mean()
    level = np.where(there, depth - middle, 0.0).astype(np.float32)
    span = max(float(np.ptp(depth[there])), 1e-6)
    weight = there.astype(np.float32)
    for size in _HOLLOW_PIXELS:
        share = np.maximum(ndimage.uniform_filter(weight, size), 1e-3)
        below = ndimage.uniform_filter(level, size) / share - level
        tone -= 0.22 * np.clip(below / (0.05 * span), -0.15, 1.0) * weight
    return np.minimum(tone, 1.04)


def _rims(depth: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Pixels in front of a step in depth."""
    there = np.isfinite(depth)
    if not there.any():
        return there
    span = max(float(np.ptp(depth[there])), 1e-6)
    # A floor one span below everything makes the silhouette a step too.
    filled = np.where(there, depth, depth[there].min() - span)
    step: NDArray[np.bool_] = (filled - ndimage.minimum_filter(filled, 3)) > _RIM_SHARE * span
    return step & there


def _stripes(shape: tuple[int, int], *, falling: bool = False) -> NDArray[np.bool_]:
    rows, columns = np.ogrid[: shape[0], : shape[1]]
    along = columns + rows if falling else columns - rows
    striped: NDArray[np.bool_] = along // (_STRIPE // 2) % 4 == 0
    return striped


def patterned(pixels: NDArray[np.uint8], state: NDArray[np.integer]) -> NDArray[np.uint8]:
    """Draw light stripes over trapped pixels and dark dots over tight ones.

    Parameters
    ----------
    pixels : (ny, nx, 3) uint8
    state : (ny, nx) int, state of the face seen, anything else where there is none

    Returns
    -------
    (ny, nx, 3) uint8, a new array
    """
    result = pixels.copy()
    striped = _stripes(state.shape) & (state == TRAPPED)
    result[striped] = (result[striped] * 0.35 + 255 * 0.65).astype(np.uint8)
    return dotted(result, state == TIGHT)


def dotted(pixels: NDArray[np.uint8], chosen: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Draw small dark dots over the chosen pixels.

    Parameters
    ----------
    pixels : (ny, nx, 3) uint8
    chosen : (ny, nx) bool

    Returns
    -------
    (ny, nx, 3) uint8, a new array
    """
    result = pixels.copy()
    rows, columns = np.ogrid[: chosen.shape[0], : chosen.shape[1]]
    shifted = columns + (rows // 8 % 2) * 4
    dots = (rows % 8 < 2) & (shifted % 8 < 2) & chosen
    result[dots] = (result[dots] * 0.35).astype(np.uint8)
    return result


def hatched(pixels: NDArray[np.uint8], hidden: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Draw thin dark stripes, falling to the right, over pixels with something hidden beneath.

    Parameters
    ----------
    pixels : (ny, nx, 3) uint8
    hidden : (ny, nx) bool

    Returns
    -------
    (ny, nx, 3) uint8, a new array
    """
    result = pixels.copy()
    rows, columns = np.ogrid[: hidden.shape[0], : hidden.shape[1]]
    lines = ((columns + rows) % 9 < 2) & hidden
    result[lines] = (result[lines] * 0.25 + np.array(INK) * 255 * 0.75).astype(np.uint8)
    return result


def outlined(pixels: NDArray[np.uint8], number: NDArray[np.integer]) -> NDArray[np.uint8]:
    """Draw a dark line, two pixels wide, around each numbered area.

    Parameters
    ----------
    pixels : (ny, nx, 3) uint8
    number : (ny, nx) int, -1 outside all areas

    Returns
    -------
    (ny, nx, 3) uint8, a new array
    """
    edge = np.zeros(number.shape, bool)
    across = number[:, 1:] != number[:, :-1]
    along = number[1:] != number[:-1]
    edge[:, 1:] |= across
    edge[:, :-1] |= across
    edge[1:] |= along
    edge[:-1] |= along
    result = pixels.copy()
    result[edge] = np.round(np.array(INK) * 255).astype(np.uint8)
    return result
