"""Uniting: overlapping shells and self-crossing surfaces become the outer surface of one body.

Every triangle away from the crossings stays as it is.
"""

import manifold3d
import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.adjacency import shells
from buckwright.mesh.checking import CROSSING_DEPTH_MM, bounds_inside, covered_shares
from buckwright.mesh.crossings import find_crossings
from buckwright.mesh.manifolds import from_manifold, to_manifold
from buckwright.mesh.repair import drop_unused, single_faces, without_flat_faces
from buckwright.mesh.triangles import Mesh

__all__ = ["resolve_crossings", "unite_shells", "without_nested_shells"]


def without_nested_shells(mesh: Mesh) -> tuple[Mesh, int]:
    """Drop closed shells that lie inside another one and cross nothing: a buck is solid.

    Parameters
    ----------
    mesh : every shell closed

    Returns
    -------
    Mesh, int : the same object where none is nested, and the number of shells dropped
    """
    labels, count = shells(mesh)
    pairs = labels[find_crossings(mesh, deeper_than_mm=CROSSING_DEPTH_MM).pairs]
    nested = covered_shares(mesh, labels, np.ones(count, bool)) == 1
    nested[np.unique(pairs)] = False
    if not nested.any():
        return mesh, 0
    return drop_unused(Mesh(mesh.vertices, mesh.faces[~nested[labels]])), int(nested.sum())


def unite_shells(mesh: Mesh) -> Mesh | None:
    """Unite closed shells by manifold3d, one solid per shell.

    Parameters
    ----------
    mesh : every shell closed, outward and free of crossings with itself

    Returns
    -------
    Mesh or None
        None where manifold3d refuses a shell or the union is empty.
    """
    labels, count = shells(mesh)
    order = np.argsort(labels, kind="stable")
    parts = np.split(order, np.searchsorted(labels[order], np.arange(1, count)))
    solids = [to_manifold(mesh.submesh(part)) for part in parts]
    whole = [solid for solid in solids if solid is not None]
    if len(whole) < count:
        return None
    united = manifold3d.Manifold.batch_boolean(whole, manifold3d.OpType.Add)
    return None if united.is_empty() else from_manifold(united)


def resolve_crossings(mesh: Mesh) -> Mesh | None:
    """Cut a closed mesh along its crossings and keep what bounds the inside.

    Parameters
    ----------
    mesh : closed, neighbours agree, shells outward

    Returns
    -------
    Mesh or None
        The boundary of all points around which the mesh winds once or more, `mesh` itself where that changes
        nothing; None where the exact cut fails or nothing is left.

    Notes
    -----
    Only the crossing faces and those around them are cut, by exact arithmetic (libigl's
    `remesh_self_intersections` over CGAL, GPL). The cut surface falls into patches bounded by edges of more
    than two faces; for one face of each patch the winding number just outside is computed, and the patch
    stays where that is 0 (Q. Zhou and others, Mesh Arrangements for Solid Geometry, ACM Transactions on
    Graphics 35(4), 2016).
    """
    crossings = find_crossings(mesh, deeper_than_mm=0.0, limit=10_000_000)
    cut: Mesh | None = mesh
    if crossings.count:
        cut = _cut_faces(mesh, _ring_around(mesh, np.unique(crossings.pairs)))
    if cut is None:
        return None
    kept = bounds_inside(cut, mesh)
    if not kept.any():
        return None
    if cut is mesh and kept.all():
        return mesh
    # where two cuts meet, rounding may put two faces on the same corners
    return drop_unused(single_faces(without_flat_faces(Mesh(cut.vertices, cut.faces[kept]))))


def _ring_around(mesh: Mesh, chosen: NDArray[np.int32]) -> NDArray[np.bool_]:
    """The chosen faces and all that share a vertex with them, (F,) bool."""
    touched = np.zeros(mesh.vertex_count, bool)
    touched[mesh.faces[chosen].ravel()] = True
    ring: NDArray[np.bool_] = touched[mesh.faces].any(axis=1)
    return ring


def _cut_faces(mesh: Mesh, near: NDArray[np.bool_]) -> Mesh | None:
    """The mesh with the faces `near` cut along every crossing among them."""
    from igl.copyleft.cgal import remesh_self_intersections

    used, renumbered = np.unique(mesh.faces[near], return_inverse=True)
    try:
        points, faces, _, _, same = remesh_self_intersections(
            mesh.vertices[used], renumbered.reshape(-1, 3).astype(np.int64)
        )
    except (RuntimeError, ValueError):  # degenerate input that the exact kernel refuses
        return None
    # the first rows of `points` are the vertices that were given; `same` joins equal new ones
    number = np.concatenate([used, mesh.vertex_count + np.arange(len(points) - len(used))])
    vertices = np.concatenate([mesh.vertices, points[len(used) :]])
    return Mesh(vertices, np.concatenate([mesh.faces[~near], number[same[faces]]]).astype(np.int32))
