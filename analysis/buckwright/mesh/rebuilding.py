"""Rebuilding: where a surface is damaged it is cut out, made anew there, and joined to the rest as it was."""

from dataclasses import dataclass

import manifold3d
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from buckwright.errors import MeshError
from buckwright.mesh.adjacency import boundary_loops, connected, edge_table, shells, twins
from buckwright.mesh.checking import CROSSING_DEPTH_MM, degenerate_faces, face_groups, shell_volumes_mm3
from buckwright.mesh.crossings import find_crossings
from buckwright.mesh.holes import cap_loops, simple_loops
from buckwright.mesh.manifolds import from_manifold, to_manifold
from buckwright.mesh.orienting import consistent, outward
from buckwright.mesh.remesh import default_voxel_mm, solid_in_box
from buckwright.mesh.repair import drop_unused, single_faces, without_flat_faces
from buckwright.mesh.triangles import Mesh

__all__ = ["Rebuilt", "damaged_faces", "rebuild"]

_MOST_SHARE = 0.5  # of the area; where more is damaged the whole is made anew
_MOST_PLACES = 40
_VOXELS_ACROSS = 40  # of a damaged place, at least
_MOST_ACROSS = 64
_MARGIN = 3.0  # voxels around the damaged faces
_INSET = 0.1  # voxels that a patch lies below the surface, so that sound faces stay in front of it
_RINGS = 3  # how often the cut is widened where its rim is damaged too


@dataclass(frozen=True, slots=True, eq=False)
class Rebuilt:
    """A surface that was made anew in places.

    Attributes
    ----------
    mesh : closed; every face outside of the boxes as it was
    boxes : (N, 2, 3) float64, lowest and highest corner of each place, mm
    area_share : share of the old surface that was cut out, 0 .. 1
    voxel_mm : the coarsest grid used
    moved_mm, moved_rms_mm : distances between old outer and new surface in those places, both ways
    at_mm : (3,) middle of the place where the surface moved farthest
    """

    mesh: Mesh
    boxes: NDArray[np.float64]
    area_share: float
    voxel_mm: float
    moved_mm: float
    moved_rms_mm: float
    at_mm: NDArray[np.float64]


