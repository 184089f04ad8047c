"""Small pictures of planes, for a list to choose from."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.views import FRONT, RIGHT, SHARPNESS
from buckwright.pose.halves.search import PartingPlane
from buckwright.pose.setups.images import IMAGE_PX, cut_shots, small_images

__all__ = ["plane_images"]


def plane_images(shape: Mesh, planes: Sequence[PartingPlane]) -> NDArray[np.uint8]:
    """Small pictures of planes, both seen along the seam.

    Parameters
    ----------
    shape : the sculpt in its own axes, simplified, mm
    planes : the best first

    Returns
    -------
    (N, 256, 256, 4) uint8, RGBA, row 0 at the bottom: from the front in the upper half, from the right in the
    lower, the plane level; the second half is hatched
    """
    width, height = IMAGE_PX / SHARPNESS, IMAGE_PX / 2 / SHARPNESS
    rooms = ((FRONT, width, height), (RIGHT, width, height))
    return small_images([cut_shots(shape, plane.normal, plane.offset_mm, rooms) for plane in planes])
