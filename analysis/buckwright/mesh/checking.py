"""Checking: what is wrong with a mesh, counted."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel
from buckwright.mesh.adjacency import EdgeTable, boundary_loops, edge_table, patches, shells, twins
from buckwright.mesh.crossings import find_crossings
from buckwright.mesh.triangles import Mesh, cross_products

__all__ = [
    "CROSSING_DEPTH_MM",
    "MeshFacts",
    "bounds_inside",
    "check_mesh",
    "covered_shares",
    "degenerate_faces",
    "face_groups",
    "shell_volumes_mm3",
]

#: Crossings shallower than this are accumulated rounding of single-precision files (8e-6 mm at 100 mm),
#: and less than a vertex may move in the buck (1e-4 mm, a requirement of this project).
CROSSING_DEPTH_MM = 1e-4

#: A face lower than this share of the size of the mesh has no meaningful normal: 1e-8 mm at 100 mm is a
#: thousandth of the rounding of a single-precision file.
_FLAT = 1e-10

_ASKED = 1000  # faces of each shell that are tested for lying inside another


@dataclass(frozen=True, slots=True)
class MeshFacts:
    """Counts of the defects of a mesh, and of its shells.

    Attributes
    ----------
    faces, vertices : size of the mesh
    degenerate_faces : faces that use a corner twice, or have next to no height
    duplicate_faces : faces with the same three corners as an earlier face
    unreferenced_vertices : vertices that no face uses
    boundary_edges, boundary_loops : edges with one face, and the closed loops that open edges make
    nonmanifold_edges : edges with more than two faces
    inconsistent_edges : edges of two faces that run the same way
    shells : connected pieces; closed_shells of them have no open edge
    inverted_shells : closed shells with a negative volume (cavities are)
    nested_shells : closed shells inside another closed shell
    inner_faces : faces of walls inside the body, between edges of more than two faces
    crossing_pairs : pairs of faces that cross each other deeper than `CROSSING_DEPTH_MM`
    overlapping_shells : closed shells that cross another one, or lie face to face against it
    """

    faces: int
    vertices: int
    degenerate_faces: int
    duplicate_faces: int
    unreferenced_vertices: int
    boundary_edges: int
    boundary_loops: int
    nonmanifold_edges: int
    inconsistent_edges: int
    shells: int
    closed_shells: int
    inverted_shells: int
    nested_shells: int
    inner_faces: int
    crossing_pairs: int
    overlapping_shells: int

    @property
    def closed(self) -> bool:
        """Whether every edge has equally many faces running each way."""
        return self.faces > 0 and self.boundary_loops == 0

    @property
    def clean(self) -> bool:
        """Whether the mesh can be taken as a solid as it is."""
        return self.closed and not (
            self.degenerate_faces
            or self.duplicate_faces
            or self.unreferenced_vertices
            or self.inconsistent_edges
            or self.inverted_shells
            or self.nested_shells
            or self.inner_faces
            or self.crossing_pairs
            or self.overlapping_shells
        )

    def to_dict(self) -> dict[str, int]:
        """All counts by name.

        Returns
        -------
        dict : attribute name to count
        """
        counts: dict[str, int] = asdict(self)
        return counts


_LOOSE = ("boundary_edges", "nonmanifold_edges", "inconsistent_edges")


def check_mesh(mesh: Mesh, *, meanwhile: Callable[[], object] | None = None) -> MeshFacts:
    """Count every defect that keeps a mesh from being a solid.

    Parameters
    ----------
    mesh : finite coordinates; equal corners already welded
    meanwhile : work that is done here while crossings are sought, where every edge joins two faces rightly

    Returns
    -------
    MeshFacts
        All zero for a mesh without faces.
    """
    with ThreadPoolExecutor(1) as other:
        # nothing takes longer, and it needs nothing of the rest
        crossed = other.submit(find_crossings, mesh, deeper_than_mm=CROSSING_DEPTH_MM)
        table = edge_table(mesh.faces)
        labels, count = shells(mesh, table=table)
        twin = twins(mesh.faces, table=table)
        closed = _closed_shells(twin, labels, count)
        volumes = shell_volumes_mm3(mesh, labels, count)
        counts = _counts(mesh, table, twin)
        if meanwhile is not None and not any(counts[name] for name in _LOOSE):
            meanwhile()
    crossings = crossed.result()
    sides = labels[crossings.pairs]
    crossing = np.zeros(count, bool)
    crossing[sides[sides[:, 0] != sides[:, 1]].ravel()] = True
    covered = covered_shares(mesh, labels, closed)
    nested = (covered == 1) & ~crossing
    walls = (table.face_count > 2).any() and closed.all()
    return MeshFacts(
        **counts,
        shells=count,
        closed_shells=int(closed.sum()),
        inverted_shells=int((closed & (volumes < 0)).sum()),
        nested_shells=int(nested.sum()),
        inner_faces=int((~bounds_inside(mesh, mesh)).sum()) if walls else 0,
        crossing_pairs=crossings.count,
        overlapping_shells=int((crossing | ((covered > 0) & ~nested)).sum()),
    )


def _counts(mesh: Mesh, table: EdgeTable, twin: NDArray[np.int32]) -> dict[str, int]:
    return {
        "faces": mesh.face_count,
        "vertices": mesh.vertex_count,
        "degenerate_faces": int(degenerate_faces(mesh).sum()),
        "duplicate_faces": mesh.face_count - int(face_groups(mesh.faces).max(initial=-1) + 1),
        "unreferenced_vertices": mesh.vertex_count - int(_used(mesh).sum()),
        "boundary_edges": int((table.face_count == 1).sum()),
        "boundary_loops": len(boundary_loops(mesh.faces, table=table)),
        "nonmanifold_edges": int((table.face_count > 2).sum()),
        "inconsistent_edges": _inconsistent(table, twin),
    }


def _used(mesh: Mesh) -> NDArray[np.bool_]:
    used = np.zeros(mesh.vertex_count, bool)
    used[mesh.faces.ravel()] = True
    return used


def _inconsistent(table: EdgeTable, twin: NDArray[np.int32]) -> int:
    """Edges of two faces that are not each other's twins."""
    first = table.half_edges[table.start[:-1]]
    return int(((table.face_count == 2) & (twin[first] < 0)).sum())