def damaged_faces(mesh: Mesh) -> NDArray[np.bool_]:
    """Faces that keep a mesh from being a solid.

    Parameters
    ----------
    mesh : any triangles

    Returns
    -------
    (F,) bool: crossing others, at an open or crowded edge, against their neighbours, without area, doubled
    """
    damaged = degenerate_faces(mesh)
    damaged[find_crossings(mesh, deeper_than_mm=CROSSING_DEPTH_MM).pairs.ravel()] = True
    table = edge_table(mesh.faces)
    damaged[np.flatnonzero(twins(mesh.faces, table=table) < 0) // 3] = True
    crowded = np.repeat(table.face_count > 2, table.face_count)
    damaged[table.half_edges[crowded] // 3] = True
    groups = face_groups(mesh.faces)
    damaged |= np.bincount(groups)[groups] > 1
    return damaged


def rebuild(mesh: Mesh, *, voxel_mm: float | None = None) -> Rebuilt | None:
    """Cut the damaged places out, make them anew by a remesh of their neighbourhood, and unite all.

    Parameters
    ----------
    mesh : triangles in any state, wound outward on the whole
    voxel_mm : coarsest grid spacing, > 0; `remesh.default_voxel_mm` unless given

    Returns
    -------
    Rebuilt or None
        None where nothing is damaged, too much is, or the rest cannot be closed: then the whole has to be
        made anew.

    Notes
    -----
    The rest is closed with flat caps over the cuts. The patch of a place is what the whole mesh winds around
    within a box, a tenth of a voxel smaller, so that sound faces within the box stay in front of it. The
    union of both (manifold3d) leaves every face outside of the boxes as it was.
    """
    area = mesh.areas()
    cut, rest = _cut_out(mesh, damaged_faces(mesh), area)
    if not rest:
        return None
    boxes, voxels = _places(mesh, cut, default_voxel_mm(mesh) if voxel_mm is None else voxel_mm)
    if len(boxes) > _MOST_PLACES:
        return None
    try:
        patches = [
            solid_in_box(mesh, low, high, voxel_mm=voxel, inset_mm=_INSET * voxel)
            for (low, high), voxel in zip(boxes, voxels, strict=True)
        ]
    except MeshError:
        return None
    solids = [to_manifold(patch) for patch in patches if patch.face_count]
    whole = manifold3d.Manifold.batch_boolean(
        [*rest, *(solid for solid in solids if solid is not None)], manifold3d.OpType.Add
    )
    if whole.is_empty():
        return None
    made = _without_gaps(drop_unused(without_flat_faces(from_manifold(whole))))
    distance, at = _moved(mesh, cut, made, boxes)
    return Rebuilt(
        made,
        boxes,
        float(area[cut].sum() / area.sum()),
        float(voxels.max(initial=0.0)),
        float(distance.max()),
        float(np.sqrt(np.mean(distance**2))),
        at,
    )


def _cut_out(
    mesh: Mesh, damaged: NDArray[np.bool_], area: NDArray[np.float64]
) -> tuple[NDArray[np.bool_], list[manifold3d.Manifold]]:
    """The faces to cut out, widened until the rest can be closed, and the rest; no rest where that fails."""
    cut = damaged
    for _ in range(_RINGS if damaged.any() else 0):
        cut = _widened(mesh, cut)
        if area[cut].sum() > _MOST_SHARE * area.sum():
            break
        rest = _closed_rest(mesh, cut)
        if rest:
            return cut, rest
    return cut, []


def _without_gaps(mesh: Mesh) -> Mesh:
    """Without the cavities between patches and caps."""
    labels, count = shells(mesh)
    hollow = shell_volumes_mm3(mesh, labels, count) < 0
    return drop_unused(Mesh(mesh.vertices, mesh.faces[~hollow[labels]])) if hollow.any() else mesh


def _widened(mesh: Mesh, chosen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The chosen faces and all that share a vertex with them."""
    touched = np.zeros(mesh.vertex_count, bool)
    touched[mesh.faces[chosen].ravel()] = True
    wider: NDArray[np.bool_] = touched[mesh.faces].any(axis=1)
    return wider


def _closed_rest(mesh: Mesh, cut: NDArray[np.bool_]) -> list[manifold3d.Manifold] | None:
    """What is left beside the cut, closed by flat caps, one solid per shell; None where that fails."""
    rest = drop_unused(Mesh(mesh.vertices, mesh.faces[~cut]))
    if not rest.face_count:
        return None
    loops = [part for loop in boundary_loops(rest.faces) for part in simple_loops(loop)]
    rest = drop_unused(single_faces(without_flat_faces(cap_loops(rest, loops))))
    rest = outward(consistent(rest)[0])[0]
    labels, count = shells(rest)
    pairs = labels[find_crossings(rest, deeper_than_mm=CROSSING_DEPTH_MM).pairs]
    if (pairs[:, 0] == pairs[:, 1]).any():
        return None
    order = np.argsort(labels, kind="stable")
    parts = np.split(order, np.searchsorted(labels[order], np.arange(1, count)))
    solids = [to_manifold(rest.submesh(part)) for part in parts if len(part) > 3]
    return [solid for solid in solids if solid is not None] if None not in solids else None


def _places(
    mesh: Mesh, cut: NDArray[np.bool_], coarsest: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Boxes around the cut faces, those that meet merged, and the voxel for each."""
    part = mesh.submesh(cut)
    labels = _by_corner(part)
    corners = part.corners()
    count = int(labels.max()) + 1
    boxes = np.empty((count, 2, 3))
    boxes[:, 0], boxes[:, 1] = np.inf, -np.inf
    np.minimum.at(boxes[:, 0], labels, corners.min(axis=1))
    np.maximum.at(boxes[:, 1], labels, corners.max(axis=1))
    while True:
        across = (boxes[:, 1] - boxes[:, 0]).max(axis=1)
        voxels = np.clip(coarsest, across / _MOST_ACROSS, across / _VOXELS_ACROSS)
        wide = boxes + _MARGIN * voxels[:, None, None] * np.array([-1.0, 1.0])[:, None]
        meets = (wide[:, None, 0] <= wide[None, :, 1]).all(axis=2)
        meets &= meets.T
        one, two = np.nonzero(meets)
        labels, fewer = connected(np.stack([one, two], axis=1).astype(np.int32), len(boxes))
        if fewer == len(boxes):
            return wide, voxels
        merged = np.empty((fewer, 2, 3))
        merged[:, 0], merged[:, 1] = np.inf, -np.inf
        np.minimum.at(merged[:, 0], labels, boxes[:, 0])
        np.maximum.at(merged[:, 1], labels, boxes[:, 1])
        boxes = merged


def _by_corner(part: Mesh) -> NDArray[np.int32]:
    """Label faces that hang together at corners."""
    first = np.full(part.vertex_count, -1, np.int64)
    face = np.repeat(np.arange(part.face_count), 3)
    first[part.faces.ravel()[::-1]] = face[::-1]
    return connected(np.stack([face, first[part.faces.ravel()]], axis=1).astype(np.int32), part.face_count)[0]


def _moved(
    mesh: Mesh, cut: NDArray[np.bool_], made: Mesh, boxes: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Distances between the outer part of what was cut out and the new surface, and where the largest is."""
    import igl

    points = _outer_points(mesh, cut, 0.5 * float((boxes[:, 1] - boxes[:, 0]).max() / _VOXELS_ACROSS))
    there = igl.point_mesh_squared_distance(points, made.vertices, made.faces.astype(np.int64))[0]
    inside = (
        ((made.vertices[:, None] >= boxes[:, 0]) & (made.vertices[:, None] <= boxes[:, 1]))
        .all(axis=2)
        .any(axis=1)
    )
    new = made.vertices[inside]
    new = new[cKDTree(mesh.vertices).query(new)[0] > 0] if len(new) else new
    back = igl.point_mesh_squared_distance(new, mesh.vertices, mesh.faces.astype(np.int64))[0]
    places = np.concatenate([points, new, boxes.mean(axis=1)[:1]])
    distance: NDArray[np.float64] = np.sqrt(np.concatenate([there, back, np.zeros(1)]))
    return distance, places[int(distance.argmax())]


def _outer_points(mesh: Mesh, chosen: NDArray[np.bool_], step: float) -> NDArray[np.float64]:
    """Middles of the chosen faces that have the inside behind them and the outside in front."""
    import igl

    vectors = mesh.area_vectors()[chosen]
    normals = vectors / np.maximum(np.linalg.norm(vectors, axis=1), 1e-300)[:, None]
    middles = mesh.vertices[mesh.faces[chosen]].mean(axis=1)
    faces = mesh.faces.astype(np.int64)
    before, behind = (
        igl.fast_winding_number(mesh.vertices, faces, middles + side * step * normals) > 0.5
        for side in (1, -1)
    )
    outer: NDArray[np.float64] = middles[behind & ~before]
    return outer
