"""Repairs that keep every good triangle: duplicate faces, faces without area, stray vertices."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel
from buckwright.mesh.adjacency import connected, edge_table, patches, twins
from buckwright.mesh.checking import degenerate_faces, face_groups
from buckwright.mesh.triangles import Mesh

__all__ = ["Repair", "drop_unused", "single_faces", "without_fins", "without_flat_faces"]


@dataclass(frozen=True, slots=True)
class Repair:
    """One repair made to a mesh.

    Attributes
    ----------
    method : short name
    words : what was done, in plain words
    moved_mm : farthest that the surface moved, mm (new surface over a hole is reported in the words)
    faces_before, faces_after : number of faces
    moved_rms_mm : root mean square of `moved_mm`
    warning : what the user should check about it, in plain words; empty where nothing
    at_mm : where it was done, in the axes of the mesh; None where it is nowhere in particular
    """

    method: str
    words: str
    moved_mm: float
    faces_before: int
    faces_after: int
    moved_rms_mm: float = 0.0
    warning: str = ""
    at_mm: tuple[float, float, float] | None = None

    def to_dict(self) -> dict[str, object]:
        """The attributes for report.json.

        Returns
        -------
        dict : attribute name to value
        """
        return {
            "method": self.method,
            "words": self.words,
            "moved_mm": self.moved_mm,
            "moved_rms_mm": self.moved_rms_mm,
            "faces_before": self.faces_before,
            "faces_after": self.faces_after,
            "warning": self.warning,
            "at_mm": self.at_mm,
        }


def drop_unused(mesh: Mesh) -> Mesh:
    """Drop vertices that no face uses.

    Parameters
    ----------
    mesh : any triangles

    Returns
    -------
    Mesh : the same object where there are none
    """
    used = np.zeros(mesh.vertex_count, bool)
    used[mesh.faces.ravel()] = True
    if used.all():
        return mesh
    renumbered = (np.cumsum(used) - 1).astype(np.int32)
    return Mesh(mesh.vertices[used], renumbered[mesh.faces])


def single_faces(mesh: Mesh) -> Mesh:
    """Keep one of several faces on the same three corners, none where they are a wall within a body.

    Parameters
    ----------
    mesh : any triangles

    Returns
    -------
    Mesh : the same object where no face is doubled

    Notes
    -----
    Faces back to back are a wall without thickness where more than one other face meets their rim, and both
    are removed. Where a single face meets the rim the surface needs one of the two: the one that agrees with
    its neighbours in winding, the first where none of them is single. Where removing would take more than
    half of the mesh it is a double-sided export, and the first of each is kept.
    """
    groups = face_groups(mesh.faces)
    count = int(groups.max(initial=-1)) + 1
    if count == mesh.face_count:
        return mesh
    # the winding of a face relative to its rising corners: +1 or -1
    a, b, c = mesh.faces.T
    turn = np.where((a < b).astype(int) + (b < c) + (c < a) == 2, 1, -1)
    net = np.bincount(groups, weights=turn, minlength=count)
    first = _firsts(groups, np.flatnonzero(turn * net[groups] >= 0), count)
    wanted = net != 0
    if wanted.sum() * 2 < count:
        first = np.unique(groups, return_index=True)[1]
        return Mesh(mesh.vertices, mesh.faces[np.sort(first)])
    if not wanted.all():
        single = Mesh(mesh.vertices, mesh.faces[first])
        needed, turned = _needed_walls(single, ~wanted)
        other = _firsts(groups, np.flatnonzero(turn != turn[first[groups]]), count)
        first[turned] = other[turned]
        wanted |= needed
    return Mesh(mesh.vertices, mesh.faces[np.sort(first[wanted])])


def _firsts(groups: NDArray[np.int64], candidates: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    """The first candidate face of every group."""
    first: NDArray[np.int64] = np.full(count, len(groups))
    np.minimum.at(first, groups[candidates], candidates)
    return first


def _needed_walls(single: Mesh, doubled: NDArray[np.bool_]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which doubled faces close the surface around them, and which of those run against their neighbours.

    `single` holds every face once. Doubled faces that meet along edges of two decide together: the surface
    needs them where more of their rim meets one other face than several or none.
    """
    table = edge_table(single.faces)
    held = (table.face_count == 2) & doubled[table.faces].all(axis=1)
    area, count = connected(table.faces[held], single.face_count)
    edge = np.repeat(np.arange(len(table.edges)), table.face_count)
    face = table.half_edges // 3
    singles = np.bincount(edge, weights=~doubled[face], minlength=len(table.edges))
    at_rim = doubled[face] & ((singles[edge] > 0) | (table.face_count[edge] == 1))
    joins = at_rim & (singles[edge] == 1) & (table.face_count[edge] == 2)
    vote = np.bincount(area[face[at_rim]], weights=np.where(joins[at_rim], 1.0, -1.0), minlength=count)
    needed = doubled & (vote > 0)[area]
    beside = table.faces[table.face_count == 2]
    one, two = (table.half_edges[table.start[:-1][table.face_count == 2] + k] for k in (0, 1))
    same_way = single.faces.ravel()[one] == single.faces.ravel()[two]
    mixed = doubled[beside[:, 0]] != doubled[beside[:, 1]]
    wall = np.where(doubled[beside[:, 0]], beside[:, 0], beside[:, 1])[mixed]
    against = np.bincount(wall, weights=np.where(same_way[mixed], 1.0, -1.0), minlength=single.face_count) > 0
    return needed, needed & against


