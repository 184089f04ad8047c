"""Measurements of a sculpt: width and girth of a section, distance of two points."""

import numpy as np
import trimesh
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from buckwright.errors import InputError
from buckwright.mesh.triangles import Mesh
from buckwright.pose.size.settings import SizeSettings

__all__ = ["level_mm", "measured_mm", "section_points"]


def measured_mm(mesh: Mesh, settings: SizeSettings) -> float:
    """What a sculpt measures.

    Parameters
    ----------
    mesh : in its own axes, mm; may be open
    settings : what is measured, not 'none'

    Returns
    -------
    float
        mm, > 0. A girth is the circumference of the section's convex outline: a tape spans hollows.

    Raises
    ------
    InputError
        The measurement is not possible with these settings.
    """
    if settings.measure == "distance":
        points = settings.between_mm or ()
        if len(points) != 2:
            raise InputError("a distance is measured between two points: give two under size.between_mm")
        distance = float(np.linalg.norm(np.subtract(*points)))
        if distance <= 0.0:
            raise InputError("the two points of size.between_mm are one; a distance needs two")
        return distance
    points_mm = section_points(mesh, settings)
    if settings.measure == "width":
        if settings.side == settings.along:
            raise InputError(
                f"a width along {settings.side} does not lie in a section across {settings.along}"
            )
        return float(np.ptp(points_mm[:, "xyz".index(settings.side)]))
    try:
        # in the plane the measure of a hull's boundary is its `area`
        return float(ConvexHull(np.delete(points_mm, "xyz".index(settings.along), axis=1)).area)
    except QhullError as error:
        raise InputError(
            "the section is a single line: it has no girth; move it by size.level_share"
        ) from error


def level_mm(mesh: Mesh, settings: SizeSettings) -> float:
    """Where the section lies along its axis, mm."""
    low, high = mesh.bounds[:, "xyz".index(settings.along)]
    return float(low + settings.level_share * (high - low))


def section_points(mesh: Mesh, settings: SizeSettings) -> NDArray[np.float64]:
    """Ends (N, 3) of the pieces in which the section crosses the triangles, mm.

    Raises
    ------
    InputError
        There is nothing at that level.
    """
    axis = "xyz".index(settings.along)
    normal, origin = np.eye(3)[axis], np.eye(3)[axis] * level_mm(mesh, settings)
    shape = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    pieces = np.asarray(trimesh.intersections.mesh_plane(shape, normal, origin), np.float64)
    if len(pieces) == 0:
        raise InputError(
            f"the section across {settings.along} at {settings.level_share:g} of the sculpt is empty; "
            "move it by size.level_share"
        )
    return pieces.reshape(-1, 3)
