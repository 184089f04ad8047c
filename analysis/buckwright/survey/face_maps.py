"""`look.ply`: the sculpt with its survey results on every face, as colours and as numbers."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.palette import BASE, STATE_COLOURS, state_rgb

__all__ = ["FaceMaps", "look_bytes"]


@dataclass(frozen=True, slots=True, eq=False)
class FaceMaps:
    """Survey results for every face of a mesh.

    Attributes
    ----------
    state : (F,) uint8; 0 free, 1 tight, 2 trapped, 3 base (not judged)
    draft_deg : (F,) float64, -90..90; negative where the face overhangs
    depth_mm : (F,) float64, how deep under the overhang; 0 where not trapped
    sideways_mm : (F,) float64, how far the sheet must move sideways to pass; 0 where not trapped
    region : (F,) int32, number of the trapped region from 0; -1 where none

    Raises
    ------
    ValueError
        The arrays differ in length, or a state is not 0..3.
    """

    state: NDArray[np.uint8]
    draft_deg: NDArray[np.float64]
    depth_mm: NDArray[np.float64]
    sideways_mm: NDArray[np.float64]
    region: NDArray[np.int32]

    def __post_init__(self) -> None:
        """Refuse arrays that do not belong together."""
        shapes = {name: np.shape(getattr(self, name)) for name in self.__slots__}
        if len(set(shapes.values())) != 1 or len(self.state.shape) != 1:
            raise ValueError(f"maps must all have the shape (F,), got {shapes}")
        if self.state.size and int(self.state.max()) > BASE:
            raise ValueError(f"states go from 0 to {BASE}, got {int(self.state.max())}")


def look_bytes(mesh: Mesh, maps: FaceMaps) -> bytes:
    """Encode as binary PLY through trimesh; equal input gives equal bytes.

    Parameters
    ----------
    mesh : the sculpt in the pull frame, mm
    maps : one value per face of `mesh`

    Returns
    -------
    bytes : binary little-endian PLY

    Raises
    ------
    ValueError
        The maps belong to a mesh with another number of faces.

    Notes
    -----
    Faces carry colour and the fields state, draft_deg, depth_mm, sideways_mm, region. Several programs
    read colours only from vertices (Blender's reader among them), so each vertex also carries the
    colour of the worst of its faces.
    """
    import trimesh

    if len(maps.state) != mesh.face_count:
        raise ValueError(f"{len(maps.state)} values for {mesh.face_count} faces")
    alpha = np.full((mesh.face_count, 1), 255, np.uint8)
    body = trimesh.Trimesh(
        mesh.vertices,
        mesh.faces,
        process=False,
        validate=False,
        face_colors=np.hstack([state_rgb(maps.state), alpha]),
        face_attributes=_fields(maps),
        vertex_attributes=_vertex_colours(mesh, maps.state),
    )
    data: bytes = trimesh.exchange.ply.export_ply(body, encoding="binary", vertex_normal=False)
    return data


def _fields(maps: FaceMaps) -> dict[str, NDArray[Any]]:
    """The scalar fields in types that PLY readers know."""
    return {
        "state": maps.state.astype(np.uint8),
        "draft_deg": maps.draft_deg.astype(np.float32),
        "depth_mm": maps.depth_mm.astype(np.float32),
        "sideways_mm": maps.sideways_mm.astype(np.float32),
        "region": maps.region.astype(np.int32),
    }


def _vertex_colours(mesh: Mesh, state: NDArray[np.uint8]) -> dict[str, NDArray[np.uint8]]:
    """Colour of the worst face around each vertex; the base counts as the mildest."""
    severity = np.array([1, 2, 3, 0], np.uint8)  # free, tight, trapped, base
    worst = np.zeros(mesh.vertex_count, np.uint8)
    np.maximum.at(worst, mesh.faces, severity[state][:, None])
    table = np.round(np.array([STATE_COLOURS[i] for i in (3, 0, 1, 2)]) * 255).astype(np.uint8)
    red, green, blue = np.ascontiguousarray(table[worst].T)
    return {"red": red, "green": green, "blue": blue}
