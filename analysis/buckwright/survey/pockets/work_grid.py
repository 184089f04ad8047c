"""The raster that the sheet is solved on: the relief in blocks, platen around it, vented pixels marked."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from buckwright.errors import InputError
from buckwright.relief.raster import Relief

__all__ = ["WorkGrid", "work_grid"]

_GAP_SHARE = 0.75  # platen between buck and frame over height of the buck: common practice, no source
_LEVEL_MM = 1e-6  # heights closer than this are the same level


@dataclass(frozen=True, slots=True, eq=False)
class WorkGrid:
    """Heights in blocks of relief pixels.

    Attributes
    ----------
    origin : (2,) corner of pixel [0, 0], mm
    pixel_mm : side of a pixel: `block` relief pixels
    height : (ny, nx) float64, highest relief pixel of each block, mm; the platen, 0, where there is none
    vented : (ny, nx) bool, air can always leave from here
    rough_mm : (ny, nx) float64, how far a pixel lies below the middle of two opposite neighbours, in the
        worst direction
    relief, block, before : the relief, relief pixels per block side, and the blocks placed before its first
        row and column
    """

    origin: NDArray[np.float64]
    pixel_mm: float
    height: NDArray[np.float64]
    vented: NDArray[np.bool_]
    rough_mm: NDArray[np.float64]
    relief: Relief
    block: int
    before: int

    def pixel_of(self, points: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Pixel that holds each point, clipped to the raster.

        Parameters
        ----------
        points : (N, 2 or more) float64, mm; only x and y are used

        Returns
        -------
        (N,) int64, (N,) int64 : rows and columns
        """
        index = np.floor((points[:, :2] - self.origin) / self.pixel_mm).astype(np.int64)
        rows, columns = self.height.shape
        return np.clip(index[:, 1], 0, rows - 1), np.clip(index[:, 0], 0, columns - 1)

    def point(self, row: int, column: int) -> tuple[float, float, float]:
        """The lowest relief pixel of a block, nearest its middle among equals.

        Parameters
        ----------
        row, column : of the block

        Returns
        -------
        (x, y, z) : mm; the middle of the block on the platen where the relief is empty
        """
        relief, block = self.relief, self.block
        top, left = (row - self.before) * block, (column - self.before) * block
        part = relief.height[max(top, 0) : max(top + block, 0), max(left, 0) : max(left + block, 0)]
        if not np.isfinite(part).any():
            x, y = self.origin + (np.array([column, row]) + 0.5) * self.pixel_mm
            return float(x), float(y), 0.0
        low = part.min(where=np.isfinite(part), initial=np.inf)
        rows, columns = np.nonzero(part <= low + _LEVEL_MM)
        middle = (block - 1) / 2.0
        at = int(np.argmin((rows - middle) ** 2 + (columns - middle) ** 2))
        r, c = max(top, 0) + int(rows[at]), max(left, 0) + int(columns[at])
        x, y = relief.origin + (np.array([c, r]) + 0.5) * relief.pixel_mm
        return float(x), float(y), float(relief.height[r, c])


def work_grid(
    relief: Relief,
    *,
    work_px: int,
    foot_mm: float,
    vented_mask: NDArray[np.bool_] | None,
    gap_to_frame_mm: float | None,
) -> WorkGrid:
    """Pool a relief into at most `work_px` blocks a side and surround it with platen up to the frame.

    Parameters
    ----------
    relief : seen down the pull, mm
    work_px : most blocks a side, 16 to 1024
    foot_mm : ground up to this height that is connected to the outside is vented
    vented_mask : (ny, nx) bool, shape of the relief, further vented pixels
    gap_to_frame_mm : platen between buck and frame, >= 0; three quarters of the height of the buck if None

    Returns
    -------
    WorkGrid : with at least one block of platen on every side

    Raises
    ------
    InputError
        `work_px` is out of range, the gap is negative, or the mask has another shape than the relief.

    Notes
    -----
    The highest pixel stands for its block, so a thin rim never breaks. Vented are the bare platen, ground up
    to `foot_mm` that is connected to the outside, and the blocks that hold a pixel of `vented_mask`.
    """
    if not 16 <= work_px <= 1024:
        raise InputError(f"work_px must be between 16 and 1024, got {work_px}")
    if gap_to_frame_mm is not None and not gap_to_frame_mm >= 0.0:
        raise InputError(f"gap_to_frame_mm must be at least 0, got {gap_to_frame_mm}")
    if vented_mask is not None and vented_mask.shape != relief.height.shape:
        raise InputError(f"vented_mask has the shape {vented_mask.shape}, the relief {relief.height.shape}")
    ground = np.maximum(relief.height, 0.0)
    gap = _GAP_SHARE * float(ground.max(initial=0.0)) if gap_to_frame_mm is None else gap_to_frame_mm
    block = max(int(np.ceil((max(ground.shape) + 2.0 * gap / relief.pixel_mm) / (work_px - 4))), 1)
    before = int(np.ceil(gap / (relief.pixel_mm * block))) + 1
    height = _blocks(ground, block, before, 0.0)
    bare = ~_blocks(np.isfinite(relief.height), block, before, False)
    low, _ = ndimage.label(height <= foot_mm + _LEVEL_MM)
    vented = bare | (low == low[0, 0])
    if vented_mask is not None:
        vented |= _blocks(vented_mask, block, before, False)
    origin = relief.origin - before * block * relief.pixel_mm
    rough = _hollowness(height)
    return WorkGrid(origin, relief.pixel_mm * block, height, vented, rough, relief, block, before)


def _hollowness(height: NDArray[np.float64]) -> NDArray[np.float64]:
    padded = np.pad(height, 1, mode="edge")
    rows, columns = height.shape

    def moved(down: int, right: int) -> NDArray[np.float64]:
        return padded[1 + down : 1 + down + rows, 1 + right : 1 + right + columns]

    steps = ((0, 1), (1, 0), (1, 1), (1, -1))
    hollow = [0.5 * (moved(down, right) + moved(-down, -right)) - height for down, right in steps]
    return np.asarray(np.maximum(np.max(hollow, axis=0), 0.0))


def _blocks[T: np.generic](values: NDArray[T], block: int, before: int, outside: float | bool) -> NDArray[T]:
    """Greatest value of each block, padded with `outside` to whole blocks and by `before` blocks a side."""
    rows, columns = values.shape
    pads = [(before * block, before * block + -size % block) for size in (rows, columns)]
    padded = np.pad(values, pads, constant_values=outside)
    return np.asarray(
        padded.reshape(padded.shape[0] // block, block, padded.shape[1] // block, block).max((1, 3))
    )
