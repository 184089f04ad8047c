"""Ask manifold3d whether a mesh is a solid, and take triangles back."""

import manifold3d
import numpy as np
from manifold3d import Manifold, Mesh64

from buckwright.mesh.triangles import Mesh

__all__ = ["from_manifold", "handed_over", "to_manifold"]


def handed_over(mesh: Mesh, *, mark: int | None = None) -> Manifold:
    """Convert a mesh for manifold3d; its `status` tells whether it was accepted.

    Parameters
    ----------
    mesh : any triangles, mm
    mark : see `Manifold.reserve_ids`; stays on the faces through all later booleans

    Returns
    -------
    Manifold : empty where it was refused
    """
    return Manifold(
        Mesh64(
            vert_properties=np.array(mesh.vertices, dtype=np.float64, order="C"),
            tri_verts=np.array(mesh.faces, dtype=np.uint64, order="C"),
            run_index=None if mark is None else np.array([0, 3 * mesh.face_count], np.uint64),
            run_original_id=None if mark is None else np.array([mark], np.uint32),
        )
    )


def to_manifold(mesh: Mesh) -> Manifold | None:
    """Convert a mesh to a manifold3d solid.

    Parameters
    ----------
    mesh : any triangles, mm

    Returns
    -------
    Manifold or None : None where it was refused or is empty
    """
    solid = handed_over(mesh)
    return solid if solid.status() == manifold3d.Error.NoError and not solid.is_empty() else None


def from_manifold(solid: Manifold) -> Mesh:
    """Take the triangles out of a manifold3d solid.

    Parameters
    ----------
    solid : any manifold3d solid, mm

    Returns
    -------
    Mesh : closed, wound outward, mm
    """
    data = solid.to_mesh64()
    return Mesh(
        np.ascontiguousarray(data.vert_properties[:, :3], dtype=np.float64),
        np.ascontiguousarray(data.tri_verts, dtype=np.int32),
    )
