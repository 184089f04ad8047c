"""`Mesh`: triangles in millimetres, the one shape that is passed between the rooms."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buckwright.errors import MeshError

__all__ = ["Mesh", "area_parts", "cross_products"]

_CHUNK = 32768  # faces whose numbers stay in the processor's cache


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Mesh:
    """Triangles, not necessarily closed.

    Attributes
    ----------
    vertices : (V, 3) float64, mm
    faces : (F, 3) int32, indices into `vertices`, counter-clockwise seen from outside

    Examples
    --------
    >>> corner = Mesh.from_arrays(
    ...     [(0.0, 0.0, 0.0), (3.0, 0.0, 0.0), (0.0, 4.0, 0.0), (0.0, 0.0, 5.0)],
    ...     [(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)],
    ... )
    >>> corner.face_count, corner.size.tolist(), round(corner.volume_mm3(), 6)
    (4, [3.0, 4.0, 5.0], 10.0)
    """

    vertices: NDArray[np.float64]
    faces: NDArray[np.int32]

    def __repr__(self) -> str:
        return f"Mesh of {self.vertex_count:,} vertices and {self.face_count:,} faces"

    @classmethod
    def from_arrays(cls, vertices: ArrayLike, faces: ArrayLike) -> "Mesh":
        """Check shapes and index range, and adopt (or convert) the arrays.

        Parameters
        ----------
        vertices : (V, 3) numbers, mm
        faces : (F, 3) whole numbers, 0 .. V - 1; may be empty

        Returns
        -------
        Mesh : float64 and int32; arrays that already fit are not copied

        Raises
        ------
        MeshError
            Wrong shapes, non-integer faces, or an index out of range.
        """
        points = np.ascontiguousarray(vertices, dtype=np.float64)
        triangles = np.asarray(faces)
        if points.ndim != 2 or points.shape[1] != 3:
            raise MeshError(f"vertices must have the shape (V, 3), got {points.shape}")
        if triangles.size == 0:
            triangles = np.zeros((0, 3), np.int32)
        if triangles.ndim != 2 or triangles.shape[1] != 3:
            raise MeshError(f"faces must have the shape (F, 3), got {triangles.shape}")
        if not np.issubdtype(triangles.dtype, np.integer):
            raise MeshError(f"faces must be whole numbers, got {triangles.dtype}")
        if triangles.size and not 0 <= int(triangles.min()) <= int(triangles.max()) < len(points):
            raise MeshError(f"faces refer to vertices outside 0..{len(points) - 1}")
        return cls(points, np.ascontiguousarray(triangles, dtype=np.int32))

    @property
    def face_count(self) -> int:
        """Number of triangles."""
        return len(self.faces)

    @property
    def vertex_count(self) -> int:
        """Number of vertices."""
        return len(self.vertices)

    @property
    def bounds(self) -> NDArray[np.float64]:
        """Lowest and highest corner, (2, 3), mm; zeros for a mesh without vertices."""
        if not len(self.vertices):
            return np.zeros((2, 3))
        # column by column: many times as fast as along the axis
        axes = self.vertices.T
        return np.array([[axis.min() for axis in axes], [axis.max() for axis in axes]])

    @property
    def size(self) -> NDArray[np.float64]:
        """Extent along x, y, z, (3,), mm."""
        low, high = self.bounds
        extent: NDArray[np.float64] = high - low
        return extent

    def corners(self) -> NDArray[np.float64]:
        """Corner points of every face.

        Returns
        -------
        (F, 3, 3) float64, mm
        """
        return self.vertices[self.faces]

    def area_vectors(self) -> NDArray[np.float64]:
        """Outward normals scaled by the area of each face.

        Returns
        -------
        (F, 3) float64, mm2
        """
        a, b, c = (self.vertices[self.faces[:, k]] for k in range(3))
        vectors = cross_products(b - a, c - a)
        vectors *= 0.5
        return vectors

    def areas(self) -> NDArray[np.float64]:
        """Area of each face.

        Returns
        -------
        (F,) float64, mm2
        """
        areas = np.empty(self.face_count)
        for chosen, _, length in area_parts(self):
            areas[chosen] = length / 2.0
        return areas

    def centroids(self) -> NDArray[np.float64]:
        """Mean corner of every face.

        Returns
        -------
        (F, 3) float64, mm
        """
        centres: NDArray[np.float64] = self.corners().mean(axis=1)
        return centres

    def volume_mm3(self) -> float:
        """Signed volume by the divergence theorem.

        Returns
        -------
        float : mm3, positive for a closed, outward mesh; 0 without faces
        """
        if not self.face_count:
            return 0.0
        middle = self.vertices.mean(0)
        moved = self.vertices - middle
        a, b, c = (moved[self.faces[:, k]] for k in range(3))
        return float(np.einsum("ij,ij->", a, cross_products(b, c)) / 6.0)

    def transformed(self, matrix: NDArray[np.float64]) -> "Mesh":
        """Apply an affine matrix; winding is reversed where the matrix mirrors.

        Parameters
        ----------
        matrix : (4, 4) float64, acts on column vectors; the last row is ignored

        Returns
        -------
        Mesh
        """
        points = self.vertices @ matrix[:3, :3].T + matrix[:3, 3]
        mirrored = np.linalg.det(matrix[:3, :3]) < 0
        faces = np.ascontiguousarray(self.faces[:, ::-1]) if mirrored else self.faces
        return Mesh(np.ascontiguousarray(points), faces)

    def submesh(self, chosen: NDArray[np.bool_] | NDArray[np.integer]) -> "Mesh":
        """The chosen faces with only the vertices that they use.

        Parameters
        ----------
        chosen : (F,) bool, or face numbers (K,) int

        Returns
        -------
        Mesh : faces in the order chosen, vertices in their old order
        """
        faces = self.faces[chosen]
        used, renumbered = np.unique(faces, return_inverse=True)
        return Mesh(self.vertices[used], renumbered.reshape(-1, 3).astype(np.int32))


def area_parts(
    mesh: Mesh,
) -> Iterator[tuple[slice, tuple[NDArray[np.float64], ...], NDArray[np.float64]]]:
    """Outward normals of twice the area of each face, some faces at a time.

    Parameters
    ----------
    mesh : any triangles

    Yields
    ------
    slice, 3 times (n,) float64, (n,) float64 : the faces, x, y and z of their normals, and the length, mm2

    Notes
    -----
    One array per component and a few ten thousand faces at a time, so that everything stays in the
    processor's cache: several times as fast as one `numpy.cross` over a million faces.
    """
    points = np.ascontiguousarray(mesh.vertices.T)
    for start in range(0, mesh.face_count, _CHUNK):
        chosen = slice(start, start + _CHUNK)
        a, b, c = (points[:, corner] for corner in mesh.faces[chosen].T)
        u, v = b - a, c - a
        x, y, z = u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]
        yield chosen, (x, y, z), np.sqrt(x * x + y * y + z * z)


def cross_products(u: NDArray[np.float64], v: NDArray[np.float64]) -> NDArray[np.float64]:
    """Cross products of rows; `numpy.cross` copies each column first, which takes three times as long.

    Parameters
    ----------
    u, v : (N, 3) float64

    Returns
    -------
    (N, 3) float64, the same numbers as `numpy.cross` gives
    """
    product = np.empty_like(u)
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        product[:, k] = u[:, i] * v[:, j] - u[:, j] * v[:, i]
    return product
