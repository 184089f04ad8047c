"""Specks: what a scanner leaves floating beside a sculpt."""

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.adjacency import edge_table, shells, twins
from buckwright.mesh.repair import drop_unused
from buckwright.mesh.triangles import Mesh

__all__ = ["CLOSED_SHARE", "OPEN_SHARE", "without_specks"]

#: Closed shells with less than this share of the area of the largest shell are specks where they touch
#: nothing: beside a head with 1000 cm2 of skin, a bead of 5.6 mm. House rule.
CLOSED_SHARE = 1e-3

#: The same for open scraps, which enclose nothing; a scan in several sheets has larger ones. House rule.
OPEN_SHARE = 1e-2

#: A closed shell this share of the size away from a larger one rests on it (the rounding of text files).
_CONTACT_SHARE = 1e-5


def without_specks(mesh: Mesh) -> tuple[Mesh, int, int]:
    """Drop small shells that float by themselves.

    Parameters
    ----------
    mesh : any triangles, equal corners welded, in any unit

    Returns
    -------
    Mesh
        The same object where there are none. Small closed shells that cross the surface of a larger one, or
        rest on it, stay: they are eyes, rivets, beads.
    int, int : closed and open shells dropped
    """
    table = edge_table(mesh.faces)
    labels, count = shells(mesh, table=table)
    if count < 2:
        return mesh, 0, 0
    area = np.bincount(labels, weights=mesh.areas(), minlength=count)
    closed = np.ones(count, bool)
    closed[labels[np.flatnonzero(twins(mesh.faces, table=table) < 0) // 3]] = False
    small = area < np.where(closed, CLOSED_SHARE, OPEN_SHARE) * area.max()
    candidates = small & closed
    if candidates.any():
        small[candidates & _held(mesh, labels, small, candidates)] = False
    if not small.any():
        return mesh, 0, 0
    kept = drop_unused(Mesh(mesh.vertices, mesh.faces[~small[labels]]))
    return kept, int((small & closed).sum()), int((small & ~closed).sum())


def _held(
    mesh: Mesh, labels: NDArray[np.int32], small: NDArray[np.bool_], asked: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Which of the asked shells have corners on both sides of the larger shells, or touch them."""
    import igl

    count = len(small)
    large = mesh.faces[~small[labels]].astype(np.int64)
    chosen = np.flatnonzero(asked[labels])
    vertices, place = np.unique(mesh.faces[chosen].ravel(), return_inverse=True)
    points = mesh.vertices[vertices]
    owner = np.repeat(labels[chosen], 3)
    inside = (np.abs(igl.fast_winding_number(mesh.vertices, large, points)) > 0.5)[place]
    near = igl.point_mesh_squared_distance(points, mesh.vertices, large)[0][place]
    corners = np.maximum(np.bincount(owner, minlength=count), 1)
    share = np.bincount(owner, weights=inside, minlength=count) / corners
    touching = near <= (_CONTACT_SHARE * float(np.linalg.norm(mesh.size))) ** 2
    touched = np.bincount(owner, weights=touching, minlength=count) > 0
    held: NDArray[np.bool_] = ((share > 0) & (share < 1)) | touched
    return held
