"""Repairs that keep every good triangle: duplicate faces, faces without area, stray vertices."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.kernel import kernel
from buckwright.mesh.adjacency import edge_table, patches, twins
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
    moved_rms_mm : root mean square of the same
    faces_before, faces_after : number of faces
    """

    method: str
    words: str
    moved_mm: float
    faces_before: int
    faces_after: int
    moved_rms_mm: float = 0.0

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
    """Keep one of several faces on the same three corners, none where they cancel.

    Parameters
    ----------
    mesh : any triangles

    Returns
    -------
    Mesh : the same object where no face is doubled

    Notes
    -----
    Two faces back to back are an inner wall without thickness and both are removed. Where that would remove
    more than half of the mesh it is a double-sided export, and the first of each is kept.
    """
    groups = face_groups(mesh.faces)
    count = int(groups.max(initial=-1)) + 1
    if count == mesh.face_count:
        return mesh
    # the winding of a face relative to its rising corners: +1 or -1
    a, b, c = mesh.faces.T
    turn = np.where((a < b).astype(int) + (b < c) + (c < a) == 2, 1, -1)
    net = np.bincount(groups, weights=turn, minlength=count)
    first: NDArray[np.int64] = np.full(count, mesh.face_count)
    wanted = turn == np.where(net[groups] < 0, -1, 1)
    candidates = np.flatnonzero(wanted)
    np.minimum.at(first, groups[candidates], candidates)
    kept = first[net != 0]
    if len(kept) * 2 < count:
        kept = np.unique(groups, return_index=True)[1]
    return Mesh(mesh.vertices, mesh.faces[np.sort(kept)])


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
    area = np.linalg.norm(mesh.area_vectors(), axis=1)
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
