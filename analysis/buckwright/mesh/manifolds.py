"""Asking manifold3d whether a mesh is a solid, and taking triangles back."""

import manifold3d
import numpy as np
from manifold3d import Manifold, Mesh64

from buckwright.mesh.triangles import Mesh

__all__ = ["from_manifold", "to_manifold"]


def to_manifold(mesh: Mesh) -> Manifold | None:
    """Hand a mesh to manifold3d; None where it is refused or empty."""
    solid = Manifold(
        Mesh64(
            vert_properties=np.array(mesh.vertices, dtype=np.float64, order="C"),
            tri_verts=np.array(mesh.faces, dtype=np.uint64, order="C"),
        )
    )
    return solid if solid.status() == manifold3d.Error.NoError and not solid.is_empty() else None


def from_manifold(solid: Manifold) -> Mesh:
    """Take the triangles out of a manifold3d solid."""
    data = solid.to_mesh64()
    return Mesh(
        np.ascontiguousarray(data.vert_properties[:, :3], dtype=np.float64),
        np.ascontiguousarray(data.tri_verts, dtype=np.int32),
    )
