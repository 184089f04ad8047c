"""Small pictures of choices, kept in the file."""

import bpy
import numpy as np
from numpy.typing import NDArray

__all__ = ["picture"]


def picture(name: str, pixels: NDArray[np.uint8]) -> bpy.types.Image:
    """An image of the file, saved with it.

    Parameters
    ----------
    name : what it shows
    pixels : (rows, columns, 4) uint8, row 0 at the bottom
    """
    rows, columns = pixels.shape[:2]
    image = bpy.data.images.new(f"Buckwright {name}", columns, rows, alpha=True)
    image.pixels.foreach_set((pixels.reshape(-1) / np.float32(255.0)).astype(np.float32))
    image.pack()
    image.preview_ensure()
    return image