def without_fins(mesh: Mesh) -> Mesh:
    """Drop small open sheets attached to a surface by an edge of three faces, where it closes without them.

    Parameters
    ----------
    mesh : any triangles

    Returns
    -------
    Mesh : the same object where no edge is both open and crowded

    Notes
    -----
    Sheets of a tenth of the surface or more are part of the shape (a cloak, a leaf) and stay.
    """
    table = edge_table(mesh.faces)
    if not ((table.face_count == 1).any() and (table.face_count > 2).any()):
        return mesh
    patch, count = patches(mesh)
    # for each edge and patch: how many sides of the edge belong to the patch
    edge = np.repeat(np.arange(len(table.edges)), table.face_count)
    side = patch[table.half_edges // 3]
    key, sides = np.unique(edge * np.int64(count) + side, return_counts=True)
    owner = key % count
    uses = table.face_count[key // count]
    hanging = np.zeros(count, bool)
    hanging[owner[uses == 1]] = True
    odd_without = (uses > 2) & ((uses - sides) % 2 == 1)
    torn_off = np.bincount(owner, weights=odd_without, minlength=count) > 0
    attached = np.bincount(owner, weights=uses > 2, minlength=count) > 0
    area = mesh.areas()
    share = np.bincount(patch, weights=area, minlength=count) / area.sum()
    fins = hanging & attached & ~torn_off & (share < 0.1)
    return Mesh(mesh.vertices, mesh.faces[~fins[patch]])


def without_flat_faces(mesh: Mesh) -> Mesh:
    """Remove faces without area without tearing the surface.

    Parameters
    ----------
    mesh : any triangles

    Returns
    -------
    Mesh : the same object where there are none

    Notes
    -----
    A face that uses a corner twice is dropped. A face whose three corners lie in a line is flipped away: its
    longest edge is swapped for the other diagonal of the two faces there, so that the middle corner becomes a
    corner of the neighbour. What cannot be swapped is dropped. Nothing moves by more than the height below
    which a face counts as flat.
    """
    faces = mesh.faces
    named_twice = (faces[:, 0] == faces[:, 1]) | (faces[:, 1] == faces[:, 2]) | (faces[:, 2] == faces[:, 0])
    if named_twice.any():
        mesh = Mesh(mesh.vertices, faces[~named_twice])
    flat = degenerate_faces(mesh)
    for _ in range(10):  # a swap may pass the flatness on along a row of collinear corners
        if not flat.any():
            return mesh
        swapped = _swap_longest_edges(
            mesh.vertices, mesh.faces.copy(), twins(mesh.faces), np.flatnonzero(flat)
        )
        mesh = Mesh(mesh.vertices, swapped)
        flat = degenerate_faces(mesh)
    return Mesh(mesh.vertices, mesh.faces[~flat])


@kernel
def _swap_longest_edges(vertices: Any, faces: Any, twin: Any, flat: Any) -> Any:
    """Swap the longest edge of each flat face; each face takes part in at most one swap."""
    touched = np.zeros(len(faces), np.bool_)
    for f in flat:
        longest, k = -1.0, 0
        for i in range(3):
            way = vertices[faces[f, i]] - vertices[faces[f, (i + 1) % 3]]
            squared = way[0] * way[0] + way[1] * way[1] + way[2] * way[2]
            if squared > longest:
                longest, k = squared, i
        h = twin[3 * f + k]
        if h < 0 or touched[f] or touched[h // 3]:
            continue
        g = h // 3
        middle = faces[f, (k + 2) % 3]
        start, end = faces[f, k], faces[f, (k + 1) % 3]
        far = faces[g, (h % 3 + 2) % 3]
        if far == middle:
            continue
        faces[f, 0], faces[f, 1], faces[f, 2] = middle, start, far
        faces[g, 0], faces[g, 1], faces[g, 2] = far, end, middle
        touched[f] = True
        touched[g] = True
    return faces
