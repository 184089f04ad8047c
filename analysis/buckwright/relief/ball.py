"""A ball on a raster, as the structure with which heights are worn down or filled up."""

import numpy as np
from numpy.typing import NDArray

__all__ = ["ball_over"]


def ball_over(radius_mm: float, pixel_mm: float) -> NDArray[np.float64]:
    """Height of a ball's upper half over its centre.

    Parameters
    ----------
    radius_mm : of the ball, > 0
    pixel_mm : side of a pixel

    Returns
    -------
    (2 K + 1, 2 K + 1) float64, mm; -inf beside the ball

    Examples
    --------
    >>> ball_over(1.0, 1.0).tolist()
    [[-inf, 0.0, -inf], [0.0, 1.0, 0.0], [-inf, 0.0, -inf]]
    """
    cells = int(np.floor(radius_mm / pixel_mm))
    step = pixel_mm * np.arange(-cells, cells + 1)
    squared = radius_mm**2 - np.add.outer(step**2, step**2)
    return np.where(squared >= 0, np.sqrt(np.maximum(squared, 0.0)), -np.inf)
