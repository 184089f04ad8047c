"""The results as arrays, face by face of the sculpt as it was given, for a program that shows them.

What is known of faces behind the door is brought back to the faces of the file: the door may have dropped
some, cut some, or made the whole surface anew.
"""

from dataclasses import dataclass
from typing import IO, TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from buckwright.make.looking import Looked
from buckwright.make.standing import Standing
from buckwright.mesh.checking import degenerate_faces
from buckwright.mesh.triangles import Mesh

if TYPE_CHECKING:
    from buckwright.make.foretelling import Foretold
    from buckwright.make.shaping import Shaped
    from buckwright.survey.pockets.find_pockets import Pockets

__all__ = ["FaceSources", "buck_arrays", "face_sources", "look_arrays", "sheet_arrays", "write_arrays"]

#: A face that lies this share of the size from another is the same face; matrices round to far less.
_SAME_SHARE = 1e-7
#: A remesh and an offset move the surface; so much farther than they say may the nearest face be.
_SLACK = 2.0
#: Within so many cells of the sheet a face lies under it: it cuts corners by up to half of one.
_ON_CELLS = 0.75


@dataclass(frozen=True, slots=True, eq=False)
class FaceSources:
    """Which face of the standing part tells of each face of the file.

    Attributes
    ----------
    source : (F,) int64, index into the faces of `Standing.mesh`, -1 where the face is gone
    middles : (F, 3) float64, middles of the faces of the file in the pull frame, mm
    remeshed : whether the door made the surface anew, so that values come from the nearest face
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


def face_sources(standing: Standing) -> FaceSources:
    """Find for each face of the file the face behind the door that it became.

    Notes
    -----
    Where the door kept all faces they also kept their order. Otherwise a face is known again by its
    middle (nearest neighbour in a k-d tree); one that was cut, by the face that its middle lies on. After a
    remesh or an offset the nearest face counts, as far away as the surface moved. Faces without area are
    gone: the door drops them.
    """
    given = standing.sculpt.mesh.transformed(standing.matrix)
    middles = given.centroids()
    methods = {repair.method for entry in standing.entries for repair in entry.repairs}
    remeshed = "remesh" in methods
    if _same_faces(given, standing.mesh):
        return FaceSources(np.arange(given.face_count, dtype=np.int64), middles, remeshed)
    source = _by_middle(middles, standing.mesh)
    flat = degenerate_faces(given)
    lost = np.flatnonzero((source < 0) & ~flat)
    if len(lost):
        source[lost] = _by_place(middles[lost], standing.mesh, _moved_mm(standing))
    source[flat] = -1
    return FaceSources(source, middles, remeshed)


def look_arrays(
    standing: Standing, looked: Looked, sources: FaceSources, *, lift_mm: float
) -> dict[str, Any]:
    """What a look found, for each face of the file; see the field names for units.

    `frame` takes coordinates of the file to the frame of the buck. States: 0 free, 1 tight, 2 trapped,
    3 belongs to the base, -1 gone.
    """
    frame = standing.matrix.copy()
    frame[2, 3] += lift_mm
    return {
        "frame": frame,
        "repaired": np.bool_(sources.remeshed),
        "draft_deg": sources.of(looked.reach.drafts_deg, np.nan, np.float32),
        "state": sources.of(looked.states.state, -1, np.int8),
        "undercut_mm": sources.of(looked.reach.depth_mm, np.nan, np.float32),
        "sideways_mm": sources.of(looked.sideways, np.nan, np.float32),
        "region": sources.of(looked.undercuts.region_of_face, -1, np.int32),
    }


def buck_arrays(shaped: "Shaped", looked: Looked, sources: FaceSources, buck: Mesh) -> dict[str, Any]:
    """The buck, its vents and lines in its own frame, and what the air does at each face of the file.

    `pocket_mm` is the gap under the sheet over a face when its pocket closed (0 outside of pockets and
    where the face is trapped); `vent_reach_mm` how far the nearest vent is, seen down the pull (nan
    without vents).
    """
    vents = shaped.aired.plan.vents
    rows = [(*v.top_mm, v.face.width_mm, v.back_bore_mm, float(v.pocket)) for v in vents]
    arrays: dict[str, Any] = {
        "pocket_mm": _pocket_gap(shaped.aired.pockets, looked, sources),
        "vent_reach_mm": _vent_reach(shaped.aired.plan.axes, sources),
        "buck_vertices": np.asarray(buck.vertices, np.float64),
        "buck_faces": np.asarray(buck.faces, np.int32),
        "vents": np.array(rows, np.float64).reshape(-1, 6),
        "vent_kind": np.array([vent.face.opening for vent in vents], np.str_),
    }
    for n, line in enumerate(shaped.base.part.to_polygons()):
        arrays[f"trim_{n}"] = np.column_stack([line, np.full(len(line), shaped.base.trim_z_mm)])
    for n, line in enumerate(shaped.base.underside.to_polygons()):
        arrays[f"outline_{n}"] = np.asarray(line, np.float64)
    return arrays


def sheet_arrays(foretold: "Foretold | None", sources: FaceSources, *, lift_mm: float) -> dict[str, Any]:
    """The formed sheet in the buck's frame, and what it is like over each face of the file.

    `thickness_mm` and `contact_order` (0 first .. 1 last) are nan where the sheet does not lie on a face.
    `sheet_contact` is -1 in the frame and nan where the sheet never arrives.
    """
    if foretold is None:
        return {}
    run = foretold.forecast
    places = sources.middles + np.array([0.0, 0.0, lift_mm])
    thick, order, off = run.at(places)
    near = off <= _ON_CELLS * run.settings.cell_mm
    return {
        "sheet_vertices": np.asarray(run.points, np.float64),
        "sheet_faces": np.asarray(run.triangles, np.int32),
        "sheet_thickness_mm": np.asarray(run.thickness_mm, np.float32),
        "sheet_contact": np.asarray(run.contact, np.float32),
        "thickness_mm": np.where(near, thick, np.nan).astype(np.float32),
        "contact_order": np.where(near, order, np.nan).astype(np.float32),
    }


def write_arrays(file: IO[bytes], arrays: dict[str, Any]) -> None:
    """Write an uncompressed numpy archive into an open file."""
    np.savez(file, **arrays, allow_pickle=False)


def _same_faces(given: Mesh, standing: Mesh) -> bool:
    """Whether the standing part begins with all faces of the file (turned over or not), where they were."""
    count = given.face_count
    if standing.face_count < count or standing.vertex_count < given.vertex_count:
        return False
    faces = standing.faces[:count]
    same = np.array_equal(faces, given.faces)
    if not same and not np.array_equal(np.sort(faces, axis=1), np.sort(given.faces, axis=1)):
        return False
    apart = np.abs(standing.vertices[: given.vertex_count] - given.vertices)
    return bool(apart.max() <= _same_mm(standing))


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


def _moved_mm(standing: Standing) -> float:
    moved = max((repair.moved_mm for entry in standing.entries for repair in entry.repairs), default=0.0)
    offset = 0.0 if standing.offset is None else standing.offset.distance_mm
    return _SLACK * (moved + offset)


def _pocket_gap(pockets: "Pockets | None", looked: Looked, sources: FaceSources) -> NDArray[np.float32]:
    gap = np.zeros(len(sources.source), np.float32)
    if pockets is None:
        return gap
    seen = sources.source >= 0
    seen[seen] = ~looked.reach.trapped[sources.source[seen]]
    pixels = np.floor((sources.middles[seen, :2] - pockets.origin) / pockets.pixel_mm).astype(np.int64)
    rows, columns = np.clip(pixels[:, ::-1], 0, np.array(pockets.gap_mm.shape) - 1).T
    gap[seen] = pockets.gap_mm[rows, columns]
    return gap


def _vent_reach(axes: NDArray[np.float64], sources: FaceSources) -> NDArray[np.float32]:
    from scipy.spatial import cKDTree

    reach = np.full(len(sources.source), np.nan, np.float32)
    there = sources.source >= 0
    if len(axes):
        reach[there] = cKDTree(axes).query(sources.middles[there, :2], workers=-1)[0]
    return reach