def _closed_shells(twin: NDArray[np.int32], labels: NDArray[np.int32], count: int) -> NDArray[np.bool_]:
    """Which shells have a twin for every half-edge."""
    closed = np.ones(count, bool)
    closed[labels[np.flatnonzero(twin < 0) // 3]] = False
    return closed


def degenerate_faces(mesh: Mesh) -> NDArray[np.bool_]:
    """Faces that use a corner twice or have no height.

    Parameters
    ----------
    mesh : any triangles

    Returns
    -------
    (F,) bool, true where the height over the longest side is at most 1e-10 of the mesh's diagonal
    """
    least = _FLAT * float(np.linalg.norm(mesh.size))
    flat: NDArray[np.bool_] = _lower_than(mesh.vertices, mesh.faces, least)
    return flat


@kernel
def _lower_than(vertices: Any, faces: Any, least: float) -> Any:
    """Whether the height of each face over its longest side is at most `least`."""
    low = np.empty(len(faces), np.bool_)
    for f in range(len(faces)):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ux, uy, uz = (
            vertices[b, 0] - vertices[a, 0],
            vertices[b, 1] - vertices[a, 1],
            vertices[b, 2] - vertices[a, 2],
        )
        vx, vy, vz = (
            vertices[c, 0] - vertices[a, 0],
            vertices[c, 1] - vertices[a, 1],
            vertices[c, 2] - vertices[a, 2],
        )
        nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        wx, wy, wz = vx - ux, vy - uy, vz - uz
        longest = max(ux * ux + uy * uy + uz * uz, vx * vx + vy * vy + vz * vz, wx * wx + wy * wy + wz * wz)
        low[f] = nx * nx + ny * ny + nz * nz <= longest * least * least
    return low


def face_groups(faces: NDArray[np.int32]) -> NDArray[np.int64]:
    """Number the faces by their set of corners.

    Parameters
    ----------
    faces : (F, 3) int

    Returns
    -------
    (F,) int64, 0 .. groups - 1: faces on the same three corners share a number, whatever their winding
    """
    corners = np.sort(faces, axis=1).astype(np.int64)
    if corners.size and corners.max() < 2**21:
        keys = (corners[:, 0] << 42) | (corners[:, 1] << 21) | corners[:, 2]
        return np.asarray(np.unique(keys, return_inverse=True)[1], dtype=np.int64)
    return np.asarray(np.unique(corners, axis=0, return_inverse=True)[1], dtype=np.int64).ravel()


def shell_volumes_mm3(mesh: Mesh, labels: NDArray[np.int32], count: int) -> NDArray[np.float64]:
    """Signed volume of each shell; meaningful for closed ones.

    Parameters
    ----------
    mesh : any triangles
    labels, count : from `adjacency.shells`

    Returns
    -------
    (count,) float64, mm3, positive for outward shells
    """
    if not mesh.face_count:
        return np.zeros(count)
    middle = mesh.vertices.mean(axis=0)
    a, b, c = (mesh.vertices[mesh.faces[:, k]] - middle for k in range(3))
    volumes = np.einsum("ij,ij->i", a, cross_products(b, c)) / 6.0
    return np.bincount(labels, weights=volumes, minlength=count)


def bounds_inside(surface: Mesh, wound: Mesh) -> NDArray[np.bool_]:
    """Which faces of a surface have the outside of a closed mesh in front of them.

    Parameters
    ----------
    surface : cut so that each of its patches (bounded by edges of other than two faces) has a single winding
        number in front of it
    wound : closed, outward

    Returns
    -------
    (F,) bool
        Where the winding number of `wound` just in front of the largest face of the patch is 0.
    """
    import igl

    patch, count = patches(surface)
    vectors = surface.area_vectors()
    area = np.linalg.norm(vectors, axis=1)
    order = np.lexsort((area, patch))
    largest = order[np.searchsorted(patch[order], np.arange(count), side="right") - 1]
    normal = vectors[largest] / np.maximum(area[largest], 1e-300)[:, None]
    step = np.minimum(1e-3 * np.sqrt(area[largest]), 1e-3)
    points = surface.centroids()[largest] + normal * step[:, None]
    winding = igl.fast_winding_number(wound.vertices, wound.faces.astype(np.int64), points)
    before: NDArray[np.bool_] = (np.abs(winding) < 0.5)[patch]
    return before


def covered_shares(mesh: Mesh, labels: NDArray[np.int32], closed: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Share of each closed shell that lies inside, or face to face against, other closed shells.

    Parameters
    ----------
    mesh : any triangles
    labels : (F,) int32, shell of each face
    closed : (S,) bool, which shells are closed

    Returns
    -------
    (S,) float64, 0 .. 1 by number of sampled faces; 1 for a nested shell, 0 for open ones

    Notes
    -----
    Up to 1000 faces per shell are tested: the winding number is taken a thousandth of a millimetre (or of the
    face) outside of them, with every shell taken as outward (A. Jacobson and others, Robust Inside-Outside
    Segmentation using Generalized Winding Numbers, ACM Transactions on Graphics 32(4), 2013; libigl).
    Overlaps in which every face of one shell ends on faces of the other show here and not as crossings.
    """
    count = len(closed)
    if closed.sum() < 2:
        return np.zeros(count)
    import igl

    inverted = shell_volumes_mm3(mesh, labels, count) < 0
    faces = np.where(inverted[labels][:, None], mesh.faces[:, ::-1], mesh.faces)[closed[labels]]
    shell = labels[closed[labels]]
    order = np.argsort(shell, kind="stable")
    sizes = np.bincount(shell, minlength=count)
    place = np.arange(len(order)) - np.repeat(np.cumsum(sizes) - sizes, sizes)
    step = np.maximum(1, sizes // _ASKED)
    asked = order[place % step[shell[order]] == 0]
    sample = Mesh(mesh.vertices, faces[asked])
    vectors = sample.area_vectors()
    area = np.linalg.norm(vectors, axis=1)
    normal = vectors / np.maximum(area, 1e-300)[:, None]
    points = sample.centroids() + normal * np.minimum(1e-3 * np.sqrt(area), 1e-3)[:, None]
    winding = igl.fast_winding_number(mesh.vertices, faces.astype(np.int64), points)
    inside = (winding > 0.9).astype(np.float64)
    total = np.bincount(shell[asked], minlength=count)
    return np.bincount(shell[asked], weights=inside, minlength=count) / np.maximum(total, 1)
