"""The inside of a shell, which no sheet lies on: closed before the shell is halved."""

import numpy as np
from manifold3d import Manifold, OpType

from buckwright.mesh.manifolds import from_manifold, to_manifold
from buckwright.mesh.triangles import Mesh
from buckwright.pose.setups.walls import is_thin, may_be_shell

__all__ = ["closed_inside", "closed_shell"]

_DEEP = 2.0
"""Walls over mouths of a hollow: a hemisphere has twice the area of its mouth. House rule."""
_LEAST = 0.01
"""Of the hull's volume: a smaller hollow is detail. House rule."""


def closed_inside(solid: Manifold) -> Manifold:
    """A solid with the inside of its shell filled up to the edge of the opening; its outside is kept exactly.

    Parameters
    ----------
    solid : mm

    Returns
    -------
    Manifold : the same where it is no thin shell round a deep hollow

    Notes
    -----
    A hollow is a piece of the convex hull less the solid: its mouths lie in the hull, so that only openings
    with a level edge close. One whose edge runs up and down, as round a face, stays open.
    """
    hull = solid.hull().as_original()
    if not may_be_shell(solid.volume(), solid.surface_area(), hull_mm3=hull.volume()):
        return solid
    inside = []
    for hollow in (hull - solid).decompose():
        if hollow.volume() < _LEAST * hull.volume():
            continue
        mouths, walls = _mouths_and_walls_mm2(hollow, hull.original_id())
        if walls >= _DEEP * mouths and is_thin(solid.volume(), walls, hull.volume()):
            inside.append(hollow)
    return Manifold.batch_boolean([solid, *inside], OpType.Add) if inside else solid


def closed_shell(mesh: Mesh) -> Mesh:
    """The same for a mesh; one that is no solid stays as it is."""
    solid = to_manifold(mesh)
    if solid is None:
        return mesh
    closed = closed_inside(solid)
    return mesh if closed is solid else from_manifold(closed)


def _mouths_and_walls_mm2(hollow: Manifold, hull_id: int) -> tuple[float, float]:
    """Area of what of a hollow lies in the hull, and of what lies in the solid."""
    data = hollow.to_mesh64()
    corners = data.vert_properties[:, :3][data.tri_verts.astype(np.int64)]
    double = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    faces_in = np.diff(np.asarray(data.run_index, np.int64)) // 3
    open_ = np.repeat(np.asarray(data.run_original_id) == hull_id, faces_in)
    return float(double[open_].sum() / 2.0), float(double[~open_].sum() / 2.0)
