"""Asking manifold3d whether a mesh is a solid, and taking triangles back."""

import manifold3d
import numpy as np
from manifold3d import Manifold, Mesh64

from buckwright.mesh.triangles import Mesh

__all__ = ["from_manifold", "handed_over", "to_manifold"]


def handed_over(mesh: Mesh, *, mark: int | None = None) -> Manifold:
    """Hand a mesh to manifold3d; its `status` tells whether it was accepted.

    A mark (see `Manifold.reserve_ids`) stays on the faces through all later booleans.
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
    """Hand a mesh to manifold3d; None where it is refused or empty."""
    solid = handed_over(mesh)
    return solid if solid.status() == manifold3d.Error.NoError and not solid.is_empty() else None


def from_manifold(solid: Manifold) -> Mesh:
    """Take the triangles out of a manifold3d solid."""
    data = solid.to_mesh64()
    return Mesh(
        np.ascontiguousarray(data.vert_properties[:, :3], dtype=np.float64),
        np.ascontiguousarray(data.tri_verts, dtype=np.int32),
    )
