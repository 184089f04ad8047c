"""Which face of the posed part tells of each face of the file.

The door may have dropped some faces, cut some, or made the whole surface anew; values are mapped back to the
faces of the file for a program that shows them there.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.checking import degenerate_faces
from buckwright.mesh.triangles import Mesh
from buckwright.pose.posing import Posed

__all__ = ["FaceSources", "face_sources"]

#: A face that lies this share of the size from another is the same face; matrices round to far less.
_SAME_SHARE = 1e-7
#: A remesh, growing and an offset move the surface; so much farther than they say may the nearest face be.
_SLACK = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class FaceSources:
    """Which face of the standing part tells of each face of the file.

    Attributes
    ----------
    source : (F,) int64, index into the faces of `Posed.mesh`, -1 where the face is gone
    middles : (F, 3) float64, middles of the faces of the file in the pull frame, mm
    remeshed : whether the door made some of the surface anew, so that values come from the nearest face
    """

    source: NDArray[np.int64]
    middles: NDArray[np.float64]
    remeshed: bool

    def of(self, values: NDArray[Any], missing: float, kind: type[np.generic]) -> NDArray[Any]:
        """Values of the standing part's faces, handed to the faces of the file."""
        there = self.source >= 0
        handed: NDArray[Any] = np.full(len(self.source), missing, kind)
        handed[there] = values[self.source[there]]
        return handed


def face_sources(posed: Posed) -> FaceSources:
    """Find for each face of the file the face behind the door that it became.

    Notes
    -----
    Where the door kept all faces they also kept their order. Otherwise a face is known again by its
    middle (nearest neighbour in a k-d tree); one that was cut, by the face that its middle lies on. After a
    rebuilding or an offset the nearest face counts, as far away as the surface moved. Faces without area are
    gone: the door drops them.
    """
    given = posed.sculpt.mesh.transformed(posed.matrix)
    middles = given.centroids()
    methods = {repair.method for entry in posed.entries for repair in entry.repairs}
    remeshed = not methods.isdisjoint(("remesh", "rebuild"))
    if _same_faces(given, posed.mesh):
        return FaceSources(np.arange(given.face_count, dtype=np.int64), middles, remeshed)
    source = _by_middle(middles, posed.mesh)
    flat = degenerate_faces(given)
    lost = np.flatnonzero((source < 0) & ~flat)
    if len(lost):
        source[lost] = _by_place(middles[lost], posed.mesh, _moved_mm(posed))
    source[flat] = -1
    return FaceSources(source, middles, remeshed)


def _same_faces(given: Mesh, posed_mesh: Mesh) -> bool:
    """Whether the standing part begins with all faces of the file (turned over or not), where they were."""
    count = given.face_count
    if posed_mesh.face_count < count or posed_mesh.vertex_count < given.vertex_count:
        return False
    faces = posed_mesh.faces[:count]
    same = np.array_equal(faces, given.faces)
    if not same and not np.array_equal(np.sort(faces, axis=1), np.sort(given.faces, axis=1)):
        return False
    apart = np.abs(posed_mesh.vertices[: given.vertex_count] - given.vertices)
    return bool(apart.max() <= _same_mm(posed_mesh))


def _same_mm(mesh: Mesh) -> float:
    return _SAME_SHARE * float(np.linalg.norm(mesh.size))


def _by_middle(middles: NDArray[np.float64], mesh: Mesh) -> NDArray[np.int64]:
    from scipy.spatial import cKDTree

    _, nearest = cKDTree(mesh.centroids()).query(middles, distance_upper_bound=_same_mm(mesh), workers=-1)
    return np.where(nearest < mesh.face_count, nearest, -1).astype(np.int64)


def _by_place(middles: NDArray[np.float64], mesh: Mesh, moved_mm: float) -> NDArray[np.int64]:
    """The face nearest to each point, -1 where it is farther than the surface moved."""
    import igl

    squared, face, _ = igl.point_mesh_squared_distance(middles, mesh.vertices, mesh.faces.astype(np.int64))
    near = np.sqrt(np.asarray(squared).ravel()) <= moved_mm + _same_mm(mesh)
    return np.where(near, np.asarray(face).ravel(), -1).astype(np.int64)


def _moved_mm(posed: Posed) -> float:
    moved = max((repair.moved_mm for entry in posed.entries for repair in entry.repairs), default=0.0)
    offset = 0.0 if posed.offset is None else posed.offset.distance_mm
    grown = 0.0 if posed.growth is None else posed.growth.most_mm
    return _SLACK * (moved + offset + grown)
